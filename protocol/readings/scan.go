package readings

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"mealtrial/protocol/problem"
)

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
	kinds    []string // of events that are not the sensor's, the first few
	lastZone string
	zone     *time.Location
}

// mostNamedKinds of events are told where none is the sensor's.
const mostNamedKinds = 8

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
	if s.names != nil && plainText(when) == s.time.cell(s.names) {
		return // the header once more, as where exports were put one below the other
	}
	if cell == "" {
		cell, column = s.bounded(r.fields)
	}
	switch {
	case cell == "" || when == "":
		if sc.c != nil {
			report.Skipped++
			if cell != "" {
				sc.timeless++
			}
		}
	case s.event >= 0 && !slices.Contains(s.events, plainText(at(r.fields, s.event))):
		if sc.c != nil {
			report.OtherEvents++
			if kind := plainText(at(r.fields, s.event)); len(sc.kinds) < mostNamedKinds && !slices.Contains(sc.kinds, kind) {
				sc.kinds = append(sc.kinds, strings.Clone(kind))
			}
		}
	default:
		if p := sc.reading(r, cell, column, when); p != nil {
			sc.complain(r.line, p)
		}
	}
}

// reading reads a row with a value and a time, and gives it its place.
func (sc *scanner) reading(r row, cell string, column int, when string) *problem.Problem {
	s := sc.file.shape
	e := entry{line: r.line}
	wall, p := s.entry(&e, r, cell, column, when)
	if p != nil {
		return p
	}
	if sc.c != nil {
		sc.file.hours |= 1 << wall.Hour()
	}
	sensor := sc.file.told.mapping.Sensor
	if s.sensor >= 0 {
		sensor = plainText(at(r.fields, s.sensor))
	}
	lane := sc.lane(sensor)
	if lane < 0 {
		return &problem.Problem{Field: s.field(max(s.sensor, 0)), Found: fmt.Sprintf("another sensor, %s, after %d others", quote(sensor), mostLanes),
			Expected: "a few sensors", Mend: "name another column with readings.sensor_column in " + studyFile}
	}
	if s.zones < 0 || s.layout.kind != wallClock {
		sc.put(e, wall, lane)
		return nil
	}
	zone := at(r.fields, s.zones)
	wall, ok := sc.inZone(wall, zone)
	if !ok {
		return &problem.Problem{Field: s.field(s.zones), Found: quote(zone), Expected: "a zone such as Europe/Vienna, or an offset such as +01:00",
			Mend: "name another column with readings.zone_column in " + studyFile}
	}
	e.at = wall.UnixMicro()
	sc.accept(e, lane)
	return nil
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
