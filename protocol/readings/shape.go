package readings

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"mealtrial/protocol/problem"
)

// A shape is how a file is laid out, told or guessed.
type shape struct {
	table       table
	names       []string // header cells; nil without a header
	headerLine  int      // 0 without a header
	start       int      // line of the first data row
	startAt     int64    // and its place in the file
	newestFirst bool
	width       int // cells that a data row may have
	time        column
	layout      timeLayout
	glucose     []int // columns; the first that is not empty counts
	decimal     byte  // 0 where no value has decimals
	unit        Unit
	zones       int // column, or −1; as are those below
	event       int
	events      []string
	sensor      int
	atMost      int
	atLeast     int
	guessed     []string
	notes       []string
}

func (s *shape) guess(key string) { s.guessed = append(s.guessed, key) }

// name is what a person calls a column: its header, else its number.
func (s *shape) name(i int) string {
	if name := at(s.names, i); name != "" {
		return name
	}
	return strconv.Itoa(i + 1)
}

// field is the name of a column for a problem.
func (s *shape) field(i int) string {
	if at(s.names, i) != "" {
		return cut(s.names[i])
	}
	return fmt.Sprintf("column %d", i+1)
}

// call is how the study file can name columns: by their headers where these are
// unique and no numbers, else all by their numbers.
func (s *shape) call(mark string, columns ...int) string {
	names, numbers := make([]string, len(columns)), make([]string, len(columns))
	unique := true
	for k, i := range columns {
		names[k], numbers[k] = s.name(i), strconv.Itoa(i+1)
		_, err := strconv.Atoi(names[k])
		_, n := named(s.names, names[k])
		unique = unique && err != nil && n == 1
	}
	if unique {
		return strings.Join(names, mark)
	}
	return strings.Join(numbers, mark)
}

func (s *shape) timeName() string {
	if s.time.second < 0 {
		return s.call(join, s.time.first)
	}
	return s.call(join, s.time.first, s.time.second)
}

func (s *shape) timeField() string {
	if s.time.second < 0 {
		return s.field(s.time.first)
	}
	return s.timeName()
}

// cell is the glucose of a row, and the column that it stands in.
func (s *shape) cell(fields []string) (cell string, column int) {
	for _, i := range s.glucose {
		if cell := at(fields, i); cell != "" {
			return cell, i
		}
	}
	return "", s.glucose[0]
}

func (s *shape) glucoseName() string { return s.call(either, s.glucose...) }

func (s *shape) optionalName(i int) string {
	if i < 0 {
		return ""
	}
	return s.call(join, i)
}

func delimiterName(c byte) string {
	if c == '\t' {
		return "tab"
	}
	return string(c)
}

// shapeOf finds out how a text is laid out.
func (t *told) shapeOf(src *source) (*shape, *problem.Problem) {
	// The delimiter that lets most rows be read is the right one: another leaves
	// no cell that is a time.
	var surveys []*survey
	for _, delimiter := range t.delimiters {
		v := t.survey(table{src, delimiter})
		if surveys = append(surveys, v); v.rating > 0 && v.rating >= 2*(len(v.rows)-v.start) {
			break // every row is read: no other can do better
		}
	}
	best := slices.MaxFunc(surveys, func(a, b *survey) int { return a.rating - b.rating })
	if best.rating == 0 {
		return nil, t.explain(surveys)
	}
	if best.twins != nil {
		return nil, best.askTimeColumn()
	}
	s := &shape{table: best.table, time: best.time, layout: best.layout, width: best.width, notes: best.notes}
	s.start = best.rows[best.start].line
	s.startAt = best.rows[best.start].offset
	s.newestFirst = best.runsBackwards()
	if best.header >= 0 {
		s.names, s.headerLine = cloneAll(best.rows[best.header].fields), best.rows[best.header].line
	}
	for _, c := range []struct {
		key  string
		told bool
	}{{"delimiter", t.mapping.Delimiter != ""}, {"time_column", t.time.isTold()}, {"time_layout", t.mapping.TimeLayout != ""}} {
		if c.told {
			continue
		}
		if p := t.mustTell(c.key); p != nil {
			return nil, p
		}
		s.guess(c.key)
	}
	if t.mapping.TimeLayout == "" {
		if p := s.settleDayMonth(); p != nil {
			return nil, p
		}
	}
	c, p := s.settleGlucose(t)
	if p != nil {
		return nil, p
	}
	if p := s.settleOthers(t); p != nil {
		return nil, p
	}
	s.settleDecimal(t, c)
	return s, s.settleUnit(t, c)
}

// cloneAll copies texts as a person can type them, so that they don't hold the part of the file in memory
// that they stood in.
func cloneAll(texts []string) []string {
	out := make([]string, len(texts))
	for i, text := range texts {
		out[i] = strings.Clone(plainText(text))
	}
	return out
}

// mustTell is a problem where nothing is to be guessed.
func (t *told) mustTell(key string) *problem.Problem {
	if !t.mapping.Fixed {
		return nil
	}
	return &problem.Problem{File: studyFile, Field: "readings." + key, Found: "nothing, with fixed: yes", Expected: "how to read the files, as nothing is guessed",
		Mend: "add " + key + ", or take out fixed: and run mealtrial readings --save"}
}

// runsBackwards is by majority of the sample: one row astray makes a file
// neither the one nor the other.
func (s *survey) runsBackwards() bool {
	ahead, back := 0, 0
	var last time.Time
	for _, r := range s.rows[s.start:] {
		t, ok := s.layout.parse(s.time.cell(r.fields))
		if !ok || !s.hasValue(r) {
			continue
		}
		if !last.IsZero() {
			switch t.Compare(last) {
			case 1:
				ahead++
			case -1:
				back++
			}
		}
		last = t
	}
	return back > ahead
}

// settleDecimal takes the mark that most values have.
func (s *shape) settleDecimal(t *told, c tally) {
	switch {
	case t.mapping.Decimal != "":
		s.decimal = t.mapping.Decimal[0]
		return
	case c.points == 0 && c.commas == 0 || t.mapping.Fixed:
		return
	case c.commas > c.points:
		s.decimal = ','
	default:
		s.decimal = '.'
	}
	s.guess("decimal")
}

func (s *shape) decimalName() string {
	return strings.Trim(string(s.decimal), "\x00")
}
