package busy

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// Bounds of what Read takes on.
const (
	MaxBytes       = 64 << 20 // bytes in a file
	MaxOccurrences = 100_000  // occurrences of all events in the window
)

// A Span is a time in which the calendar's owner is busy, half-open: [From, To).
type Span struct {
	From, To time.Time // in the zone given to Read
	Summary  string    // SUMMARY on one line without control characters, may be empty
}

// A Calendar is what a file says of its owner's time.
type Calendar struct {
	Spans []Span   // ascending by From, then To, then Summary; not clipped to the window
	Notes []string // what was left out or read with goodwill, counted, one sentence each
}

// Read returns the spans in which the owner of an iCalendar file is busy and
// which overlap the window [from, to). Spans are not clipped and may overlap
// each other. zone is where dates and floating times, those without a zone of
// their own (RFC 5545 section 3.3.5), are meant; the spans are given in it. The
// order of the events in the file is irrelevant. An empty window has no spans.
//
// name goes into problems only. A file that is too large, isn't UTF-8 text or
// breaks RFC 5545 where that matters gives a problem.List and an empty
// Calendar; at most a hundred problems are listed. A nil zone panics.
func Read(name string, data []byte, from, to time.Time, zone *time.Location) (Calendar, error) {
	if zone == nil {
		panic("busy: nil zone")
	}
	faults := &faults{file: name}
	if reason, ok := unreadable(data); !ok {
		faults.add(0, "", reason)
		return Calendar{}, faults.err()
	}
	file := readFile(string(data), faults)
	window := newWindow(from, to)
	work := maxWork
	zones := newZones(zone, file.zones, window, &work, faults)
	var events []*event
	for _, raw := range file.events {
		if faults.full() {
			break
		}
		if e := readEvent(raw, zones, faults); e != nil {
			events = append(events, e)
		}
	}
	if faults.any() {
		return Calendar{}, faults.err()
	}
	plan := &plan{window: window, zone: clockOf(zone), work: &work, faults: faults, notes: file.notes}
	plan.addAll(events)
	if faults.any() {
		return Calendar{}, faults.err()
	}
	return Calendar{Spans: plan.result(zone), Notes: plan.notes.sentences()}, nil
}

// unreadable refuses what can't be an iCalendar file as a whole.
func unreadable(data []byte) (mistake, bool) {
	if len(data) > MaxBytes {
		return mistake{
			found:    fmt.Sprintf("a file of %d bytes", len(data)),
			expected: fmt.Sprintf("at most %d bytes", MaxBytes),
			mend:     "export a shorter time of the calendar",
		}, false
	}
	if len(data) >= 2 && (data[0] == 0xFF && data[1] == 0xFE || data[0] == 0xFE && data[1] == 0xFF) {
		return mistake{found: "UTF-16 text", expected: "UTF-8 text", mend: "save the file as UTF-8"}, false
	}
	return mistake{}, true
}

// A window is the time asked for. Its bounds in seconds are kept within the
// years that iCalendar can write, so that no sum overflows.
type window struct {
	from, to time.Time
	lo, hi   int64 // Unix seconds, lo rounded down and hi up
}

const (
	yearOne = -62135596800 // 0001-01-01T00:00:00Z
	yearEnd = 253402300800 // 10000-01-01T00:00:00Z
)

func newWindow(from, to time.Time) window {
	return window{
		from: from, to: to,
		lo: min(max(from.Unix(), yearOne), yearEnd),
		hi: min(max(to.Unix(), yearOne), yearEnd-1) + 1,
	}
}

// overlaps says whether [from, to), in Unix seconds, overlaps the window.
func (w window) overlaps(from, to int64) bool {
	return w.from.Before(w.to) && time.Unix(from, 0).Before(w.to) && time.Unix(to, 0).After(w.from)
}

// result gives the spans found, in order and each once.
func (p *plan) result(zone *time.Location) []Span {
	slices.SortFunc(p.spans, func(a, b rawSpan) int {
		if a.from != b.from {
			return compare(a.from, b.from)
		}
		if a.to != b.to {
			return compare(a.to, b.to)
		}
		return strings.Compare(a.summary, b.summary)
	})
	var spans []Span
	for _, s := range slices.Compact(p.spans) {
		spans = append(spans, Span{
			From:    time.Unix(s.from, 0).In(zone),
			To:      time.Unix(s.to, 0).In(zone),
			Summary: s.summary,
		})
	}
	return spans
}
