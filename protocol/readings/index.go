package readings

import (
	"fmt"
	"io/fs"
	"math"
	"slices"
	"time"

	"mealtrial/protocol/problem"
)

// An entry is one row with a value.
type entry struct {
	at      int64   // microseconds since 1970-01-01T00:00:00Z
	glucose float64 // in the file's unit; of a Limit the bound that the cell tells, or 0
	line    int
	unit    int32 // index into file.stretches
	limit   Limit
}

// A stretch is a part of a file in which the rows of one sensor run one way in
// time. Most files are one stretch.
type stretch struct {
	file        *file
	sensor      string // as the file or the Mapping names it
	n           int
	min, max    int64 // of entry.at
	firstAt     int64 // of its first row
	line, above int   // of its first row, and of the row before it; 0: it begins the file
	aboveAt     int64
	seconds     bool // its times are not all whole minutes
	byMinute    bool // its seconds are left out, as in another export of the same readings
	group       int  // which sensor it was found to be of
}

// A block is some rows of a file on end, with what it takes to read them again.
type block struct {
	offset   int64
	line     int
	rows     int
	place    placing // as it was before the first row
	min, max int64
	entries  []entry // kept where there is room
}

// blockRows is a few days of readings at one a minute.
const blockRows = 2048

// keptEntries of all files together stay in memory, 32 bytes each, which is
// half a year at one a minute; the rest is read again when it is wanted.
const keptEntries = 1 << 18

// A file is one file that was understood.
type file struct {
	report    FileReport
	src       *source
	shape     *shape
	told      *told
	blocks    []block
	stretches []*stretch
	bounds    extremes
	repeats   []interval // times that stand twice; of many the stretch that holds them
	twice     []twice
	nTwice    int
	hours     uint32 // that its times have, one bit each
}

// twice is a time with two values.
type twice struct{ at, line, before int64 }

// extremes are the numbers and the bounds of a file, in its unit.
type extremes struct {
	lowest, highest float64 // of the numbers; 0 for none
	below, above    float64 // the bounds told in cells such as <40 and >400; 0 for none
}

func (x *extremes) add(e entry) {
	switch {
	case e.limit == NotLimited:
		if x.lowest == 0 || e.glucose < x.lowest {
			x.lowest = e.glucose
		}
		x.highest = max(x.highest, e.glucose)
	case e.limit == BelowRange:
		x.below = max(x.below, e.glucose)
	case e.glucose > 0 && (x.above == 0 || e.glucose < x.above):
		x.above = e.glucose
	}
}

// index reads a table once, checks every row and notes where what stands. The
// file is nil where it could not be understood at all. room is how many entries
// may still be kept.
func (t *told) index(fsys fs.FS, name string, room *int) (*file, problem.List) {
	c := &complaints{file: name}
	src, p := fileSource(fsys, name, MaxFileBytes)
	if p == nil {
		p = src.check()
	}
	if p != nil {
		c.whole(*p)
		return nil, c.all()
	}
	s, p := t.shapeOf(src)
	if p != nil {
		c.whole(*p)
		return nil, c.all()
	}
	f := &file{src: src, shape: s, told: t}
	f.report = FileReport{File: name, HeaderLine: s.headerLine, Delimiter: delimiterName(s.table.delimiter), Decimal: s.decimalName(),
		TimeColumn: s.timeName(), TimeLayout: s.layout.pattern, GlucoseColumn: s.glucoseName(), Unit: s.unit, NewestFirst: s.newestFirst,
		ZoneColumn: s.optionalName(s.zones), EventColumn: s.optionalName(s.event), Events: s.events, SensorColumn: s.optionalName(s.sensor),
		AtMostColumn: s.optionalName(s.atMost), AtLeastColumn: s.optionalName(s.atLeast), Guessed: s.guessed}
	if s.layout.kind == wallClock && s.zones < 0 {
		f.report.Zone = t.zone.String()
	}
	sc := &scanner{file: f, c: c, place: placing{}, clock: steadyClock{zone: t.zone}, room: room}
	sc.index()
	if src.err != nil {
		c.whole(unreadable("", src.err))
	}
	f.finish(sc, c)
	return f, c.all()
}

func (f *file) finish(sc *scanner, c *complaints) {
	s, r := f.shape, &f.report
	f.complainTwice(c)
	if sc.timeless > 0 {
		s.notes = append(s.notes, fmt.Sprintf("Rows with a value but no time, left out: %d.", sc.timeless))
	}
	if n := len(f.stretches); n > 1 && s.sensor < 0 {
		s.notes = append(s.notes, fmt.Sprintf("The rows are in %d stretches of time that are not in order; they were put in order.", n))
	}
	r.Notes = append(s.notes, sc.notes()...)
	for _, u := range f.stretches {
		if u.sensor != "" && !slices.Contains(r.Sensors, u.sensor) {
			r.Sensors = append(r.Sensors, u.sensor)
		}
		r.Readings += u.n
	}
	if r.Readings == 0 {
		switch {
		case c.rows > 0:
		case len(sc.kinds) > 0:
			c.whole(problem.Problem{Field: s.field(s.event), Found: "no row with glucose of the kind " + list(quoteAll(s.events)), Expected: "one of " + list(quoteAll(sc.kinds)),
				Mend: "mend readings.events in " + studyFile})
		default:
			c.whole(problem.Problem{Field: s.field(s.glucose[0]), Found: "no row with a time and a value", Expected: "readings",
				Mend: "name another column with readings.glucose_column in " + studyFile + ", or move the file out of the folder"})
		}
		return
	}
	from, to := f.span()
	r.From, r.To = f.told.asTime(from), f.told.asTime(to)
	f.settleLimits()
}

// noteRepeat remembers a time that stands twice.
func (f *file) noteRepeat(at int64) {
	const most = 64
	if n := len(f.repeats); n >= most {
		last := &f.repeats[n-1]
		last.from, last.to = min(last.from, at), max(last.to, at)
		return
	}
	f.repeats = append(f.repeats, interval{at, at})
}

func (f *file) span() (from, to int64) {
	from, to = math.MaxInt64, math.MinInt64
	for _, u := range f.stretches {
		from, to = min(from, u.min), max(to, u.max)
	}
	return from, to
}

func (t *told) asTime(at int64) time.Time { return time.UnixMicro(at).In(t.study.Zone) }

// complainTwice takes two values at one time for a few slips where they are
// rare, and else for a file that was misread.
func (f *file) complainTwice(c *complaints) {
	n := 0
	for _, u := range f.stretches {
		n += u.n
	}
	const rare = 0.05
	if float64(f.nTwice) <= rare*float64(n) {
		return
	}
	for i := range f.nTwice {
		p := problem.Problem{Field: f.shape.timeField(), Expected: "one reading a time of one sensor",
			Mend: "export it again; or delete the rows that are copies; or name the column of the sensor with readings.sensor_column in " + studyFile}
		if i < len(f.twice) {
			p.Line, p.Found = int(f.twice[i].line), fmt.Sprintf("%s, the time of line %d too", clockText(f.told.asTime(f.twice[i].at)), f.twice[i].before)
		}
		c.row(p)
	}
}

// read gives the entries of a block again.
func (f *file) read(b *block, yield func(entry)) {
	if b.entries != nil {
		for _, e := range b.entries {
			yield(e)
		}
		return
	}
	sc := &scanner{file: f, place: b.place.clone(), clock: steadyClock{zone: f.told.zone}, out: yield}
	sc.rows(b.offset, b.line, b.rows)
}
