package busy

import "strings"

// values reads the values of one component's properties and records what is
// wrong with them.
type values struct {
	component
	faults *faults
	zones  *zones // nil inside a VTIMEZONE, which has local times only
	own    clock
	broken bool
}

// A dated is a value of DTSTART and its like: a stamp and the clock it is on.
type dated struct {
	stamp
	clock clock
	at    int64 // the moment; of a date, its start in the owner's zone
}

func (v *values) reject(p property, m mistake) {
	v.broken = true
	v.faults.add(p.line, p.name, m)
}

func (v *values) missing(name string) {
	v.broken = true
	if v.faults.lines {
		return
	}
	v.faults.add(v.line, v.name, mistake{
		found:    "no " + name,
		expected: "one in every " + v.name,
		mend:     "add " + name + ", or take out everything from BEGIN:" + v.name + " to END:" + v.name,
	})
}

// once returns a property that may stand only once.
func (v *values) once(name string) (p property, found bool) {
	for _, q := range v.props {
		switch {
		case q.name != name:
		case found:
			v.reject(q, mistake{found: "a second " + name, expected: "one", mend: "take one of them out"})
		default:
			p, found = q, true
		}
	}
	return p, found
}

// word returns the value of a property in capitals, "" when it is absent. Of
// several the last counts.
func (v *values) word(name string) string { return strings.ToUpper(strings.TrimSpace(v.text(name))) }

func (v *values) text(name string) (text string) {
	for _, p := range v.props {
		if p.name == name {
			text = p.value
		}
	}
	return text
}

// stamp reads a property that holds one DATE or DATE-TIME.
func (v *values) stamp(p property) (stamp, bool) {
	s, m := parseStamp(p.value)
	if m == nil {
		m = v.kind(p, s)
	}
	if m != nil {
		v.reject(p, *m)
		return stamp{}, false
	}
	return s, true
}

// kind compares the form of a value with its VALUE parameter. Without one, the
// form alone tells: writers often leave VALUE=DATE out.
func (v *values) kind(p property, s stamp) *mistake {
	declared, ok := p.param("VALUE")
	if !ok {
		return nil
	}
	switch declared = strings.ToUpper(declared); {
	case declared == "DATE" && !s.date:
		return &mistake{found: quote(p.value), expected: "a date such as 20270111 after VALUE=DATE", mend: "take the time or VALUE=DATE out"}
	case declared == "DATE-TIME" && s.date:
		return &mistake{found: quote(p.value), expected: "a time such as 20270111T123000Z after VALUE=DATE-TIME", mend: "add the time or write VALUE=DATE"}
	case declared != "DATE" && declared != "DATE-TIME" && declared != "PERIOD":
		return &mistake{found: "VALUE=" + printable(declared), expected: "DATE or DATE-TIME", mend: "take VALUE out"}
	}
	return nil
}

// dated reads a property that holds one DATE or DATE-TIME, and its zone.
func (v *values) dated(p property) (dated, bool) {
	s, ok := v.stamp(p)
	if !ok {
		return dated{}, false
	}
	return v.place(p, s)
}

// place gives a stamp its clock. A date is on the owner's, and one in UTC
// doesn't take a TZID (RFC 5545 section 3.2.19).
func (v *values) place(p property, s stamp) (dated, bool) {
	d := dated{stamp: s, clock: v.own}
	switch {
	case s.utc:
		d.clock = fixed(0)
	case !s.date:
		c, ok := v.zones.clock(p)
		if !ok {
			v.broken = true
			return dated{}, false
		}
		d.clock = c
	}
	d.at, _ = moment(d.clock, s.wall)
	return d, true
}

// list reads a property that holds several, separated by commas. Periods, which
// only RDATE may hold, come with their length.
func (v *values) list(p property, visit func(d dated, l *length)) {
	for item := range strings.SplitSeq(p.value, ",") {
		start, end, isPeriod := strings.Cut(item, "/")
		if isPeriod && p.name != "RDATE" {
			v.reject(p, mistake{found: quote(item), expected: stampExpected, mend: "take / and what follows out"})
			return
		}
		s, m := parseStamp(start)
		if m == nil {
			m = v.kind(p, s)
		}
		if m != nil {
			v.reject(p, *m)
			return
		}
		d, ok := v.place(p, s)
		if !ok {
			return
		}
		if !isPeriod {
			visit(d, nil)
			continue
		}
		l, m := v.periodLength(p, d, end)
		if m != nil {
			v.reject(p, *m)
			return
		}
		visit(d, &l)
	}
}

// periodLength reads the part of a PERIOD after its slash (RFC 5545 section
// 3.3.9), an end or a length.
func (v *values) periodLength(p property, start dated, text string) (length, *mistake) {
	if strings.ContainsAny(text, "Pp") {
		return parseLength(text)
	}
	s, m := parseStamp(text)
	if m != nil {
		return length{}, m
	}
	end, ok := v.place(p, s)
	if !ok || s.date || start.date || end.at < start.at {
		return length{}, &mistake{found: quote(p.value), expected: "a time, a slash and a later time", mend: "mend the end of the period"}
	}
	return length{seconds: end.at - start.at}, nil
}

func (v *values) rule(p property) (rule, bool) {
	r, m := parseRule(p.value)
	if m != nil {
		v.reject(p, *m)
		return rule{}, false
	}
	r.line = p.line
	return r, true
}
