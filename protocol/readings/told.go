package readings

import (
	"fmt"
	"path"
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
	zones      place
	event      place
	sensor     place
	atMost     place
	atLeast    place
	ofFiles    []*told // for mapping.Files
}

// A keyedPlace is a place with its key in the study file.
type keyedPlace struct {
	place
	key string
}

func (t *told) places() []keyedPlace {
	return []keyedPlace{{t.time, "time_column"}, {t.glucose, "glucose_column"}, {t.zones, "zone_column"}, {t.event, "event_column"},
		{t.sensor, "sensor_column"}, {t.atMost, "at_most_column"}, {t.atLeast, "at_least_column"}}
}

// A place says which column is meant: by numbers from 0, by name, or not.
type place struct {
	name    string
	numbers []int
	either  bool // of several columns, not joined ones
}

func newTold(m Mapping, study Study) (*told, problem.List) {
	if study.Unit == "" {
		study.Unit = MgdL
	}
	if study.Zone == nil {
		study.Zone = time.UTC
	}
	t, problems := newToldAt(m, study, "readings.", 0)
	for _, f := range m.Files {
		if _, err := path.Match(f.Pattern, ""); err != nil || f.Pattern == "" {
			problems = append(problems, problem.Problem{File: studyFile, Line: f.Line, Field: "readings.files", Found: quote(f.Pattern),
				Expected: "a file in readings/, or a pattern such as arm*.csv"})
			continue
		}
		sub, ps := newToldAt(f.over(m), study, fmt.Sprintf("readings.files.%s.", f.Pattern), f.Line)
		problems = append(problems, ps...)
		t.ofFiles = append(t.ofFiles, sub)
	}
	return t, problems
}

// over fills in from the Mapping of all files what that of some leaves out.
func (f FileMapping) over(all Mapping) Mapping {
	m := f.Mapping
	fill := func(to *string, from string) {
		if *to == "" {
			*to = from
		}
	}
	fill(&m.Delimiter, all.Delimiter)
	fill(&m.Decimal, all.Decimal)
	fill(&m.TimeColumn, all.TimeColumn)
	fill(&m.GlucoseColumn, all.GlucoseColumn)
	fill(&m.TimeLayout, all.TimeLayout)
	fill((*string)(&m.Unit), string(all.Unit))
	fill(&m.ZoneColumn, all.ZoneColumn)
	if m.EventColumn == "" && m.Events == nil {
		m.Events = all.Events
	}
	fill(&m.EventColumn, all.EventColumn)
	fill(&m.SensorColumn, all.SensorColumn)
	fill(&m.Sensor, all.Sensor)
	fill(&m.AtMostColumn, all.AtMostColumn)
	fill(&m.AtLeastColumn, all.AtLeastColumn)
	if m.Zone == nil {
		m.Zone = all.Zone
	}
	if m.Lowest == 0 {
		m.Lowest = all.Lowest
	}
	if m.Highest == 0 {
		m.Highest = all.Highest
	}
	m.Fixed = m.Fixed || all.Fixed
	m.Files = nil
	return m
}

// of gives what is told for a file, named as inside the folder.
func (t *told) of(name string) *told {
	for i, f := range t.mapping.Files {
		if ok, _ := path.Match(f.Pattern, name); ok {
			return t.ofFiles[i]
		}
	}
	return t
}

func newToldAt(m Mapping, study Study, prefix string, line int) (*told, problem.List) {
	t := &told{mapping: m, study: study, zone: m.Zone, delimiters: []byte(",;\t|"), layouts: guessable()}
	if t.zone == nil {
		t.zone = study.Zone
	}
	var problems problem.List
	reject := func(key, found, expected, mend string) {
		problems = append(problems, problem.Problem{File: studyFile, Line: line, Field: prefix + key, Found: found, Expected: expected, Mend: mend})
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
	for _, c := range []struct {
		to        *place
		key, text string
		most      int
	}{{&t.time, "time_column", m.TimeColumn, 2}, {&t.glucose, "glucose_column", m.GlucoseColumn, 1}, {&t.zones, "zone_column", m.ZoneColumn, 1},
		{&t.event, "event_column", m.EventColumn, 1}, {&t.sensor, "sensor_column", m.SensorColumn, 1},
		{&t.atMost, "at_most_column", m.AtMostColumn, 1}, {&t.atLeast, "at_least_column", m.AtLeastColumn, 1}} {
		var ok bool
		if *c.to, ok = newPlace(c.text, c.most); !ok {
			reject(c.key, quote(c.text), "the header's text or a number from 1", "")
		}
	}
	if len(m.Events) > 0 && m.EventColumn == "" {
		reject("events", "events without the column that they stand in", "event_column as well", "")
	}
	if len(m.Events) == 0 && m.EventColumn != "" {
		reject("event_column", "a column of events without those that are the sensor's", "events as well", "write for example events: [reading]")
	}
	if m.Lowest < 0 || m.Highest < 0 || m.Highest > 0 && m.Lowest >= m.Highest {
		reject("lowest", fmt.Sprintf("reporting limits from %s to %s", short(m.Lowest), short(m.Highest)), "the lower one above 0 and below the higher one", "")
	}
	return t, problems
}

const (
	join   = " + "
	either = " or "
)

// newPlace is false for a column number below 1. Names are joined by " + " where
// most is 2, and are alternatives with " or " where it is 1.
func newPlace(text string, most int) (p place, ok bool) {
	text = strings.TrimSpace(text)
	if text == "" {
		return place{}, true
	}
	mark := join
	if most == 1 {
		mark = either
	}
	parts := strings.Split(text, mark)
	for _, part := range parts {
		n, err := strconv.Atoi(part)
		if err != nil || most == 2 && len(parts) > most {
			return place{name: text, either: most == 1}, true
		}
		p.numbers = append(p.numbers, n-1)
	}
	p.either = most == 1
	return p, slices.Min(p.numbers) >= 0
}

// all finds the columns of alternatives; missing is the first name that no
// column has.
func (p place) all(header []string) (columns []int, missing string) {
	if p.numbers != nil {
		return p.numbers, ""
	}
	if first, n := named(header, p.name); n > 0 {
		return []int{first}, ""
	}
	parts := strings.Split(p.name, either)
	for _, part := range parts {
		first, n := named(header, part)
		if n == 0 {
			if len(parts) == 1 {
				return nil, p.name
			}
			return nil, part
		}
		columns = append(columns, first)
	}
	return columns, ""
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
	if p.either && n == 0 {
		if columns, missing := p.all(header); missing == "" {
			c.first, n = columns[0], 1
		}
		return c, n
	}
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
		if strings.EqualFold(strings.Join(strings.Fields(plainText(h)), " "), strings.Join(strings.Fields(name), " ")) {
			if n++; n == 1 {
				first = i
			}
		}
	}
	return first, n
}
