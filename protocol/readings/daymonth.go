package readings

import (
	"fmt"
	"time"

	"mealtrial/protocol/problem"
)

// A course is how the times of a file run under one layout.
type course struct {
	read, failed  int
	ahead, back   int // steps of more than an hour, which no change of the clocks explains
	nearAhead     int // steps of at most an hour
	nearBack      int
	earliest, end time.Time
	last          time.Time
}

func (c *course) add(t time.Time, ok bool) {
	if !ok {
		c.failed++
		return
	}
	if c.read++; c.read == 1 {
		c.earliest, c.end, c.last = t, t, t
		return
	}
	switch step := t.Sub(c.last); {
	case step > time.Hour:
		c.ahead++
	case step < -time.Hour:
		c.back++
	case step > 0:
		c.nearAhead++
	case step < 0:
		c.nearBack++
	}
	c.last = t
	if t.Before(c.earliest) {
		c.earliest = t
	}
	if t.After(c.end) {
		c.end = t
	}
}

// oneWay says whether no large step goes against the direction of most.
func (c *course) oneWay() bool {
	if c.ahead+c.nearAhead >= c.back+c.nearBack {
		return c.back == 0
	}
	return c.ahead == 0
}

// steady says whether most steps are at most an hour.
func (c *course) steady() bool { return c.nearAhead+c.nearBack > c.ahead+c.back }

func (c *course) span() time.Duration { return c.end.Sub(c.earliest) }

// settleDayMonth decides which of two numbers is the day. In this order: the
// reading that no value above 12 contradicts; the one in which time runs one
// way; the one that a sensor could have written, with a reading every few
// minutes and its days side by side.
func (s *shape) settleDayMonth() *problem.Problem {
	if s.layout.rival == "" {
		return nil
	}
	rival, err := newLayout(s.layout.rival)
	if err != nil {
		panic("readings: bad built-in pattern")
	}
	rival.rival = s.layout.pattern
	var a, b course
	same := true
	for r := range s.dataRows {
		cell := s.time.cell(r.fields)
		t, ok := s.layout.parse(cell)
		u, ok2 := rival.parse(cell)
		if ok || ok2 {
			a.add(t, ok)
			b.add(u, ok2)
			same = same && ok == ok2 && t.Equal(u)
		}
		const plenty = 100 // slips of the pen don't come in hundreds
		if max(a.failed, b.failed) >= plenty && min(a.failed, b.failed) == 0 {
			break
		}
	}
	preferRival, decided := false, same
	switch {
	case same:
	case a.failed != b.failed:
		preferRival, decided = b.failed < a.failed, true
	case a.oneWay() != b.oneWay():
		preferRival, decided = b.oneWay(), true
	case a.steady() && b.steady():
		// Days side by side in one reading are months apart in the other.
		const muchLonger = 5
		preferRival = b.span() < a.span()
		decided = max(a.span(), b.span()) >= muchLonger*min(a.span(), b.span())
	}
	if !decided {
		return s.askDayMonth(rival.pattern)
	}
	if preferRival {
		s.layout = rival
	}
	return nil
}

func (s *shape) askDayMonth(rival string) *problem.Problem {
	return &problem.Problem{Line: s.start, Field: s.timeField(),
		Found:    fmt.Sprintf("dates that read as %s and as %s", s.layout.pattern, rival),
		Expected: "a layout that the file can decide",
		Mend:     fmt.Sprintf("write readings: {time_layout: %q} or {time_layout: %q} in %s", s.layout.pattern, rival, studyFile)}
}

// dataRows are the rows from the first data row on.
func (s *shape) dataRows(yield func(row) bool) { s.table.rowsFrom(s.startAt, s.start, yield) }
