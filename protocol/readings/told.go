package readings

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"mealtrial/protocol/problem"
)

// studyFile is where the person writes the Mapping.
const studyFile = "study.yaml"

// told is a checked Mapping, ready for use.
type told struct {
	mapping    Mapping
	study      Study
	zone       *time.Location // of wall-clock times
	delimiters []byte
	layouts    []timeLayout
	time       place
	glucose    place
}

// A place says which column is meant: by numbers from 0, by name, or not.
type place struct {
	name    string
	numbers []int
}

func newTold(m Mapping, study Study) (*told, problem.List) {
	if study.Unit == "" {
		study.Unit = MgdL
	}
	if study.Zone == nil {
		study.Zone = time.UTC
	}
	t := &told{mapping: m, study: study, zone: m.Zone, delimiters: []byte(",;\t|"), layouts: guessable()}
	if t.zone == nil {
		t.zone = study.Zone
	}
	var problems problem.List
	reject := func(key, found, expected, mend string) {
		problems = append(problems, problem.Problem{File: studyFile, Field: "readings." + key, Found: found, Expected: expected, Mend: mend})
	}
	switch m.Delimiter {
	case "":
	case "tab":
		t.delimiters = []byte{'\t'}
	case ",", ";", "|":
		t.delimiters = []byte(m.Delimiter)
	default:
		reject("delimiter", quote(m.Delimiter), `",", ";", "|" or "tab"`, "")
	}
	if m.Decimal != "" && m.Decimal != "." && m.Decimal != "," {
		reject("decimal", quote(m.Decimal), `"." or ","`, "")
	}
	if m.Unit != "" && m.Unit != MgdL && m.Unit != MmolL {
		reject("unit", quote(string(m.Unit)), "mg/dL or mmol/L", "")
	}
	if m.TimeLayout != "" {
		l, err := newLayout(m.TimeLayout)
		if err != nil {
			reject("time_layout", quote(m.TimeLayout)+", "+err.Error(), "date letters such as yyyy-MM-dd HH:mm:ss, or rfc3339, or epoch",
				"put plain text between single quotes, such as yyyy-MM-dd'T'HH:mm")
		}
		t.layouts = []timeLayout{l}
	}
	var ok bool
	if t.time, ok = newPlace(m.TimeColumn, 2); !ok {
		reject("time_column", quote(m.TimeColumn), "the header's text or a number from 1", "")
	}
	if t.glucose, ok = newPlace(m.GlucoseColumn, 1); !ok {
		reject("glucose_column", quote(m.GlucoseColumn), "the header's text or a number from 1", "")
	}
	return t, problems
}

const join = " + "

// newPlace is false for a column number below 1.
func newPlace(text string, most int) (p place, ok bool) {
	text = strings.TrimSpace(text)
	parts := strings.Split(text, join)
	if text == "" || len(parts) > most {
		return place{name: text}, true
	}
	for _, part := range parts {
		n, err := strconv.Atoi(part)
		if err != nil {
			return place{name: text}, true
		}
		p.numbers = append(p.numbers, n-1)
	}
	return p, slices.Min(p.numbers) >= 0
}

func (p place) isTold() bool { return p.name != "" || p.numbers != nil }

// in finds the column in a header; n is how many columns have the name.
func (p place) in(header []string) (c column, n int) {
	if p.numbers != nil {
		c = one(p.numbers[0])
		if len(p.numbers) > 1 {
			c.second = p.numbers[1]
		}
		return c, 1
	}
	c.first, n = named(header, p.name)
	c.second = -1
	if a, b, ok := strings.Cut(p.name, join); ok && n == 0 {
		c.first, n = named(header, a)
		second, m := named(header, b)
		c.second, n = second, min(n*m, max(n, m))
	}
	return c, n
}

// named gives the first column with a name, whatever its case, and how many
// have it.
func named(header []string, name string) (first, n int) {
	for i, h := range header {
		if strings.EqualFold(strings.Join(strings.Fields(h), " "), strings.Join(strings.Fields(name), " ")) {
			if n++; n == 1 {
				first = i
			}
		}
	}
	return first, n
}
