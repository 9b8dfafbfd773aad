package busy

import "strings"

// An observance is a STANDARD or DAYLIGHT part of a VTIMEZONE: from its onsets
// on, clocks are after seconds ahead of UTC, where they were before seconds
// ahead. Onsets are wall times before the change.
type observance struct {
	start         int64
	before, after int64
	rules         []rule
	dates         []int64 // RDATE
}

// readObservance reads one; ok is false, with a problem, when it is broken.
func (z *zones) readObservance(c component) (o observance, ok bool) {
	v := &values{component: c, faults: z.faults, own: fixed(0)}
	if p, found := v.once("DTSTART"); found {
		if s, ok := v.stamp(p); ok {
			o.start = s.wall
		}
	} else {
		v.missing("DTSTART")
	}
	o.before = v.offset("TZOFFSETFROM")
	o.after = v.offset("TZOFFSETTO")
	for _, p := range c.props {
		switch p.name {
		case "RRULE":
			if r, ok := v.rule(p); ok {
				o.rules = append(o.rules, r)
			}
		case "RDATE":
			for item := range strings.SplitSeq(p.value, ",") {
				if s, m := parseStamp(item); m != nil {
					v.reject(p, *m)
				} else {
					o.dates = append(o.dates, s.wall)
				}
			}
		}
	}
	return o, !v.broken
}

// offset reads a property that holds a UTC-OFFSET and may not be absent.
func (v *values) offset(name string) int64 {
	p, found := v.once(name)
	if !found {
		v.missing(name)
		return 0
	}
	seconds, m := parseOffset(p.value)
	if m != nil {
		v.reject(p, *m)
	}
	return seconds
}
