package readings

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"mealtrial/protocol/problem"
)

// A tally is what stands in one column of the data rows that have a time.
type tally struct {
	values         sampled // numbers above 0
	words          int     // LOW, HIGH and bounds
	points, commas int     // marks of decimals
	unit           Unit    // that a cell names
	last, step     float64
	seen           int  // numbers of any sign
	uneven         bool // the numbers do not all differ by the same step
}

// A sampled holds every number, or evenly spaced ones of many.
type sampled struct {
	n, stride int
	list      []float64
}

const mostSampled = 4096

func (s *sampled) add(x float64) {
	if s.stride == 0 {
		s.stride = 1
	}
	if s.n++; (s.n-1)%s.stride != 0 {
		return
	}
	if len(s.list) == mostSampled {
		for i := 1; 2*i < len(s.list); i++ {
			s.list[i] = s.list[2*i]
		}
		s.list = s.list[:len(s.list)/2]
		s.stride *= 2
		if (s.n-1)%s.stride != 0 {
			return
		}
	}
	s.list = append(s.list, x)
}

func (c *tally) add(cell string) {
	cell, unit := withoutUnit(cell)
	if unit != "" {
		c.unit = unit
	}
	x, ok := number(cell, 0)
	if !ok {
		if limit(cell) != NotLimited {
			c.words++
		}
		return
	}
	if x > 0 {
		c.values.add(x)
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

func (c *tally) readable() int { return c.values.n + c.words }

// plausible says whether the values can be glucose in either unit.
func (c *tally) plausible() bool {
	if c.values.n == 0 {
		return false
	}
	const lowest, highest = 1.5, 600 // mmol/L, mg/dL
	m := median(c.values.list)
	return lowest <= m && m <= highest
}

// plentyRows are enough to know a column; files with less are read to the end,
// and so are those with nothing in it so far.
const plentyRows = 10_000

// tallies counts what stands in some columns, or in all where only is nil.
func (s *shape) tallies(only []int) []tally {
	n := min(s.width, mostColumns)
	if only != nil {
		n = slices.Max(only) + 1
	} else {
		for i := range n {
			only = append(only, i)
		}
	}
	tallies := make([]tally, n)
	rows, readable := 0, 0
	for r := range s.dataRows {
		if s.time.cell(r.fields) == "" {
			continue
		}
		for _, i := range only {
			if cell := at(r.fields, i); cell != "" && !s.time.has(i) {
				before := tallies[i].readable()
				tallies[i].add(cell)
				readable += tallies[i].readable() - before
			}
		}
		if rows++; rows >= plentyRows && readable > 0 {
			break
		}
	}
	return tallies
}

// settleGlucose finds the glucose columns; the tally is of all of them.
func (s *shape) settleGlucose(t *told) (tally, *problem.Problem) {
	if t.glucose.isTold() {
		s.glucose, _ = t.glucose.all(s.names)
		if slices.Max(s.glucose) >= max(s.width, len(s.names)) {
			return tally{}, &problem.Problem{File: studyFile, Field: "readings.glucose_column", Found: quote(t.mapping.GlucoseColumn),
				Expected: fmt.Sprintf("a number from 1 to %d", s.width), Mend: ""}
		}
		return together(s.tallies(s.glucose), s.glucose), nil
	}
	if p := t.mustTell("glucose_column"); p != nil {
		return tally{}, p
	}
	s.guess("glucose_column")
	// Most files name one column; the others then need not be looked at.
	isGlucose := func(name string) bool { return namesGlucose(name) && !isRate(name) }
	if i := slices.IndexFunc(s.names, isGlucose); i >= 0 && !slices.ContainsFunc(s.names[i+1:], isGlucose) {
		if tallies := s.tallies([]int{i}); tallies[i].readable() > 0 {
			s.glucose = []int{i}
			return tallies[i], nil
		}
	}
	tallies := s.tallies(nil)
	candidates := s.withoutMeters(s.candidates(tallies))
	if len(candidates) == 1 {
		s.glucose = candidates
		return tallies[candidates[0]], nil
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
		if s.takeTurns(candidates) {
			both := strings.Trim(s.label(candidates[0]), `"`) + either + strings.Trim(s.label(candidates[1]), `"`)
			p.Mend += fmt.Sprintf(", or {glucose_column: %s} for both, as no row has both", strconv.Quote(both))
		}
	}
	return tally{}, p
}

func together(tallies []tally, columns []int) tally {
	sum := tallies[columns[0]]
	for _, i := range columns[1:] {
		for _, x := range tallies[i].values.list {
			sum.values.add(x)
		}
		sum.words += tallies[i].words
		sum.unit = cmp.Or(sum.unit, tallies[i].unit)
		sum.points += tallies[i].points
		sum.commas += tallies[i].commas
	}
	return sum
}

// takeTurns says whether no row of the first has glucose in more than one
// column.
func (s *shape) takeTurns(columns []int) bool {
	rows := 0
	for r := range s.dataRows {
		filled := 0
		for _, i := range columns {
			if at(r.fields, i) != "" {
				filled++
			}
		}
		if filled > 1 {
			return false
		}
		if rows++; rows >= plentyRows {
			break
		}
	}
	return true
}

// withoutMeters leaves out columns that a header says to be from a finger-stick
// meter, where one of the sensor is there.
func (s *shape) withoutMeters(candidates []int) []int {
	isMeter := func(i int) bool { return namesMeter(at(s.names, i)) }
	kept := keep(candidates, func(i int) bool { return !isMeter(i) })
	if len(kept) == 0 {
		return candidates
	}
	for _, i := range candidates {
		if isMeter(i) {
			s.notes = append(s.notes, fmt.Sprintf("Column %s was taken for that of a finger-stick meter and left out.", s.label(i)))
		}
	}
	return kept
}

// meterWords mark glucose that is not the sensor's, in headers and in events.
var meterWords = []string{"strip", "streifen", "finger", "meter", "capill", "kapill", "calib", "kalib", "blood", "blut", "sang", "manual", "control"}

func namesMeter(text string) bool {
	lower := strings.ToLower(text)
	return slices.ContainsFunc(meterWords, func(word string) bool { return strings.Contains(lower, word) })
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
		case unitIn(name) != "" || c.unit != "":
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
