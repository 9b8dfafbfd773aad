package label

import (
	"errors"
	"fmt"
	"math"

	"mealtrial/stats"
)

// equalWithin is by which share of the other dose two doses may differ and
// still be called equal; common practice, no source.
const equalWithin = 0.10

// A Relation says how two doses stand to each other. The texts are part of the
// JSON contract.
type Relation string

// The relations.
const (
	EqualDoses  Relation = "equal"       // no further apart than 10 %, wherever in their intervals they lie
	DosesDiffer Relation = "differ"      // the intervals have no number in common, and they are not equal
	CannotTell  Relation = "cannot_tell" // the labels are too coarse to say
)

// A DoseComparison compares the available carbohydrate of two portions.
type DoseComparison struct {
	A          string   `json:"a"`
	B          string   `json:"b"`
	Relation   Relation `json:"relation"` // by the rounding intervals
	Difference Interval `json:"difference"`
	// Scenario is the relation with tolerances of compliance, which two foods
	// seldom use up in opposite directions.
	Scenario Relation `json:"relation_in_tolerance_scenario"`
	// IndexAllowed tells whether a ratio of the responses may be called an index;
	// WhyNotIndex says why not.
	IndexAllowed bool   `json:"index_allowed"`
	WhyNotIndex  string `json:"why_not_index,omitempty"`
	Text         string `json:"text"`

	doseA, doseB Dose
}

// CompareDoses compares the doses of two foods, A minus B. Doses are equal when
// neither can be more than 10 % above the other. An index of the glycaemic kind
// is defined for portions of equal available carbohydrate (ISO 26642:2010), so
// the word needs equal doses that hold some.
func CompareDoses(nameA string, a Dose, nameB string, b Dose) DoseComparison {
	c := DoseComparison{A: nameA, B: nameB, doseA: a, doseB: b, Difference: a.Rounding.minus(b.Rounding),
		Relation: relate(a.Rounding, b.Rounding), Scenario: relate(a.Tolerance, b.Tolerance)}
	c.IndexAllowed = c.Relation == EqualDoses && a.Rounding.Low > 0
	c.Text = c.words()
	if !c.IndexAllowed {
		c.WhyNotIndex = c.whyNotIndex()
	}
	return c
}

func relate(a, b Interval) Relation {
	switch {
	case a.High <= (1+equalWithin)*b.Low && b.High <= (1+equalWithin)*a.Low:
		return EqualDoses
	case !a.Overlaps(b):
		return DosesDiffer
	}
	return CannotTell
}

func (c DoseComparison) words() string {
	doses := fmt.Sprintf("%s holds %s g of available carbohydrate a portion, %s %s g", c.A, c.doseA.Rounding.Text(), c.B, c.doseB.Rounding.Text())
	switch c.Relation {
	case EqualDoses:
		return doses + ": equal within 10 %."
	case DosesDiffer:
		size := c.Difference
		if size.High <= 0 {
			size = exactly(0).minus(size)
		}
		return fmt.Sprintf("%s: the doses differ by %s g, so a difference in response is one of dose as well as of food.", doses, size.Text())
	}
	return doses + ": whether the doses are equal cannot be told from the labels."
}

func (c DoseComparison) whyNotIndex() string {
	const rule = `An index compares portions of equal available carbohydrate (ISO 26642), so a ratio of these responses is no index: `
	switch {
	case c.Relation == DosesDiffer:
		return rule + "the portions differ in dose."
	case c.Relation == CannotTell:
		return rule + "the labels do not show that the doses are equal."
	}
	return rule + "the portions may hold no available carbohydrate at all."
}

// ErrDoseReachesZero says that a response per gram has no upper limit.
var ErrDoseReachesZero = errors.New("the dose interval reaches zero")

// A PerGram is a mean response per gram of available carbohydrate.
type PerGram struct {
	PerGramLimits
	Level float64 `json:"level"`          // confidence of the response's interval, which it keeps at least
	Unit  string  `json:"unit,omitempty"` // of the response
	// Scenario has the limits with tolerances of compliance; nil where the dose
	// may then be zero.
	Scenario *PerGramLimits `json:"tolerance_scenario"`
}

// PerGramLimits are in the response's unit per gram.
type PerGramLimits struct {
	Low  float64 `json:"low"`
	High float64 `json:"high"`
}

// ResponsePerGram divides the interval of a mean response by that of the dose:
// the smallest and the largest quotient of a response and a dose in them. The
// dose's interval is sure, so the result keeps at least the confidence of the
// response's. It refuses with ErrDoseReachesZero a dose that may be zero or as
// near to it as one likes, whose quotients no number bounds.
func ResponsePerGram(response stats.Interval, dose Interval) (PerGram, error) {
	if dose.Low <= 0 {
		return PerGram{}, fmt.Errorf("a response per gram is not given: %w (%s g), so a gram may stand for any response", ErrDoseReachesZero, dose.Text())
	}
	low, high := math.Inf(1), math.Inf(-1)
	for _, r := range []float64{response.Low, response.High} {
		for _, d := range []float64{dose.Low, dose.High} {
			low, high = min(low, r/d), max(high, r/d)
		}
	}
	if math.IsInf(low, 0) || math.IsInf(high, 0) || math.IsNaN(low+high) {
		return PerGram{}, fmt.Errorf("a response per gram is not given: %w for all purposes (%s g)", ErrDoseReachesZero, dose.Text())
	}
	return PerGram{PerGramLimits: PerGramLimits{tidy(low), tidy(high)}, Level: response.Level}, nil
}
