package readings

import (
	"fmt"
	"strings"
	"time"

	"mealtrial/protocol/problem"
)

// A file is what one file gave. The report is empty where the file could not be
// understood at all.
type file struct {
	report   FileReport
	readings []Reading
}

// An entry is a row with a value, before its time has found its zone.
type entry struct {
	at      time.Time // a wall-clock time is held as if it were UTC
	glucose float64   // in the file's unit
	limit   Limit
	line    int
}

// read reads the text of a file.
func (t *told) read(name, raw string) (file, problem.List) {
	c := &complaints{file: name}
	text, p := checkText(raw)
	if p != nil {
		c.whole(*p)
		return file{}, c.all()
	}
	s, p := t.shapeOf(text)
	if p != nil {
		c.whole(*p)
		return file{}, c.all()
	}
	r := FileReport{File: name, HeaderLine: s.headerLine, Delimiter: delimiterName(s.table.delimiter), Decimal: s.decimalName(),
		TimeColumn: s.timeName(), TimeLayout: s.layout.pattern, GlucoseColumn: s.name(s.glucose), Unit: s.unit, Guessed: s.guessed}
	entries := s.entries(&r, c)
	o := order{zone: t.zone, wall: s.layout.kind == wallClock, field: s.timeField()}
	readings := o.arrange(entries, t.study, s.unit, name, c)
	r.NewestFirst = o.newestFirst
	r.Notes = append(s.notes, o.notes()...)
	if r.Readings = len(readings); r.Readings > 0 {
		r.From, r.To = readings[0].Time, readings[len(readings)-1].Time
	} else if c.rows == 0 {
		c.whole(problem.Problem{Field: s.field(s.glucose), Found: "no row with a time and a value", Expected: "readings",
			Mend: "name another column with readings.glucose_column in " + studyFile + ", or move the file out of the folder"})
	}
	return file{r, readings}, c.all()
}

// entries reads the data rows and counts the skipped ones.
func (s *shape) entries(r *FileReport, c *complaints) []entry {
	// Most lines are readings; the cap keeps a file of blank lines cheap.
	entries := make([]entry, 0, min(strings.Count(s.table.text, string(s.table.newline)), 1<<16))
	timeless := 0
	for row := range s.dataRows {
		if p := s.strayQuote(row); p != nil {
			c.row(*p)
			continue
		}
		cell, when := at(row.fields, s.glucose), s.time.cell(row.fields)
		if cell == "" || when == "" {
			r.Skipped++
			if cell != "" {
				timeless++
			}
			continue
		}
		e, p := s.entry(row, cell, when)
		if p != nil {
			p.Line = row.line
			c.row(*p)
			continue
		}
		entries = append(entries, e)
	}
	if timeless > 0 {
		s.notes = append(s.notes, fmt.Sprintf("Rows with a value but no time, left out: %d.", timeless))
	}
	return entries
}

func (s *shape) entry(row row, cell, when string) (entry, *problem.Problem) {
	if p := s.surplus(row, cell); p != nil {
		return entry{}, p
	}
	e := entry{line: row.line}
	var ok bool
	if e.at, ok = s.layout.parse(when); !ok {
		return e, &problem.Problem{Field: s.timeField(), Found: quote(when), Expected: "a time as " + s.layout.pattern,
			Mend: "empty the cell if the row is no reading; tell another layout with readings.time_layout in " + studyFile}
	}
	if e.glucose, ok = number(cell, s.decimal); !ok {
		if e.limit = limit(cell); e.limit == NotLimited {
			return e, &problem.Problem{Field: s.field(s.glucose), Found: quote(cell), Expected: s.numberWords() + ", LOW or HIGH",
				Mend: "empty the cell if the row is no reading; name another column with readings.glucose_column in " + studyFile}
		}
		return e, nil
	}
	// Ten times what is survivable: only a slip of the decimal mark goes beyond.
	const highest = 1000 // mg/dL
	if e.glucose <= 0 || Convert(e.glucose, s.unit, MgdL) > highest {
		return e, &problem.Problem{Field: s.field(s.glucose), Found: quote(cell),
			Expected: fmt.Sprintf("a value above 0 and at most %s %s", short(Convert(highest, MgdL, s.unit)), s.unit),
			Mend:     "empty the cell if the row is no reading"}
	}
	return e, nil
}

func (s *shape) numberWords() string {
	switch s.decimal {
	case ',':
		return "a number such as 5,4"
	case '.':
		return "a number such as 5.4"
	}
	return "a number"
}

// surplus finds cells beyond the header's, which shift what stands before them:
// most often decimal commas between commas.
func (s *shape) surplus(row row, cell string) *problem.Problem {
	if len(row.fields) <= s.width {
		return nil
	}
	next := at(row.fields, s.glucose+1)
	split := s.table.delimiter == ',' && strings.Trim(cell+next, "0123456789") == "" && next != "" && len(next) <= 2
	if !split && strings.Join(row.fields[s.width:], "") == "" {
		return nil
	}
	p := &problem.Problem{Found: fmt.Sprintf("%d cells", len(row.fields)), Expected: fmt.Sprintf("%d", s.width),
		Mend: "put a cell that contains the delimiter between double quotes"}
	if s.headerLine > 0 {
		p.Expected += " as in the header"
	}
	if split {
		p.Mend = "export with decimal points, or with semicolons between cells"
	}
	return p
}

// strayQuote finds an opening quote that is closed nowhere, or by a quote of a
// later reading, which would then be swallowed.
func (s *shape) strayQuote(r row) *problem.Problem {
	stray := r.open
	if !stray && strings.IndexByte(r.raw, s.table.newline) >= 0 {
		for _, line := range strings.Split(r.raw, string(s.table.newline))[1:] {
			fields := s.table.splitPlain(line, nil)
			_, timed := s.layout.parse(strings.Trim(s.time.cell(fields), `"`))
			stray = stray || timed
		}
	}
	if !stray {
		return nil
	}
	return &problem.Problem{Line: r.line, Found: "a double quote that is not closed in its row", Expected: `pairs of double quotes (")`,
		Mend: "delete or double it"}
}
