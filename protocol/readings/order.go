package readings

import (
	"fmt"
	"slices"
	"time"

	"mealtrial/protocol/problem"
)

// An order puts the rows of a file in the order of time.
type order struct {
	zone  *time.Location // of the rows
	wall  bool           // the rows have wall-clock times
	field string         // name of the time column

	newestFirst   bool
	passes        [2]int // readings in the first and in the second pass of a repeated hour
	repeatedDay   string // of the first such reading
	skipped       int    // readings at a time that the clock skips
	skippedDay    string
	skippedExpect string // the first such time, and how it was taken
}

// arrange gives the readings in ascending order. A row that is not later than
// the row before it is a problem, and only rows later than all before are kept.
func (o *order) arrange(entries []entry, study Study, unit Unit, name string, c *complaints) []Reading {
	if o.newestFirst = runsBackwards(entries); o.newestFirst {
		entries = slices.Clone(entries)
		slices.Reverse(entries)
	}
	readings := make([]Reading, 0, len(entries))
	var last time.Time
	for i, e := range entries {
		t := o.place(e.at, last, i == 0)
		if i > 0 && !t.After(last) {
			c.row(o.complain(e.line, t, entries[i-1].line, last))
		}
		last = t
		if n := len(readings); n > 0 && !t.After(readings[n-1].Time) {
			continue
		}
		r := Reading{Time: t.In(study.Zone), Limit: e.limit, File: name, Line: e.line}
		if e.limit == NotLimited {
			r.Glucose = Convert(e.glucose, unit, study.Unit)
		}
		readings = append(readings, r)
	}
	return readings
}

// runsBackwards is by majority: one row astray makes a file neither the one nor
// the other, and then is told as a problem.
func runsBackwards(entries []entry) bool {
	ahead, back := 0, 0
	for i := 1; i < len(entries); i++ {
		switch entries[i].at.Compare(entries[i-1].at) {
		case 1:
			ahead++
		case -1:
			back++
		}
	}
	return back > ahead
}

// place finds the instant of a row. In an hour that the clock repeats it is the
// earliest one after the row before: rows run on, so a step back on the clock
// face is the second pass.
func (o *order) place(at, last time.Time, first bool) time.Time {
	if !o.wall {
		return at.In(o.zone)
	}
	found, n := instants(at, o.zone)
	switch n {
	case 0:
		t := asClock(at, o.zone)
		if o.skipped++; o.skipped == 1 {
			o.skippedDay = at.Format(time.DateOnly)
			o.skippedExpect = fmt.Sprintf("%s taken as %s", at.Format("15:04"), t.Format("15:04"))
		}
		return t
	case 1:
		return found[0]
	}
	if o.passes == [2]int{} {
		o.repeatedDay = at.Format(time.DateOnly)
	}
	if first || found[0].After(last) {
		o.passes[0]++
		return found[0]
	}
	o.passes[1]++
	return found[1]
}

func (o *order) complain(line int, t time.Time, lineBefore int, before time.Time) problem.Problem {
	p := problem.Problem{Line: line, Field: o.field, Expected: "every row later than the one before, or every row earlier",
		Mend: "export it again; or delete the rows that are copies"}
	if t.Equal(before) {
		p.Found = fmt.Sprintf("%s, the time of line %d too", clockText(t), lineBefore)
		p.Expected = "one reading a time"
	} else {
		p.Found = fmt.Sprintf("%s, earlier than %s of line %d", clockText(t), clockText(before), lineBefore)
		if o.newestFirst {
			p.Found += ", in a file that runs from new to old"
		}
	}
	if o.skipped > 0 {
		p.Mend = "if the sensor's clock did not follow daylight saving time, name a zone without it in readings.zone in " + studyFile +
			", for example Etc/GMT-1 for one hour ahead of UTC"
	}
	return p
}

// notes tells what the changes of the clock did to the file.
func (o *order) notes() []string {
	var notes []string
	if o.passes != [2]int{} {
		note := fmt.Sprintf("Readings in an hour that the clock repeats (%s): %d taken as before the change and %d as after it, by their order.",
			o.repeatedDay, o.passes[0], o.passes[1])
		if o.passes[1] == 0 {
			note += " They may as well be from after it."
		}
		notes = append(notes, note)
	}
	if o.skipped > 0 {
		notes = append(notes, fmt.Sprintf("Readings at a time that the clock skips (%s): %d, the first %s.", o.skippedDay, o.skipped, o.skippedExpect))
	}
	return notes
}

// clockText writes a time as short as it can be.
func clockText(t time.Time) string {
	switch {
	case t.Nanosecond() != 0:
		return t.Format("2006-01-02 15:04:05.999999999")
	case t.Second() != 0:
		return t.Format("2006-01-02 15:04:05")
	}
	return t.Format("2006-01-02 15:04")
}
