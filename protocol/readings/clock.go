package readings

import "time"

// instants gives the moments at which clocks in a zone show a time, earliest
// first: two in the hour that autumn repeats, none in the hour that spring
// skips. The wall-clock time is given as if it were UTC.
func instants(wall time.Time, zone *time.Location) (found [2]time.Time, n int) {
	// Offsets lie within a day of UTC, so these two probes are on either side of a
	// change that could concern this time; changes are weeks apart.
	const probe = 26 * time.Hour
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
