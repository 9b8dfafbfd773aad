package readings

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"mealtrial/protocol/problem"
)

// explain says why no row of a file could be read with any delimiter.
func (t *told) explain(surveys []*survey) *problem.Problem {
	// The delimiter with most cells is the likeliest, and shows most names.
	s := slices.MaxFunc(surveys, func(a, b *survey) int { return len(a.widest().fields) - len(b.widest().fields) })
	if i := slices.IndexFunc(surveys, func(s *survey) bool { return s.doubled != "" }); i >= 0 {
		s = surveys[i]
		return &problem.Problem{Line: s.rows[s.header].line, Field: t.key(s.doubled), Found: "several columns called " + quote(s.doubled),
			Expected: "one", Mend: "write the number of the column instead, such as \"2\", in " + studyFile}
	}
	if !slices.ContainsFunc(surveys, func(s *survey) bool { return s.missing == "" }) {
		if other := t.otherDelimiter(s); other != "" {
			return &problem.Problem{Field: "readings.delimiter", Found: strconv.Quote(t.mapping.Delimiter), Expected: strconv.Quote(other) + ", which stands between the cells",
				Mend: "mend delimiter in " + studyFile}
		}
		return &problem.Problem{Field: t.key(s.missing), Found: "no column called " + quote(s.missing),
			Expected: "one of " + list(nearest(s.headerNames(t), s.missing)), Mend: "mend the name in " + studyFile}
	}
	width := len(s.widest().fields)
	if t.time.numbers != nil && slices.Max(t.time.numbers) >= width {
		return &problem.Problem{File: studyFile, Field: "readings.time_column", Found: quote(t.mapping.TimeColumn),
			Expected: fmt.Sprintf("a number from 1 to %d", width)}
	}
	last := s.rows[len(s.rows)-1]
	if !strings.ContainsAny(last.raw, "0123456789") && len(s.rows) < sampleRows && !slices.ContainsFunc(s.rows, anyNumber) {
		return &problem.Problem{Line: last.line, Found: "a header and no readings below it", Expected: "one row a reading",
			Mend: "export it again, or delete it"}
	}
	expected := "a time such as 2027-01-31 07:05, 31.01.2027 07:05 or 2027-01-31T07:05:00Z in every row"
	mend := fmt.Sprintf("tell the layout with readings: {time_layout: …} in %s, or move the file out of the folder", studyFile)
	if t.mapping.TimeLayout != "" {
		expected = "a time as " + t.mapping.TimeLayout + " in every row"
		mend = "mend readings.time_layout in " + studyFile + ", or leave it out"
	}
	row := s.typical()
	return &problem.Problem{Line: row.line, Found: "no time in " + quote(row.raw), Expected: expected, Mend: mend}
}

// otherDelimiter is one with which the file has the columns that are told, where
// it has not with the told one.
func (t *told) otherDelimiter(s *survey) string {
	if t.mapping.Delimiter == "" {
		return ""
	}
	for _, c := range []byte(",;\t|") {
		if other := t.survey(table{s.table.src, c}); other.missing == "" && delimiterName(c) != t.mapping.Delimiter {
			return delimiterName(c)
		}
	}
	return ""
}

// key is the field of the study file that holds a column's name.
func (t *told) key(name string) string {
	for _, c := range t.places() {
		if name == c.name {
			return "readings." + c.key
		}
	}
	panic("readings: a name that nothing was told of")
}

func anyNumber(r row) bool { return slices.ContainsFunc(r.fields, isNumber) }

func (s *survey) widest() row {
	return slices.MaxFunc(s.rows, func(a, b row) int { return len(a.fields) - len(b.fields) })
}

// typical is a row from the middle of the sample, below any preamble.
func (s *survey) typical() row { return s.rows[len(s.rows)/2] }

// headerNames are the names of the header as it would be guessed.
func (s *survey) headerNames(t *told) []string {
	free := *t
	free.time, free.glucose, free.zones, free.event, free.sensor, free.atMost, free.atLeast = place{}, place{}, place{}, place{}, place{}, place{}, place{}
	names := s.widest().fields
	if g := free.survey(s.table); g.rating > 0 && g.header >= 0 {
		names = g.rows[g.header].fields
	}
	return slices.DeleteFunc(slices.Clone(names), func(name string) bool { return name == "" })
}

// askTimeColumn names the columns that hold times.
func (s *survey) askTimeColumn() *problem.Problem {
	h := shape{}
	if s.header >= 0 {
		h.names, h.headerLine = s.rows[s.header].fields, s.rows[s.header].line
	}
	var labels []string
	for _, c := range s.twins {
		label := h.label(c.first)
		if h.time = c; c.second >= 0 {
			label = quote(h.timeName())
		}
		labels = append(labels, label)
	}
	return &problem.Problem{Line: h.headerLine, Field: "readings.time_column", Found: fmt.Sprintf("%d columns of times: %s", len(labels), list(labels)),
		Expected: "one", Mend: fmt.Sprintf("write for example readings: {time_column: %s} in %s", labels[0], studyFile)}
}

// nearest gives the five names most like another, quoted.
func nearest(names []string, to string) []string {
	names = slices.Clone(names[:min(len(names), mostColumns)])
	distances := map[string]int{}
	for _, name := range names {
		distances[name] = distance(strings.ToLower(cut(name)), strings.ToLower(cut(to)))
	}
	slices.SortStableFunc(names, func(a, b string) int { return distances[a] - distances[b] })
	names = names[:min(len(names), 5)]
	for i, name := range names {
		names[i] = quote(name)
	}
	return names
}

// distance is how many letters to add, delete or change (Levenshtein 1966,
// Soviet Physics Doklady 10:707).
func distance(a, b string) int {
	x, y := []rune(a), []rune(b)
	above := make([]int, len(y)+1)
	for j := range above {
		above[j] = j
	}
	for i := range x {
		diagonal := above[0]
		above[0] = i + 1
		for j := range y {
			change := diagonal
			if x[i] != y[j] {
				change++
			}
			diagonal = above[j+1]
			above[j+1] = min(change, above[j+1]+1, above[j]+1)
		}
	}
	return above[len(y)]
}

// quote quotes a person's text, cut where it is long.
func quote(s string) string { return strconv.Quote(cut(s)) }

func cut(s string) string {
	const most = 60
	n := 0
	for i := range s {
		if n++; n > most {
			return s[:i] + "…"
		}
	}
	return s
}

// list writes "a", "b" or "c", the first few.
func list(names []string) string {
	const most = 8
	if len(names) > most {
		names = append(slices.Clone(names[:most]), "…")
	}
	return strings.Join(names, ", ")
}

// short writes a value with the digits that a sensor shows.
func short(x float64) string { return strconv.FormatFloat(x, 'g', 4, 64) }
