package readings

import (
	"fmt"
	"slices"
	"strings"

	"mealtrial/protocol/problem"
)

// A tally is what stands in one column of the data rows that have a time.
type tally struct {
	values         []float64 // numbers above 0
	words          int       // LOW, HIGH and bounds
	points, commas int       // marks of decimals
	last, step     float64
	seen           int  // numbers of any sign
	uneven         bool // the numbers do not all differ by the same step
}

func (c *tally) add(cell string) {
	x, ok := number(cell, 0)
	if !ok {
		if limit(cell) != NotLimited {
			c.words++
		}
		return
	}
	if x > 0 {
		c.values = append(c.values, x)
	}
	switch {
	case strings.IndexByte(cell, '.') >= 0:
		c.points++
	case strings.IndexByte(cell, ',') >= 0:
		c.commas++
	}
	if c.seen++; c.seen == 2 {
		c.step = x - c.last
	}
	c.uneven = c.uneven || c.seen > 2 && x-c.last != c.step
	c.last = x
}

// counts says whether the column counts up or down; two numbers don't show it.
func (c *tally) counts() bool { return c.seen > 2 && !c.uneven && c.step != 0 }

func (c *tally) readable() int { return len(c.values) + c.words }

// plausible says whether the values can be glucose in either unit.
func (c *tally) plausible() bool {
	if len(c.values) == 0 {
		return false
	}
	const lowest, highest = 1.5, 600 // mmol/L, mg/dL
	m := median(c.values)
	return lowest <= m && m <= highest
}

// tallies counts what stands in one column, or in all where only is -1.
func (s *shape) tallies(only int) []tally {
	n := min(s.width, mostColumns)
	if only >= 0 {
		n = only + 1
	}
	tallies := make([]tally, n)
	for r := range s.dataRows {
		if s.time.cell(r.fields) == "" {
			continue
		}
		for i := max(0, only); i < min(n, len(r.fields)); i++ {
			if r.fields[i] != "" && !s.time.has(i) {
				tallies[i].add(r.fields[i])
			}
		}
	}
	return tallies
}

// settleGlucose finds the glucose column.
func (s *shape) settleGlucose(t *told) ([]tally, *problem.Problem) {
	if t.glucose.isTold() {
		c, _ := t.glucose.in(s.names)
		s.glucose = c.first
		if c.first >= max(s.width, len(s.names)) {
			return nil, &problem.Problem{File: studyFile, Field: "readings.glucose_column", Found: quote(t.mapping.GlucoseColumn),
				Expected: fmt.Sprintf("a number from 1 to %d", s.width), Mend: ""}
		}
		return s.tallies(c.first), nil
	}
	s.guess("glucose_column")
	// Most files name one column; the others then need not be looked at.
	isGlucose := func(name string) bool { return namesGlucose(name) && !isRate(name) }
	if i := slices.IndexFunc(s.names, isGlucose); i >= 0 && !slices.ContainsFunc(s.names[i+1:], isGlucose) {
		if tallies := s.tallies(i); tallies[i].readable() > 0 {
			s.glucose = i
			return tallies, nil
		}
	}
	tallies := s.tallies(-1)
	candidates := s.candidates(tallies)
	if len(candidates) == 1 {
		s.glucose = candidates[0]
		return tallies, nil
	}
	p := &problem.Problem{Line: s.headerLine, Field: "readings.glucose_column", Found: "no column that is surely glucose", Expected: "one",
		Mend: "name it with readings: {glucose_column: …} in " + studyFile}
	if len(candidates) > 1 {
		var names []string
		for _, i := range candidates {
			names = append(names, s.label(i))
		}
		p.Found = fmt.Sprintf("%d columns that may be glucose: %s", len(names), list(names))
		p.Mend = fmt.Sprintf("write for example readings: {glucose_column: %s} in %s", s.label(candidates[0]), studyFile)
	}
	return nil, p
}

// label is how to write a column in the study file: its name where that is
// unique, else its number.
func (s *shape) label(i int) string {
	if _, n := named(s.names, s.name(i)); n != 1 {
		return quote(fmt.Sprint(i + 1))
	}
	return quote(s.name(i))
}

// candidates are the columns whose header names glucose, else those whose
// header has its unit, else those whose values look like it. Of several in the
// last two sorts, one with a tenth of the values of another is out.
func (s *shape) candidates(tallies []tally) []int {
	var byName, byUnit, byValue []int
	for i := range tallies {
		c := &tallies[i]
		if c.readable() == 0 {
			continue
		}
		name := at(s.names, i)
		rate := isRate(name)
		switch {
		case rate:
		case namesGlucose(name):
			byName = append(byName, i)
		case unitIn(name) != "":
			byUnit = append(byUnit, i)
		}
		if !rate && !c.counts() {
			byValue = append(byValue, i)
		}
	}
	plausible := func(i int) bool { return tallies[i].plausible() }
	if len(byName) > 1 {
		byName = keep(byName, plausible)
	}
	if len(byName) > 0 {
		return byName
	}
	rest := byUnit
	if len(rest) == 0 {
		rest = keep(byValue, plausible)
	}
	most := 0
	for _, i := range rest {
		most = max(most, tallies[i].readable())
	}
	return keep(rest, func(i int) bool { return 10*tallies[i].readable() > most })
}

// glucoseWords are "glucose" and "blood sugar" in the languages that exports
// come in, as they begin a word or end a compound.
var glucoseWords = []string{"gluco", "gluko", "glicemi", "glycemi", "glycém", "glucém", "glykemi", "glykémi", "glykæmi", "glicose", "glikoz", "glükoz", "глюкоз",
	"zucker", "blodsukker", "blodsocker", "bloedsuiker", "blood sugar", "verensokeri", "血糖", "葡萄糖", "グルコース", "혈당", "포도당"}

func namesGlucose(header string) bool {
	h := strings.ToLower(header)
	for _, word := range glucoseWords {
		if strings.Contains(h, word) {
			return true
		}
	}
	return false
}

// isRate says whether a header is of a change a minute.
func isRate(header string) bool {
	return strings.Contains(strings.ReplaceAll(strings.ToLower(header), " ", ""), "/min")
}

func keep(list []int, ok func(int) bool) []int {
	var kept []int
	for _, i := range list {
		if ok(i) {
			kept = append(kept, i)
		}
	}
	return kept
}
