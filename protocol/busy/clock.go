package busy

import (
	"math"
	"slices"
	"time"
)

// Wall-clock times are held as the seconds from 1970-01-01T00:00:00 on the same
// clock, without a zone; they are called wall in this package. Moments are
// Unix seconds and are called at.

const (
	minute = 60
	hour   = 60 * minute
	day    = 24 * hour
)

// A clock is a zone: the seconds that its wall clocks are ahead of UTC.
type clock interface{ offset(at int64) int64 }

// fixed is a clock that never changes; fixed(0) is UTC.
type fixed int64

func (f fixed) offset(int64) int64 { return int64(f) }

// location is the clock of a zone of the IANA database. It keeps the stretches
// without changes that it was asked for, in order, since the database is slow to
// ask; so it serves one Read only.
type location struct {
	zone  *time.Location
	known []stretch
}

// A stretch is a time [from, to) without a change.
type stretch struct{ from, to, seconds int64 }

func (l *location) offset(at int64) int64 {
	i, found := slices.BinarySearchFunc(l.known, at, func(s stretch, at int64) int {
		switch {
		case at < s.from:
			return 1
		case at >= s.to:
			return -1
		}
		return 0
	})
	if !found {
		l.known = slices.Insert(l.known, i, l.stretch(at))
	}
	return l.known[i].seconds
}

// stretch asks the database.
func (l *location) stretch(at int64) stretch {
	t := time.Unix(at, 0).In(l.zone)
	_, seconds := t.Zone()
	start, end := t.ZoneBounds()
	s := stretch{from: math.MinInt64, to: math.MaxInt64, seconds: int64(seconds)}
	if !start.IsZero() {
		s.from = start.Unix()
	}
	if !end.IsZero() {
		s.to = end.Unix()
	}
	return s
}

func clockOf(zone *time.Location) clock {
	if zone == time.UTC {
		return fixed(0)
	}
	return &location{zone: zone}
}

// moment returns when a clock shows wall. A time that occurs twice means the
// first; a time that the clocks skip is read with the offset before the change
// (RFC 5545 section 3.3.5), and exists is false.
func moment(c clock, wall int64) (at int64, exists bool) {
	// Offsets are less than a day, so these are the offsets on either side of
	// any change near.
	before, after := c.offset(wall-day), c.offset(wall+day)
	if before == after {
		at := wall - before
		if c.offset(at) == before {
			return at, true
		}
	}
	early, late := wall-max(before, after), wall-min(before, after)
	for _, at := range [...]int64{early, late} {
		if at+c.offset(at) == wall {
			return at, true
		}
	}
	return wall - before, false
}

// wallOf returns what a clock shows at a moment.
func wallOf(c clock, at int64) int64 { return at + c.offset(at) }

// midnight returns the last midnight at or before wall.
func midnight(wall int64) int64 { return wall - modulo(wall, day) }

func modulo(a, n int64) int64 {
	if m := a % n; m >= 0 {
		return m
	}
	return a%n + n
}

// civil returns the date of a wall-clock time and its day of the year, from 1.
func civil(wall int64) (year int, month time.Month, dayOfMonth, dayOfYear int) {
	t := time.Unix(wall, 0).UTC()
	year, month, dayOfMonth = t.Date()
	return year, month, dayOfMonth, t.YearDay()
}

// weekday returns the day of the week of a wall-clock time.
func weekday(wall int64) time.Weekday {
	const firstDay = time.Thursday // 1970-01-01
	return time.Weekday(modulo((wall-modulo(wall, day))/day+int64(firstDay), 7))
}

// monthStart returns the first midnight of a month; months beyond 12 or below 1
// run on into other years.
func monthStart(year int, month time.Month) int64 {
	return time.Date(year, month, 1, 0, 0, 0, 0, time.UTC).Unix()
}
