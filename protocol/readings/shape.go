package readings

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"mealtrial/protocol/problem"
)

// A shape is how a file is laid out, told or guessed.
type shape struct {
	table      table
	names      []string // header cells; nil without a header
	headerLine int      // 0 without a header
	start      int      // line of the first data row
	width      int      // cells that a data row may have
	time       column
	layout     timeLayout
	glucose    int
	decimal    byte // 0 where no value has decimals
	unit       Unit
	guessed    []string
	notes      []string
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

func (s *shape) timeName() string {
	if s.time.second < 0 {
		return s.name(s.time.first)
	}
	return s.name(s.time.first) + join + s.name(s.time.second)
}

func (s *shape) timeField() string {
	if s.time.second < 0 {
		return s.field(s.time.first)
	}
	return s.timeName()
}

func delimiterName(c byte) string {
	if c == '\t' {
		return "tab"
	}
	return string(c)
}

// shapeOf finds out how a text is laid out.
func (t *told) shapeOf(text string) (*shape, *problem.Problem) {
	// The delimiter that lets most rows be read is the right one: another leaves
	// no cell that is a time.
	var surveys []*survey
	for _, delimiter := range t.delimiters {
		surveys = append(surveys, t.survey(newTable(text, delimiter)))
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
	if best.header >= 0 {
		s.names, s.headerLine = best.rows[best.header].fields, best.rows[best.header].line
	}
	if t.mapping.Delimiter == "" {
		s.guess("delimiter")
	}
	if !t.time.isTold() {
		s.guess("time_column")
	}
	if t.mapping.TimeLayout == "" {
		s.guess("time_layout")
		if p := s.settleDayMonth(); p != nil {
			return nil, p
		}
	}
	tallies, p := s.settleGlucose(t)
	if p != nil {
		return nil, p
	}
	s.settleDecimal(t, tallies[s.glucose])
	return s, s.settleUnit(t, tallies[s.glucose])
}

// settleDecimal takes the mark that most values have.
func (s *shape) settleDecimal(t *told, c tally) {
	switch {
	case t.mapping.Decimal != "":
		s.decimal = t.mapping.Decimal[0]
		return
	case c.points == 0 && c.commas == 0:
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
