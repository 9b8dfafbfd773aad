package readings

import (
	"fmt"
	"math"
	"path"
	"slices"
	"strings"

	"mealtrial/protocol/problem"
)

// findSensors puts the stretches together that are from one sensor: those that
// the files or the Mapping give one name, and those that hold the same readings
// at the same times. What has no name and overlaps with nothing belongs to the
// one unnamed sensor.
func (s *Set) findSensors() problem.List {
	n := len(s.stretches)
	parent := make([]int, n)
	for i := range parent {
		parent[i] = i
	}
	var root func(i int) int
	root = func(i int) int {
		if parent[i] != i {
			parent[i] = root(parent[i])
		}
		return parent[i]
	}
	join := func(i, j int) { parent[max(root(i), root(j))] = min(root(i), root(j)) }
	for i, u := range s.stretches {
		for j := range i {
			v := s.stretches[j]
			if u.sensor == v.sensor && (u.sensor != "" || u.file == v.file) {
				join(i, j)
			}
		}
	}
	problems := s.compare(join)
	s.name(root)
	return problems
}

// A pair compares two stretches that overlap.
type pair struct {
	i, j         int // indices of u and v in Set.stretches
	u, v         *stretch
	shared       interval
	inI, inJ     int // entries in the shared time
	same, differ int // at the same time
	sameMinute   int // in the same minute
}

// mostCompared entries of a pair are enough.
const mostCompared = 5000

// compare joins the stretches that hold the same readings. In one file a
// stretch that goes back into another without being its copy is a problem: the
// sensor's clock was set back, or its rows are of two sensors.
func (s *Set) compare(join func(i, j int)) (problems problem.List) {
	pairs, times := s.pairs()
	if len(pairs) == 0 {
		return nil
	}
	for i, u := range s.stretches {
		u.group = i // so that gather keeps them apart
	}
	s.slabs(union(times), func(list []located, to int64) bool {
		full := true
		for _, p := range pairs {
			if p.inI+p.inJ < mostCompared && p.shared.from < to {
				p.add(list)
				if p.u.seconds != p.v.seconds {
					p.addMinutes(list)
				}
			}
			full = full && (p.inI+p.inJ >= mostCompared || p.shared.to < to)
		}
		return !full
	})
	for _, p := range pairs {
		switch inOneFile := p.u.file == p.v.file; {
		case p.sameByMinute():
			p.leaveOutSeconds()
			join(p.i, p.j)
		case p.copies():
			join(p.i, p.j)
		case inOneFile && p.u.file.oneSeries() && p.v.above > 0:
			problems = append(problems, p.u.file.against(p.v.line, p.v.firstAt, p.v.above, p.v.aboveAt, false))
		}
	}
	return problems
}

// pairs are the stretches that have to be compared, and when: those of one
// sensor in one file, and those of two files of which not both name the sensor.
func (s *Set) pairs() (pairs []*pair, times []interval) {
	for j, v := range s.stretches {
		for i, u := range s.stretches[:j] {
			shared, ok := share(u, v)
			if ok && (u.file == v.file && u.sensor == v.sensor || u.file != v.file && (u.sensor == "" || v.sensor == "")) {
				pairs = append(pairs, &pair{i: i, j: j, u: u, v: v, shared: shared})
				times = append(times, interval{shared.from - minute, shared.to + minute})
			}
		}
	}
	return pairs, times
}

// oneSeries tells whether all rows of a file must be of one series in time: a
// table of one column and one kind of event.
func (f *file) oneSeries() bool {
	return f.shape != nil && f.shape.event < 0 && len(f.shape.glucose) == 1
}

// copies tells whether the two hold the same readings in the time they share.
func (p *pair) copies() bool {
	return p.same > 0 && p.same >= p.differ && 2*(p.same+p.differ) >= min(p.inI, p.inJ)
}

// leaveOutSeconds makes the two comparable.
func (p *pair) leaveOutSeconds() {
	fine, whole := p.u, p.v
	if p.v.seconds {
		fine, whole = p.v, p.u
	}
	fine.byMinute, fine.min, fine.max = true, floorMinute(fine.min), floorMinute(fine.max)
	fine.file.report.Notes = append(fine.file.report.Notes, "Holds readings of "+whole.file.report.File+", whose times have no seconds; compared by the minute.")
}

// sameByMinute tells whether one of the two is the other with its seconds cut
// off: nearly all values are the same, minute by minute, and there is about one
// a minute at most.
func (p *pair) sameByMinute() bool {
	fewer, more := min(p.inI, p.inJ), max(p.inI, p.inJ)
	return p.u.file != p.v.file && p.u.seconds != p.v.seconds && p.sameMinute >= 3 && 10*p.sameMinute >= 9*fewer && 4*more <= 5*fewer+8
}

// addMinutes counts the minutes in which both have a reading with one value.
func (p *pair) addMinutes(list []located) {
	var last [2]*located
	for i := range list {
		l := &list[i]
		if l.at < p.shared.from-minute || l.at > p.shared.to+minute || l.group != p.i && l.group != p.j {
			continue
		}
		mine, other := 0, 1
		if l.group == p.j {
			mine, other = 1, 0
		}
		last[mine] = l
		if o := last[other]; o != nil && floorMinute(o.at) == floorMinute(l.at) && agree(*o, *l) {
			p.sameMinute++
			last = [2]*located{}
		}
	}
}

// add compares what the two have in a slab; the list is in the order of time.
func (p *pair) add(list []located) {
	for i := 0; i < len(list); {
		n := i
		var a, b *located
		for ; n < len(list) && list[n].at == list[i].at; n++ {
			switch list[n].group {
			case p.i:
				a = &list[n]
			case p.j:
				b = &list[n]
			}
		}
		if at := list[i].at; at >= p.shared.from && at <= p.shared.to {
			if a != nil {
				p.inI++
			}
			if b != nil {
				p.inJ++
			}
			if a != nil && b != nil {
				if agree(*a, *b) {
					p.same++
				} else {
					p.differ++
				}
			}
		}
		i = n
	}
}

// name makes a group of each sensor and gives it a name.
func (s *Set) name(root func(i int) int) {
	s.groups = nil
	number := map[int]int{}
	unnamed := map[int][]interval{} // by group
	for i, u := range s.stretches {
		g, seen := number[root(i)]
		if !seen {
			g = len(s.groups)
			number[root(i)] = g
			s.groups = append(s.groups, group{from: math.MaxInt64, to: math.MinInt64})
		}
		u.group = g
		s.groups[g].from, s.groups[g].to = min(s.groups[g].from, u.min), max(s.groups[g].to, u.max)
		if s.groups[g].name == "" {
			s.groups[g].name = u.sensor
		}
		unnamed[g] = append(unnamed[g], interval{u.min, u.max})
	}
	s.nameTheRest(unnamed)
}

// nameTheRest makes one sensor of all groups without a name that follow one
// another, and names them after their first files where one overlaps with
// another sensor.
func (s *Set) nameTheRest(covered map[int][]interval) {
	var rest []int
	for g := range s.groups {
		if s.groups[g].name == "" {
			rest = append(rest, g)
		}
	}
	apart := true
	var all []interval
	for g := range s.groups {
		if s.groups[g].name != "" && len(rest) > 0 {
			all = append(all, covered[g]...)
		}
	}
	for _, g := range rest {
		for _, x := range union(covered[g]) {
			apart = apart && !slices.ContainsFunc(all, func(y interval) bool { return x.from <= y.to && y.from <= x.to })
			all = append(all, x)
		}
	}
	if !apart {
		for _, u := range s.stretches {
			if g := &s.groups[u.group]; g.name == "" {
				g.name = path.Base(u.file.report.File)
			}
		}
		s.distinct(rest)
		s.dropEmpty()
		return
	}
	for _, u := range s.stretches {
		if slices.Contains(rest, u.group) {
			u.group = rest[0]
			g := &s.groups[rest[0]]
			g.from, g.to = min(g.from, u.min), max(g.to, u.max)
		}
	}
	s.dropEmpty()
}

// distinct numbers groups that would have one name.
func (s *Set) distinct(rest []int) {
	for i, g := range rest {
		name, n := s.groups[g].name, 1
		for _, h := range rest[:i] {
			if s.groups[h].name == s.groups[g].name {
				n++
				s.groups[g].name = fmt.Sprintf("%s (%d)", name, n)
			}
		}
	}
}

// dropEmpty takes out the groups without a stretch, and orders the rest by name.
func (s *Set) dropEmpty() {
	var used []int
	for _, u := range s.stretches {
		if !slices.Contains(used, u.group) {
			used = append(used, u.group)
		}
	}
	slices.SortFunc(used, func(a, b int) int { return strings.Compare(s.groups[a].name, s.groups[b].name) })
	var groups []group
	number := map[int]int{}
	for _, g := range used {
		number[g] = len(groups)
		groups = append(groups, s.groups[g])
	}
	s.groups = groups
	for _, u := range s.stretches {
		u.group = number[u.group]
	}
}
