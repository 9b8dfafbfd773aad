package busy

import (
	"cmp"
	"fmt"
	"slices"
)

// maxWork bounds the steps of all rules of a file together: seconds at most.
const maxWork = 10_000_000

// A rawSpan is a Span in Unix seconds.
type rawSpan struct {
	from, to int64
	summary  string
}

// A plan collects the busy spans of a file's events.
type plan struct {
	window window
	zone   clock // the owner's
	work   *int
	faults *faults
	notes  *notes
	spans  []rawSpan
	taken  int // occurrences in the window so far
}

// addAll groups events by UID, since the changed occurrences of a series are
// events of their own with its UID and a RECURRENCE-ID (RFC 5545 section
// 3.8.4.4). Of several versions the one with the highest SEQUENCE counts; among
// equals all do, so that the order of events is irrelevant.
func (p *plan) addAll(events []*event) {
	events = slices.Clone(events)
	slices.SortStableFunc(events, func(a, b *event) int { return cmp.Compare(a.uid, b.uid) })
	for len(events) > 0 {
		n := 1
		for n < len(events) && events[0].uid != "" && events[n].uid == events[0].uid {
			n++
		}
		p.addGroup(events[:n])
		events = events[n:]
	}
}

// addGroup adds a series and its changed occurrences.
func (p *plan) addGroup(events []*event) {
	var series, changed []*event
	for _, e := range events {
		if e.replaces == nil {
			series = append(series, e)
		} else {
			changed = append(changed, e)
		}
	}
	var replaced []dated
	changed = p.newest(changed, func(a, b *event) int {
		return cmp.Or(compare(a.replaces.at, b.replaces.at), cmp.Compare(kindName(*a.replaces), kindName(*b.replaces)))
	})
	for _, e := range changed {
		replaced = append(replaced, *e.replaces)
		e.rules, e.extra = nil, nil // one occurrence is one
		p.add(e, marks{})
	}
	onDates, timed := newMarks(true, p.zone, replaced), newMarks(false, p.zone, replaced)
	for _, e := range p.newest(series, func(a, b *event) int { return 0 }) {
		if e.start.date {
			p.add(e, onDates)
		} else {
			p.add(e, timed)
		}
	}
}

// newest keeps, among events that are the same, those of the highest SEQUENCE.
func (p *plan) newest(events []*event, same func(a, b *event) int) []*event {
	slices.SortStableFunc(events, func(a, b *event) int {
		return cmp.Or(same(a, b), -cmp.Compare(a.sequence, b.sequence))
	})
	kept := events[:0]
	for _, e := range events {
		if n := len(kept); n > 0 && same(kept[n-1], e) == 0 && kept[n-1].sequence > e.sequence {
			p.notes.older++
			continue
		}
		kept = append(kept, e)
	}
	return kept
}

// add adds the occurrences of one event, without those replaced by others.
func (p *plan) add(e *event, replaced marks) {
	if p.faults.any() { // a bound is exceeded: once said is enough
		return
	}
	p.notes.exrules += e.exrules
	if e.oneDay {
		p.notes.oneDay++
	}
	switch periods := slices.ContainsFunc(e.extra, func(x extra) bool { return x.length != nil }); {
	case e.cancelled:
		p.notes.cancelled++
	case e.free:
		p.notes.free++
	case e.length.zero() && !periods:
		p.notes.instants++
	default:
		p.occurrences(e, newMarks(e.start.date, p.zone, e.except), replaced)
	}
}

// An occurrence is one start of an event.
type occurrence struct{ wall, at, end int64 }

// occurrences works out the recurrence set of an event within the window (RFC
// 5545 section 3.8.5).
func (p *plan) occurrences(e *event, except, replaced marks) {
	var found []occurrence
	take := func(o occurrence) bool {
		if o.end <= o.at || !p.window.overlaps(o.at, o.end) {
			return true
		}
		if p.taken++; p.taken > MaxOccurrences {
			p.faults.add(e.line, "", mistake{
				found:    fmt.Sprintf("more than %d occurrences in the time asked for", MaxOccurrences),
				expected: "fewer",
				mend:     "ask for a shorter time, or take out the event that repeats most often",
			})
			return false
		}
		found = append(found, o)
		return true
	}
	ends := func(d dated, l length) occurrence {
		// RDATE may be on another clock than DTSTART, whose dates EXDATE means.
		wall := d.wall
		if !d.date {
			wall = wallOf(e.start.clock, d.at)
		}
		return occurrence{wall: wall, at: d.at, end: l.after(e.start.clock, d.at, wall)}
	}
	more := take(ends(e.start, e.length))
	for _, x := range e.extra {
		l := e.length
		if x.length != nil {
			l = *x.length
		}
		more = more && take(ends(x.dated, l))
	}
	for _, r := range e.rules {
		more = more && p.follow(e, r, take)
	}
	if !more {
		return
	}
	// The same start more than once is one occurrence; the longest counts.
	slices.SortFunc(found, func(a, b occurrence) int { return cmp.Or(compare(a.at, b.at), compare(b.end, a.end)) })
	found = slices.CompactFunc(found, func(a, b occurrence) bool { return a.at == b.at })
	for _, o := range found {
		if !except.has(o) && !replaced.has(o) {
			p.spans = append(p.spans, rawSpan{from: o.at, to: o.end, summary: e.summary})
		}
	}
}

// follow takes the occurrences of a rule after the first, which is DTSTART.
// It returns false when a bound is exceeded.
func (p *plan) follow(e *event, r rule, take func(occurrence) bool) bool {
	// Wall clocks are at most a day from UTC.
	first, last := p.window.lo-e.length.longest()-day, p.window.hi+day
	if r.count > 0 {
		first = e.start.wall // every occurrence has to be counted
	}
	left, more := r.count-1, true
	ok := newWalker(r, e.start.wall).walk(first, last, p.work, func(wall int64) bool {
		at, exists := moment(e.start.clock, wall)
		if r.past(wall, at, e.start.date) || r.count > 0 && left == 0 {
			return false
		}
		o := occurrence{wall: wall, at: at, end: e.length.after(e.start.clock, at, wall)}
		if !exists && !e.start.date {
			if p.window.overlaps(o.at, o.end) {
				p.notes.skippedTimes++
			}
			return true
		}
		left--
		more = take(o)
		return more
	})
	if !ok {
		p.faults.add(r.line, "RRULE", mistake{
			found:    "a rule that takes too many steps to follow",
			expected: "a start nearer to the time asked for, or a longer FREQ",
			mend:     "begin the event later, or write UNTIL instead of COUNT",
		})
	}
	return ok && more
}
