package readings

import (
	"fmt"
	"slices"
)

// sampleRows are enough to see a file's delimiter, header and time column.
const sampleRows = 1000

// A survey is what the first rows of a text look like with one delimiter.
type survey struct {
	table   table
	rows    []row
	missing string // a told name that no row has
	doubled string // a told name that two columns have
	header  int    // index into rows; -1 for none
	start   int    // of the first data row; rows before it are a preamble
	width   int    // cells that a data row may have
	time    column
	layout  timeLayout
	twins   []column // where several columns hold times: all of them
	rating  int      // 0: no times found
	notes   []string
}

func (t *told) survey(tab table) *survey {
	s := &survey{table: tab, rows: tab.first(sampleRows), header: -1}
	if !s.findNamedHeader(t) || !s.findTimes(t) {
		return s
	}
	var counts []int // of timed rows by number of cells
	for _, r := range s.rows[s.header+1:] {
		if s.isTimed(r) {
			counts = append(counts, len(r.fields))
		}
	}
	if len(counts) == 0 {
		return s
	}
	usual := mode(counts)
	first := s.firstComplete(usual)
	if s.header < 0 {
		s.findHeaderAbove(first)
	}
	s.findStart(first)
	s.width = usual
	if s.header >= 0 {
		s.width = len(s.rows[s.header].fields)
	}
	// A row counts twice when it has the usual number of cells and a value: that
	// tells a true delimiter from one that leaves all but the time in one cell.
	for _, r := range s.rows[s.start:] {
		if s.isTimed(r) {
			s.rating++
			if len(r.fields) == usual && s.hasValue(r) {
				s.rating++
			}
		}
	}
	return s
}

// findNamedHeader looks for the first row with the names that the Mapping
// tells, if it tells any. False: there is none.
func (s *survey) findNamedHeader(t *told) bool {
	places := t.places()
	if !slices.ContainsFunc(places, func(p keyedPlace) bool { return p.name != "" }) {
		return true
	}
	for i, r := range s.rows {
		s.missing, s.doubled = "", ""
		for _, p := range places {
			if p.name == "" {
				continue
			}
			_, n := p.in(r.fields)
			if n == 0 && s.missing == "" {
				s.missing = p.name
			}
			if n > 1 {
				s.doubled = p.name
			}
		}
		if s.missing == "" {
			s.header = i
			return s.doubled == ""
		}
	}
	s.doubled = "" // without all names there is no header to speak of
	return false
}

func (s *survey) isTimed(r row) bool {
	_, ok := s.layout.parse(s.time.cell(r.fields))
	return ok
}

// hasValue says whether any cell but the time can be a glucose value.
func (s *survey) hasValue(r row) bool {
	for i, f := range r.fields {
		if s.time.has(i) || f == "" {
			continue
		}
		if f, _ = withoutUnit(f); isNumber(f) || limit(f) != NotLimited {
			return true
		}
	}
	return false
}

// firstComplete is the first timed row with the usual number of cells and a
// value, so that a line such as "Exported,2027-01-05 10:00" above the header is
// not taken for data.
func (s *survey) firstComplete(usual int) int {
	first := -1
	for i := s.header + 1; i < len(s.rows); i++ {
		if r := s.rows[i]; s.isTimed(r) {
			if len(r.fields) == usual && s.hasValue(r) {
				return i
			}
			if first < 0 {
				first = i
			}
		}
	}
	return first
}

// findHeaderAbove takes the last row above the data that has text where the data
// have the time, no number, and more than half as many cells as the data fill: a
// title has fewer.
func (s *survey) findHeaderAbove(first int) {
	filled := len(s.rows[first].fields)
	for filled > 0 && s.rows[first].fields[filled-1] == "" {
		filled--
	}
	for i := first - 1; i >= 0; i-- {
		r := s.rows[i]
		if 2*len(r.fields) > filled && s.time.cell(r.fields) != "" && !s.isTimed(r) && !slices.ContainsFunc(r.fields, isNumber) {
			s.header = i
			return
		}
	}
}

func isNumber(cell string) bool {
	_, ok := number(cell, 0)
	return ok
}

// findStart puts the first data row below the header. Without one, the timed
// rows that lead up to the first complete one are data too.
func (s *survey) findStart(first int) {
	if s.start = s.header + 1; s.header < 0 {
		for s.start = first; s.start > 0 && s.isTimed(s.rows[s.start-1]); s.start-- {
		}
	}
	for _, r := range s.rows[:s.start] {
		if s.isTimed(r) && s.hasValue(r) {
			s.notes = append(s.notes, fmt.Sprintf("Line %d has a time and a number but stands above the header and was left out.", r.line))
			return
		}
	}
	if s.header < 0 && s.start > 0 {
		s.notes = append(s.notes, fmt.Sprintf("The file has no header; what stands above line %d was left out.", s.rows[s.start].line))
	}
}

// mode is the most frequent of at least one number, the largest of several.
func mode(numbers []int) int {
	counts := map[int]int{}
	best := numbers[0]
	for _, n := range numbers {
		counts[n]++
	}
	for n, c := range counts {
		if c > counts[best] || c == counts[best] && n > best {
			best = n
		}
	}
	return best
}
