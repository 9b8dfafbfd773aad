package readings

import (
	"fmt"
	"io/fs"
	"math"
	"slices"
	"strings"
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
		if c.rows == 0 {
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

// A strangeRun is readings on end that cannot be in the file's unit, as where two
// exports in different units were put into one file.
type strangeRun struct {
	n, line int
	first   float64
}

// strangeReadings on end are no slip and no illness.
const strangeReadings = 12

func (x *strangeRun) add(e entry, unit Unit) *problem.Problem {
	if e.limit != NotLimited || unitOf(e.glucose) == "" || unitOf(e.glucose) == unit {
		x.n = 0
		return nil
	}
	if x.n++; x.n == 1 {
		x.line, x.first = e.line, e.glucose
	}
	if x.n != strangeReadings {
		return nil
	}
	return &problem.Problem{Line: x.line, Found: fmt.Sprintf("readings of %s %s from here on", short(x.first), unit), Expected: "one unit in a file",
		Mend: "put the readings in " + string(unitOf(x.first)) + " into a file of their own"}
}

// A scanner goes through the rows of a file. With complaints it indexes the
// file; without, it reads again what was indexed.
type scanner struct {
	file  *file
	c     *complaints
	place placing
	clock steadyClock
	out   func(entry)
	room  *int

	timeless int
	doubts   clockDoubts
	strange  strangeRun
	lastZone string
	zone     *time.Location
}

// index reads all rows and cuts them into blocks.
func (sc *scanner) index() {
	f, s := sc.file, sc.file.shape
	b := block{offset: s.startAt, line: s.start, place: sc.place.clone(), min: math.MaxInt64, max: math.MinInt64}
	var entries []entry
	sc.out = func(e entry) {
		b.min, b.max = min(b.min, e.at), max(b.max, e.at)
		f.bounds.add(e)
		if p := sc.strange.add(e, s.unit); p != nil {
			p.Field = s.field(s.glucose[0])
			sc.complain(p.Line, p)
		}
		if *sc.room > 0 {
			entries = append(entries, e)
		}
	}
	closeBlock := func() {
		if b.max >= b.min {
			if *sc.room > 0 {
				b.entries = slices.Clone(entries)
				*sc.room -= len(entries)
			}
			f.blocks = append(f.blocks, b)
		}
		entries = entries[:0]
	}
	last, fewest := row{}, math.MaxInt
	for r := range s.dataRows {
		if last.line > 0 {
			fewest = min(fewest, len(last.fields))
		}
		last = r
		if b.rows >= blockRows && len(sc.place.waiting) == 0 {
			closeBlock()
			b = block{offset: r.offset, line: r.line, place: sc.place.clone(), min: math.MaxInt64, max: math.MinInt64}
		}
		b.rows++
		sc.row(r)
	}
	sc.flush(nil)
	closeBlock()
	if f.src.openEnd && len(last.fields) < fewest && fewest < math.MaxInt {
		sc.complain(last.line, &problem.Problem{Found: "a last line that ends early, " + quote(last.raw), Expected: fmt.Sprintf("%d cells at least, as in the others", fewest),
			Mend: "export it again, or delete the line: the file was not copied whole"})
	}
}

// rows reads n rows from a place.
func (sc *scanner) rows(offset int64, line, n int) {
	for r := range func(yield func(row) bool) { sc.file.shape.table.rowsFrom(offset, line, yield) } {
		if n--; n < 0 {
			break
		}
		sc.row(r)
	}
	sc.flush(nil)
}

func (sc *scanner) complain(line int, p *problem.Problem) {
	if sc.c != nil {
		p.Line = line
		sc.c.row(*p)
	}
}

func (sc *scanner) row(r row) {
	s, report := sc.file.shape, &sc.file.report
	if r.open || strings.IndexByte(r.raw, '"') >= 0 {
		if p := s.strayQuote(r); p != nil {
			sc.complain(r.line, p)
			return
		}
	}
	cell, column := s.cell(r.fields)
	when := s.time.cell(r.fields)
	if s.names != nil && when == s.time.cell(s.names) {
		return // the header once more, as where exports were put one below the other
	}
	if cell == "" {
		cell, column = s.bounded(r.fields)
	}
	if cell == "" || when == "" {
		if sc.c != nil {
			report.Skipped++
			if cell != "" {
				sc.timeless++
			}
		}
		return
	}
	if s.event >= 0 && len(s.events) > 0 && !slices.Contains(s.events, at(r.fields, s.event)) {
		if sc.c != nil {
			report.OtherEvents++
		}
		return
	}
	e := entry{line: r.line}
	wall, p := s.entry(&e, r, cell, column, when)
	if p != nil {
		sc.complain(r.line, p)
		return
	}
	if sc.c != nil {
		sc.file.hours |= 1 << wall.Hour()
	}
	sensor := sc.file.told.mapping.Sensor
	if s.sensor >= 0 {
		sensor = at(r.fields, s.sensor)
	}
	if s.zones >= 0 && s.layout.kind == wallClock {
		var ok bool
		if wall, ok = sc.inZone(wall, at(r.fields, s.zones)); !ok {
			sc.complain(r.line, &problem.Problem{Field: s.field(s.zones), Found: quote(at(r.fields, s.zones)), Expected: "a zone such as Europe/Vienna, or an offset such as +01:00",
				Mend: "name another column with readings.zone_column in " + studyFile})
			return
		}
		e.at = wall.UnixMicro()
		sc.accept(e, sc.lane(sensor))
		return
	}
	sc.put(e, wall, sensor)
}

func (sc *scanner) inZone(wall time.Time, name string) (time.Time, bool) {
	if name != sc.lastZone || sc.zone == nil {
		zone, ok := zoneNamed(name)
		if !ok {
			return wall, false
		}
		sc.lastZone, sc.zone = strings.Clone(name), zone
	}
	if found, n := instants(wall, sc.zone); n > 0 {
		return found[0], true
	}
	return asClock(wall, sc.zone), true
}

// entry reads the cells of a row. The time comes back as the layout tells it: a
// wall-clock time as if it were UTC.
func (s *shape) entry(e *entry, row row, cell string, column int, when string) (wall time.Time, p *problem.Problem) {
	if p := s.surplus(row, cell, column); p != nil {
		return wall, p
	}
	wall, ok := s.layout.parse(when)
	if !ok {
		return wall, &problem.Problem{Field: s.timeField(), Found: quote(when), Expected: "a time as " + s.layout.pattern,
			Mend: "empty the cell if the row is no reading; tell another layout with readings.time_layout in " + studyFile}
	}
	found := cell
	cell, unit := withoutUnit(cell)
	if unit != "" && unit != s.unit {
		return wall, &problem.Problem{Field: s.field(column), Found: quote(found), Expected: "a value in " + string(s.unit), Mend: "put the readings in another unit into a file of their own"}
	}
	if e.glucose, ok = number(cell, s.decimal); !ok {
		if e.limit, e.glucose = bound(cell); e.limit == NotLimited {
			return wall, &problem.Problem{Field: s.field(column), Found: quote(found), Expected: s.numberWords() + ", LOW or HIGH",
				Mend: "empty the cell if the row is no reading; name another column with readings.glucose_column in " + studyFile}
		}
		return wall, nil
	}
	// Ten times what is survivable: only a slip of the decimal mark goes beyond.
	const highest = 1000 // mg/dL
	if e.glucose <= 0 || Convert(e.glucose, s.unit, MgdL) > highest {
		return wall, &problem.Problem{Field: s.field(column), Found: quote(cell),
			Expected: fmt.Sprintf("a value above 0 and at most %s %s", short(Convert(highest, MgdL, s.unit)), s.unit),
			Mend:     "empty the cell if the row is no reading"}
	}
	return wall, nil
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
func (s *shape) surplus(row row, cell string, column int) *problem.Problem {
	if len(row.fields) <= s.width {
		return nil
	}
	next := at(row.fields, column+1)
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
	stray, newline := r.open, s.table.src.newline
	if !stray && strings.IndexByte(r.raw, newline) >= 0 {
		for _, line := range strings.Split(r.raw, string(newline))[1:] {
			fields := s.table.splitPlain(line, nil)
			_, timed := s.layout.parse(strings.Trim(s.time.cell(fields), `"`))
			stray = stray || timed
		}
	}
	if !stray {
		return nil
	}
	return &problem.Problem{Found: "a double quote that is not closed in its row", Expected: `pairs of double quotes (")`,
		Mend: "delete or double it"}
}
