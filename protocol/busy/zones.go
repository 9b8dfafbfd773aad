package busy

import (
	"slices"
	"strings"
	"time"
)

// zones finds the clock that a TZID means.
type zones struct {
	own     clock // for dates and floating times
	texts   map[string]*zoneText
	horizon int64 // moment up to which clocks of VTIMEZONE are worked out
	work    *int
	faults  *faults
	found   map[string]clock // nil: known to be no zone
}

func newZones(own *time.Location, texts map[string]*zoneText, w window, work *int, faults *faults) *zones {
	return &zones{
		own: clockOf(own), texts: texts, work: work, faults: faults,
		horizon: w.hi + 400*day, // beyond any event that reaches out of the window, as a rule
		found:   map[string]clock{},
	}
}

// clock returns the clock of a property: that of its TZID, or the owner's. An
// IANA name means its zone, whatever a VTIMEZONE of that name says, since the
// database is the better kept of the two; any other name means the VTIMEZONE.
func (z *zones) clock(p property) (clock, bool) {
	tzid, ok := p.param("TZID")
	if !ok {
		return z.own, true
	}
	c, known := z.found[tzid]
	if !known {
		c = z.find(tzid)
		z.found[tzid] = c
	}
	if c == nil {
		if z.texts[tzid] == nil {
			z.faults.add(p.line, p.name, mistake{
				found:    "the zone " + quote(tzid),
				expected: "a name such as Europe/Vienna, or a VTIMEZONE of that name in the file",
				mend:     "write TZID=Area/City, or export the calendar with its time zones",
			})
		}
		return nil, false // a broken VTIMEZONE has its own problem
	}
	return c, true
}

func (z *zones) find(tzid string) clock {
	// LoadLocation takes these two for UTC and this machine's zone.
	if tzid != "" && tzid != "Local" && !strings.HasPrefix(tzid, "/") {
		if zone, err := time.LoadLocation(tzid); err == nil {
			return clockOf(zone)
		}
	}
	text := z.texts[tzid]
	if text == nil {
		return nil
	}
	if t := z.table(text); t != nil {
		return t
	}
	return nil
}

// A change is a moment at which a clock's offset changes.
type change struct{ at, before, after int64 }

// A table is a clock worked out from a VTIMEZONE.
type table []change

func (t table) offset(at int64) int64 {
	i, found := slices.BinarySearchFunc(t, at, func(c change, at int64) int { return compare(c.at, at) })
	if found {
		i++
	}
	if i == 0 {
		return t[0].before
	}
	return t[i-1].after
}

// maxChanges bounds the changes of one VTIMEZONE: two a year for the years that
// iCalendar can write are 20,000.
const maxChanges = 25_000

// table evaluates the STANDARD and DAYLIGHT parts of a VTIMEZONE with their
// rules (RFC 5545 section 3.6.5); nil when one of them is broken.
func (z *zones) table(text *zoneText) table {
	var t table
	for _, c := range text.observances {
		o, ok := z.readObservance(c)
		if !ok {
			return nil
		}
		if t, ok = z.changes(t, o); !ok {
			z.faults.add(c.line, c.name, mistake{
				found:    "too many clock changes",
				expected: "a few in a year",
				mend:     "mend the RRULE of this VTIMEZONE",
			})
			return nil
		}
	}
	if len(t) == 0 {
		z.faults.add(text.line, "VTIMEZONE", mistake{
			found:    "no STANDARD or DAYLIGHT part",
			expected: "at least one",
			mend:     "export the calendar again with its time zones",
		})
		return nil
	}
	slices.SortFunc(t, func(a, b change) int {
		if a.at != b.at {
			return compare(a.at, b.at)
		}
		if a.before != b.before {
			return compare(a.before, b.before)
		}
		return compare(a.after, b.after)
	})
	return slices.CompactFunc(t, func(a, b change) bool { return a.at == b.at })
}

// changes appends the onsets of an observance up to the horizon.
func (z *zones) changes(t table, o observance) (table, bool) {
	add := func(wall int64) bool {
		at := wall - o.before
		if at >= z.horizon && len(t) > 0 {
			return false
		}
		t = append(t, change{at: at, before: o.before, after: o.after})
		return len(t) <= maxChanges
	}
	add(o.start)
	for _, wall := range o.dates {
		add(wall)
	}
	for _, r := range o.rules {
		left := r.count - 1
		ok := newWalker(r, o.start).walk(o.start, z.horizon+day, z.work, func(wall int64) bool {
			if r.past(wall, wall-o.before, false) || r.count > 0 && left == 0 {
				return false
			}
			left--
			return add(wall)
		})
		if !ok {
			return t, false
		}
	}
	return t, len(t) <= maxChanges
}
