package view

import (
	"bytes"
	"fmt"
	"strings"

	"mealtrial/protocol"
	"mealtrial/stats/ratio"
)

// What pictures, cards and pages share with the tables: one way to write a number
// and a name, so that the same thing reads the same everywhere.

// Fixed writes a number with the given decimals, with a true minus sign.
func Fixed(x float64, decimals int) string { return fixed(x, decimals) }

// Cell writes a number that may be missing.
func Cell(x *protocol.Number, decimals int) string { return cell(x, decimals) }

// Value writes a free-standing number with as many digits as its size asks for.
func Value(x float64) string { return value(x) }

// Declared writes a number as the person declared it.
func Declared(x float64) string { return declared(x) }

// Decimals are those of values: two significant digits of the spread.
func Decimals(a *protocol.Analysis) int { return decimalsOf(a) }

// Degrees words degrees of freedom.
func Degrees(df int) string { return degrees(df) }

// Tests words a number of tests.
func Tests(n int) string { return tests(n) }

// Chance writes a chance as a percentage, never as 0 or 100 where it is not.
func Chance(x float64) string { return chance(x) }

// Promise words what the intervals hold for, beyond one question at one look.
func Promise(a *protocol.Analysis) string { return promise(a) }

// Tabled tells whether a question asks for a difference in the endpoint's unit.
func Tabled(q protocol.Answer) bool { return tabled(q) }

// RatioSet words the set of a ratio, whose shape says what its limits mean.
func RatioSet(q protocol.Answer) string { return ratioSet(q) }

// RatioWords words a ratio with its set.
func RatioWords(q protocol.Answer) string {
	if q.Estimate == nil {
		return "no estimate"
	}
	d := RatioDecimals(q)
	if q.Shape == ratio.Bounded && q.Low != nil && q.High != nil {
		return fmt.Sprintf("%s times (%s to %s)", cell(q.Estimate, d), cell(q.Low, d), cell(q.High, d))
	}
	return fmt.Sprintf("%s times (%s)", cell(q.Estimate, d), ratioSet(q))
}

// RatioDecimals are those of a ratio: with them its set stays on its side of 1.
func RatioDecimals(q protocol.Answer) int {
	if q.Low == nil || q.High == nil {
		return 2
	}
	return guarded(2, []float64{float64(*q.Low), float64(*q.High)}, []float64{1})
}

// LimitDecimals are those of a question about a limit: with them its bounds stay on
// their side of the limit.
func LimitDecimals(a *protocol.Analysis, q protocol.Answer) int {
	var ends []float64
	for _, end := range []*protocol.Number{q.Low, q.High} {
		if end != nil {
			ends = append(ends, float64(*end))
		}
	}
	return guarded(decimalsOf(a), ends, []float64{float64(*q.Limit)})
}

// BoundWords words a mean, or the next serving, with its one-sided bounds; a bound
// that there is not is said to be missing.
func BoundWords(a *protocol.Analysis, q protocol.Answer) string {
	if q.Estimate == nil {
		return "no estimate"
	}
	d := LimitDecimals(a, q)
	side := func(x *protocol.Number, word string) string {
		if x == nil {
			return "no bound " + word
		}
		return word + " " + cell(x, d)
	}
	return fmt.Sprintf("%s (%s: %s, %s)", cell(q.Estimate, d), "one-sided "+protocol.Percent(float64(q.Level)), side(q.Low, "above"), side(q.High, "below"))
}

// LimitWords words the answer to a question about a limit.
func LimitWords(a *protocol.Analysis, q protocol.Answer) string {
	return limitWords(a, q, decimalsOf(a))
}

// DifferenceDecimals are the common decimals of the questions about differences:
// with them every interval stays on its side of zero and of the margin.
func DifferenceDecimals(a *protocol.Analysis) int {
	d := decimalsOf(a)
	for _, q := range a.Questions {
		if tabled(q) && q.Low != nil && q.High != nil {
			d = guarded(d, []float64{float64(*q.Low), float64(*q.High)}, marksOf(q.Margin))
		}
	}
	return d
}

// FoodName is the name of a food for people.
func FoodName(a *protocol.Analysis, id string) string { return speaker{a: a}.name(id) }

// Asked words the two sides of a question with the foods' names.
func Asked(a *protocol.Analysis, q protocol.Answer) string {
	switch q.Kind {
	case protocol.Difference, protocol.SameAs, protocol.Ratio:
		return FoodName(a, q.A) + " vs " + FoodName(a, q.B)
	case protocol.Below:
		return fmt.Sprintf("%s below %s %s", FoodName(a, q.A), declared(float64(*q.Limit)), a.Endpoint.Unit)
	case protocol.NextBelow:
		return fmt.Sprintf("next %s below %s %s", FoodName(a, q.A), declared(float64(*q.Limit)), a.Endpoint.Unit)
	}
	return q.Question
}

// StudyInWords says what a study does, a sentence or so a line.
func StudyInWords(f *protocol.Folder) []string {
	var text bytes.Buffer
	if err := Check(&text, f); err != nil {
		panic("view: a buffer that cannot be written to")
	}
	var lines []string
	for _, line := range strings.Split(text.String(), "\n") {
		if line = strings.TrimSpace(line); line != "" && line != protocol.ShortCaution {
			lines = append(lines, line)
		}
	}
	return lines
}
