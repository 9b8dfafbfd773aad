package readings

import (
	"strconv"
	"strings"
	"sync"
	"time"
)

// instants gives the moments at which clocks in a zone show a time, earliest
// first: two in the hour that autumn repeats, none in the hour that spring
// skips. The wall-clock time is given as if it were UTC.
func instants(wall time.Time, zone *time.Location) (found [2]time.Time, n int) {
	// Offsets lie within a day of UTC, so these two probes are on either side of a
	// change that could concern this time; changes are weeks apart.
	before, after := offset(wall.Add(-probe), zone), offset(wall.Add(probe), zone)
	if before == after {
		found[0] = wall.Add(-before).In(zone)
		return found, 1
	}
	// A larger offset is an earlier moment.
	for _, o := range []time.Duration{max(before, after), min(before, after)} {
		if t := wall.Add(-o); offset(t, zone) == o {
			found[n] = t.In(zone)
			n++
		}
	}
	return found, n
}

const probe = 26 * time.Hour

func offset(t time.Time, zone *time.Location) time.Duration {
	_, seconds := t.In(zone).Zone()
	return time.Duration(seconds) * time.Second
}

// asClock reads a wall-clock time the way time.Date does, which for an hour that
// spring skips gives a time that is off by the size of the change.
func asClock(wall time.Time, zone *time.Location) time.Time {
	y, m, d := wall.Date()
	return time.Date(y, m, d, wall.Hour(), wall.Minute(), wall.Second(), wall.Nanosecond(), zone)
}

// A steadyClock knows for how long the offset of a zone stays as it is, which
// saves looking it up for every row.
type steadyClock struct {
	zone     *time.Location
	from, to time.Time // wall-clock times, as if UTC, that have this one offset
	offset   time.Duration
}

// instant is false where the clock changes nearby.
func (c *steadyClock) instant(wall time.Time) (time.Time, bool) {
	if wall.Before(c.from) || !wall.Before(c.to) {
		o := offset(wall, c.zone)
		start, end := wall.Add(-o).In(c.zone).ZoneBounds()
		c.offset = offset(wall.Add(-o), c.zone)
		const year = 366 * 24 * time.Hour
		c.from, c.to = wall.Add(-year), wall.Add(year)
		if s := start.UTC().Add(2 * probe); !start.IsZero() && s.After(c.from) {
			c.from = s
		}
		if e := end.UTC().Add(-2 * probe); !end.IsZero() && e.Before(c.to) {
			c.to = e
		}
		if wall.Before(c.from) || !wall.Before(c.to) {
			c.from, c.to = time.Time{}, time.Time{}
			return time.Time{}, false
		}
	}
	return wall.Add(-c.offset), true
}

var zonesSeen sync.Map // of name to *time.Location

// zoneNamed reads a name of the IANA time zone database or an offset from UTC,
// such as +01:00, -0500 or UTC+1.
func zoneNamed(name string) (*time.Location, bool) {
	if z, seen := zonesSeen.Load(name); seen {
		return z.(*time.Location), true
	}
	var zone *time.Location
	if len(name) > 40 {
		return nil, false
	}
	if minutes, ok := offsetNamed(name); ok {
		zone = time.FixedZone(name, 60*minutes)
	} else if strings.IndexByte(name, '/') > 0 {
		if z, err := time.LoadLocation(name); err == nil {
			zone = z
		}
	}
	if zone != nil {
		zonesSeen.Store(name, zone)
	}
	return zone, zone != nil
}

// offsetNamed gives minutes ahead of UTC.
func offsetNamed(name string) (minutes int, ok bool) {
	text := strings.ToUpper(name)
	for _, prefix := range []string{"UTC", "GMT"} {
		if rest, cut := strings.CutPrefix(text, prefix); cut {
			if text = strings.TrimSpace(rest); text == "" {
				return 0, true
			}
		}
	}
	if text == "Z" {
		return 0, true
	}
	if text = strings.Replace(text, "\u2212", "-", 1); len(text) < 2 || text[0] != '+' && text[0] != '-' {
		return 0, false
	}
	hours, mins, colon := strings.Cut(text[1:], ":")
	if !colon && len(hours) == 4 {
		hours, mins = hours[:2], hours[2:]
	}
	h, err := strconv.Atoi(hours)
	m := 0
	if err == nil && mins != "" {
		m, err = strconv.Atoi(mins)
	}
	if err != nil || h < 0 || h > 14 || m < 0 || m > 59 || len(hours) > 2 || colon && len(mins) != 2 {
		return 0, false
	}
	minutes = 60*h + m
	if text[0] == '-' {
		minutes = -minutes
	}
	return minutes, true
}
