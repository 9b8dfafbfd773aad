package busy

import (
	"fmt"
	"strconv"
	"strings"
)

// An event is a VEVENT with its values read (RFC 5545 section 3.6.1).
type event struct {
	line      int // of DTSTART
	uid       string
	sequence  int
	summary   string
	start     dated
	length    length
	rules     []rule
	extra     []extra // RDATE
	except    []dated // EXDATE
	replaces  *dated  // RECURRENCE-ID
	cancelled bool
	free      bool
	oneDay    bool // length assumed, see dateLength
	exrules   int
}

// An extra is a value of RDATE; of a period, with its length.
type extra struct {
	dated
	length *length
}

// readEvent reads a VEVENT; nil, with problems recorded, when it is broken.
func readEvent(c component, zones *zones, faults *faults) *event {
	v := &values{component: c, faults: faults, zones: zones, own: zones.own}
	e := &event{
		uid: strings.TrimSpace(v.text("UID")), summary: unescape(v.text("SUMMARY")),
		cancelled: v.word("STATUS") == "CANCELLED", free: v.word("TRANSP") == "TRANSPARENT",
	}
	if n, err := strconv.Atoi(v.word("SEQUENCE")); err == nil {
		e.sequence = n
	}
	p, found := v.once("DTSTART")
	if !found {
		v.missing("DTSTART")
		return nil
	}
	var ok bool
	if e.start, ok = v.dated(p); !ok {
		return nil
	}
	e.line = p.line
	e.readLength(v)
	e.readRecurrence(v)
	if v.broken {
		return nil
	}
	return e
}

// readLength reads DTEND or DURATION.
func (e *event) readLength(v *values) {
	end, hasEnd := v.once("DTEND")
	duration, hasDuration := v.once("DURATION")
	switch {
	case hasEnd && hasDuration:
		v.reject(duration, mistake{found: "DURATION beside DTEND", expected: "one of them", mend: "take one of them out"})
	case hasEnd:
		d, ok := v.dated(end)
		if !ok {
			return
		}
		if d.date != e.start.date {
			v.reject(end, mistake{found: quote(end.value), expected: "a date if DTSTART is a date, and a time if it is a time", mend: "write both in the same form"})
			return
		}
		if d.at < e.start.at {
			v.reject(end, mistake{found: "an end before the start", expected: "DTEND after DTSTART", mend: "swap or mend them"})
			return
		}
		if d.date {
			e.length.days = (d.wall - e.start.wall) / day
		} else {
			e.length.seconds = d.at - e.start.at // exact, section 3.8.5.3
		}
	case hasDuration:
		l, m := parseLength(duration.value)
		if m == nil && e.start.date && l.seconds%day != 0 {
			m = &mistake{found: quote(duration.value), expected: "whole days, since DTSTART is a date", mend: "write for example P1D"}
		}
		if m != nil {
			v.reject(duration, *m)
			return
		}
		if e.start.date {
			l = length{days: l.days + l.seconds/day}
		}
		e.length = l
	}
	if e.start.date && e.length.zero() {
		// One day by section 3.6.1 when nothing is said of the end; writers who
		// say DTEND is the same day mean that day.
		e.length.days = 1
		e.oneDay = hasEnd || hasDuration
	}
}

// readRecurrence reads the properties that make or change occurrences.
func (e *event) readRecurrence(v *values) {
	if p, found := v.once("RECURRENCE-ID"); found {
		if scope, ok := p.param("RANGE"); ok {
			v.reject(p, mistake{found: "RANGE=" + printable(scope), expected: "a change of one occurrence", mend: "split the series in two, or change each occurrence"})
			return
		}
		if d, ok := v.dated(p); ok {
			e.replaces = &d
		}
	}
	for _, p := range v.props {
		switch p.name {
		case "RRULE":
			r, ok := v.rule(p)
			if ok && e.start.date && len(r.hours)+len(r.minutes)+len(r.seconds) > 0 || ok && e.start.date && r.frequency > daily {
				v.reject(p, mistake{found: quote(p.value), expected: "a rule by the day or longer, since DTSTART is a date", mend: "take the hours, minutes and seconds out"})
			} else if ok {
				e.rules = append(e.rules, r)
			}
		case "RDATE":
			v.list(p, func(d dated, l *length) {
				if d.date != e.start.date {
					v.reject(p, mistake{found: fmt.Sprintf("%s for an event that starts at %s", kindName(d), kindName(e.start)), expected: "the form of DTSTART", mend: "write RDATE in the form of DTSTART"})
				}
				e.extra = append(e.extra, extra{d, l})
			})
		case "EXDATE":
			v.list(p, func(d dated, _ *length) { e.except = append(e.except, d) })
		case "EXRULE":
			e.exrules++
		}
	}
}

func kindName(d dated) string {
	if d.date {
		return "a date"
	}
	return "a time"
}
