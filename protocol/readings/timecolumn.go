package readings

import "slices"

// A ballot counts, for one column, how many cells each layout reads.
type ballot struct {
	column  column
	layout  timeLayout // that reads most
	read    int        // cells that it reads
	changes int        // cells that differ from the last one read: a time runs on, a birthday does not
}

// mostColumns are searched for times and glucose; columns told may lie beyond.
const mostColumns = 256

// findTimes finds the time column and its layout. False: there is none.
//
// Text is preferred to two columns joined, and both to seconds of the epoch,
// where a less preferred one is not far richer: a column of long numbers may be
// anything.
func (s *survey) findTimes(t *told) bool {
	width := 0
	for _, r := range s.rows {
		width = min(max(width, len(r.fields)), mostColumns)
	}
	free := t.mapping.TimeLayout == ""
	if t.time.isTold() {
		c, _ := t.time.in(s.namesTold())
		b := s.poll(c, t.layouts, free)
		s.time, s.layout = b.column, b.layout
		return b.changes > 0
	}
	text, seconds := t.layouts, t.layouts[:0]
	if free {
		last := len(t.layouts) - epochLayouts
		text, seconds = t.layouts[:last], t.layouts[last:]
	}
	ways := []func(i int) ballot{
		func(i int) ballot { return s.poll(one(i), text, free) },
		func(i int) ballot { return s.poll(column{i, i + 1}, text, free) },
		func(i int) ballot { return s.poll(one(i), seconds, free) },
	}
	var polls [][]ballot
	most := 0
	for _, way := range ways {
		var poll []ballot
		for i := range width {
			poll = append(poll, way(i))
			most = max(most, poll[i].changes)
		}
		if polls = append(polls, poll); 2*most > len(s.rows) {
			break // half of the rows are read: no other way can be far richer
		}
	}
	for _, poll := range polls {
		if slices.ContainsFunc(poll, func(b ballot) bool { return b.changes > 0 && 2*b.changes >= most }) {
			s.elect(poll)
			return true
		}
	}
	return false
}

// namesTold is the header that was found by the names in the Mapping.
func (s *survey) namesTold() []string {
	if s.header < 0 {
		return nil
	}
	return s.rows[s.header].fields
}

// elect takes the column with most times, and names its twins if others have
// nearly as many and not the same.
func (s *survey) elect(way []ballot) {
	best := slices.MaxFunc(way, func(a, b ballot) int { return a.changes - b.changes })
	s.time, s.layout = best.column, best.layout
	var twins []column
	for _, b := range way {
		if b.column == best.column || 10*b.changes >= 9*best.changes && !s.sameCells(b.column, best.column) {
			twins = append(twins, b.column)
		}
	}
	if len(twins) > 1 {
		s.twins = twins
	}
}

func (s *survey) sameCells(a, b column) bool {
	return !slices.ContainsFunc(s.rows[s.header+1:], func(r row) bool { return s.isTimed(r) && a.cell(r.fields) != b.cell(r.fields) })
}

// mostMisses ends the trial of all layouts on a column that is no time.
const mostMisses = 20

// poll counts the cells of a column that each layout reads. Layouts that are not
// told are tried only on cells that sift lets through.
func (s *survey) poll(c column, layouts []timeLayout, sift bool) ballot {
	b := ballot{column: c}
	counts := make([]int, len(layouts))
	var known []int // layouts that read a cell before; most files need no other
	misses, last := 0, ""
	for _, r := range s.rows[s.header+1:] {
		cell := c.cell(r.fields)
		text, seconds := !sift || guessableTime(cell, wallClock), !sift || guessableTime(cell, epoch)
		thousandths := !sift || guessableTime(cell, epochMillis)
		if cell == "" || !text && !seconds && !thousandths {
			continue
		}
		reads := func(l timeLayout) bool {
			_, ok := l.parse(cell)
			return ok && (text && !l.isEpoch() || seconds && l.kind == epoch || thousandths && l.kind == epochMillis)
		}
		hit := false
		for _, i := range known {
			if reads(layouts[i]) {
				counts[i]++
				hit = true
			}
		}
		if !hit && misses < mostMisses {
			for i, l := range layouts {
				if !slices.Contains(known, i) && reads(l) {
					known = append(known, i)
					counts[i]++
					hit = true
				}
			}
		}
		switch {
		case !hit:
			misses++
		case cell != last:
			last = cell
			b.changes++
		}
	}
	for i, n := range counts {
		if n > b.read {
			b.read, b.layout = n, layouts[i]
		}
	}
	return b
}
