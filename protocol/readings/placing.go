package readings

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"mealtrial/protocol/problem"
)

// A placing is where the rows of a file have come to in time.
type placing struct {
	lanes   []lane
	last    int64     // of the row before, of whatever sensor
	waiting []waiting // rows in an hour that the clock repeats, of a file that runs backwards
}

// A lane follows the rows of one sensor.
type lane struct {
	sensor  string
	stretch int // −1 before the first row
	last    int64
	line    int
	glucose float64
	limit   Limit
}

type waiting struct {
	e    entry
	wall time.Time
	lane int
}

func (p placing) clone() placing { return placing{lanes: slices.Clone(p.lanes), last: p.last} }

// mostWaiting rows of repeated hours are held back.
const mostWaiting = 100_000

// clockDoubts count what the changes of the clock did to a file.
type clockDoubts struct {
	passes        [2]int // readings in the first and in the second pass of a repeated hour
	repeatedDay   string // of the first such reading
	skipped       int    // readings at a time that the clock skips
	skippedDay    string
	skippedExpect string // the first such time, and how it was taken
}

// mostLanes of one file; with more the column does not name sensors.
const mostLanes = 100

// lane finds the lane of a sensor; −1 where there would be too many.
func (sc *scanner) lane(sensor string) int {
	for i := range sc.place.lanes {
		if sc.place.lanes[i].sensor == sensor {
			return i
		}
	}
	if len(sc.place.lanes) >= mostLanes {
		return -1
	}
	sc.place.lanes = append(sc.place.lanes, lane{sensor: strings.Clone(sensor), stretch: -1})
	return len(sc.place.lanes) - 1
}

// put finds the instant of a row. In an hour that the clock repeats it is the
// earliest one after the row before: rows run on, so a step back on the clock
// face is the second pass. Files that run backwards are followed from the other
// end: their rows of such an hour wait for the row before the hour.
func (sc *scanner) put(e entry, wall time.Time, i int) {
	if sc.file.shape.layout.kind != wallClock {
		e.at = wall.UnixMicro()
		sc.accept(e, i)
		return
	}
	if t, ok := sc.clock.instant(wall); ok {
		e.at = t.UnixMicro()
		sc.acceptAfterWaiting(e, i)
		return
	}
	found, n := instants(wall, sc.clock.zone)
	switch n {
	case 0:
		t := asClock(wall, sc.clock.zone)
		if sc.doubts.skipped++; sc.doubts.skipped == 1 {
			sc.doubts.skippedDay = wall.Format(time.DateOnly)
			sc.doubts.skippedExpect = fmt.Sprintf("%s taken as %s", wall.Format("15:04"), t.Format("15:04"))
		}
		e.at = t.UnixMicro()
	case 1:
		e.at = found[0].UnixMicro()
	case 2:
		if sc.file.shape.newestFirst {
			sc.place.waiting = append(sc.place.waiting, waiting{e, wall, i})
			if len(sc.place.waiting) >= mostWaiting {
				sc.flush(nil)
			}
			return
		}
		l := &sc.place.lanes[i]
		e.at = sc.pass(found, l.stretch < 0, l.last, sc.place.last, wall)
	}
	sc.acceptAfterWaiting(e, i)
}

// pass chooses between the two passes of an hour, by the row before of this
// sensor, if there is one, and by the row before in the file, if it is of this
// hour.
func (sc *scanner) pass(found [2]time.Time, first bool, last, above int64, wall time.Time) int64 {
	if sc.doubts.passes == [2]int{} {
		sc.doubts.repeatedDay = wall.Format(time.DateOnly)
	}
	at, later := found[0].UnixMicro(), found[1].UnixMicro()
	if (first || at > last) && !(above > at && above <= later) {
		sc.doubts.passes[0]++
		return at
	}
	sc.doubts.passes[1]++
	return later
}

func (sc *scanner) acceptAfterWaiting(e entry, lane int) {
	if len(sc.place.waiting) > 0 {
		older := map[int]int64{lane: e.at}
		sc.flush(older)
	}
	sc.accept(e, lane)
}

// flush places the waiting rows, oldest first, and takes them in the order of
// the file. before has, by lane, the time of an older row where one is known.
func (sc *scanner) flush(before map[int]int64) {
	list := sc.place.waiting
	if len(list) == 0 {
		return
	}
	sc.place.waiting = nil
	last, above := map[int]int64{}, int64(math.MinInt64)
	for lane, at := range before {
		last[lane], above = at, at
	}
	for i := len(list) - 1; i >= 0; i-- {
		w := &list[i]
		found, _ := instants(w.wall, sc.clock.zone)
		at, known := last[w.lane]
		w.e.at = sc.pass(found, !known, at, above, w.wall)
		last[w.lane], above = w.e.at, w.e.at
	}
	for _, w := range list {
		sc.accept(w.e, w.lane)
	}
}

// mostStretches of a file: with more its rows are in no order at all.
const mostStretches = 200

// accept gives a placed row to its stretch, and begins a new one where a row
// runs against the direction of the file.
func (sc *scanner) accept(e entry, i int) {
	f, l := sc.file, &sc.place.lanes[i]
	sc.place.last = e.at
	ahead := e.at > l.last
	if f.shape.newestFirst {
		ahead = e.at < l.last
	}
	next := l.stretch < 0
	switch {
	case next || ahead:
	case sc.doubts.skipped > 0 || e.at != l.last && len(f.stretches) >= mostStretches:
		if sc.c != nil {
			p := f.against(e.line, e.at, l.line, l.last, sc.doubts.skipped > 0)
			sc.complain(e.line, &p)
		}
		l.last, l.line, l.glucose, l.limit = e.at, e.line, e.glucose, e.limit
		return
	case e.at == l.last:
		if sc.c != nil {
			sc.again(e, l)
		}
	default:
		next = true
	}
	if next {
		sc.begin(e, l)
	}
	e.unit = int32(l.stretch)
	l.last, l.line, l.glucose, l.limit = e.at, e.line, e.glucose, e.limit
	if sc.c != nil {
		u := f.stretches[l.stretch]
		u.add(e.at)
	}
	sc.out(e)
}

func (u *stretch) add(at int64) {
	u.n++
	u.min, u.max = min(u.min, at), max(u.max, at)
	u.seconds = u.seconds || at%minute != 0
}

// minute in microseconds.
const minute = int64(time.Minute / time.Microsecond)

// floorMinute leaves out the seconds.
func floorMinute(at int64) int64 {
	if r := at % minute; r < 0 {
		return at - r - minute
	} else {
		return at - r
	}
}

// begin starts a stretch, or finds it again.
func (sc *scanner) begin(e entry, l *lane) {
	f := sc.file
	if sc.c == nil {
		l.stretch = slices.IndexFunc(f.stretches, func(u *stretch) bool { return u.line == e.line && u.sensor == l.sensor })
		return
	}
	u := &stretch{file: f, sensor: l.sensor, min: e.at, max: e.at, firstAt: e.at, line: e.line}
	if l.stretch >= 0 {
		u.above, u.aboveAt = l.line, l.last
	}
	l.stretch = len(f.stretches)
	f.stretches = append(f.stretches, u)
}

// again notes a row at the time of the row before it.
func (sc *scanner) again(e entry, l *lane) {
	f := sc.file
	f.noteRepeat(e.at)
	if e.glucose == l.glucose && e.limit == l.limit {
		f.report.Repeated++
		return
	}
	if f.nTwice++; len(f.twice) < mostRowProblems {
		f.twice = append(f.twice, twice{e.at, int64(e.line), int64(l.line)})
	}
}

// against is the problem of a row that runs against the others.
func (f *file) against(line int, at int64, lineBefore int, before int64, skips bool) problem.Problem {
	p := problem.Problem{File: f.report.File, Line: line, Field: f.shape.timeField(), Expected: "every row later than the one before, or every row earlier",
		Mend: "export it again; or delete the rows that are copies"}
	t, b := f.told.asTime(at), f.told.asTime(before)
	if at == before {
		p.Found = fmt.Sprintf("%s, the time of line %d too", clockText(t), lineBefore)
		p.Expected = "one reading a time"
	} else if f.shape.newestFirst {
		p.Found = fmt.Sprintf("%s, later than %s of line %d, in a file that runs from new to old", clockText(t), clockText(b), lineBefore)
	} else {
		p.Found = fmt.Sprintf("%s, earlier than %s of line %d", clockText(t), clockText(b), lineBefore)
	}
	// Twelve hours of a clock face, morning and evening alike.
	const halfDay = 1<<13 - 2
	if f.hours == halfDay && !f.shape.layout.halves {
		p.Found += ", and no hour above 12"
		p.Mend = "export it with a clock of 24 hours, or with AM and PM"
	}
	if skips {
		p.Mend = "if the sensor's clock did not follow daylight saving time, name a zone without it in readings.zone in " + studyFile +
			", for example Etc/GMT-1 for one hour ahead of UTC"
	}
	return p
}

// notes tells what the changes of the clock did to the file.
func (sc *scanner) notes() []string {
	d := &sc.doubts
	var notes []string
	if d.passes != [2]int{} {
		note := fmt.Sprintf("Readings in an hour that the clock repeats (%s): %d taken as before the change and %d as after it, by their order.",
			d.repeatedDay, d.passes[0], d.passes[1])
		if d.passes[1] == 0 {
			note += " They may as well be from after it."
		}
		notes = append(notes, note)
	}
	if d.skipped > 0 {
		notes = append(notes, fmt.Sprintf("Readings at a time that the clock skips (%s): %d, the first %s.", d.skippedDay, d.skipped, d.skippedExpect))
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
