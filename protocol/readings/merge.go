package readings

import (
	"cmp"
	"io/fs"
	"math"
	"slices"
	"strings"
	"time"

	"mealtrial/protocol/problem"
)

// A Set is the files of a study, checked, compared and ready to be read in the
// order of time. Its memory does not grow with the files.
type Set struct {
	Files   []FileReport // in name order
	Ignored []string     // files in the folder whose names have other endings, in name order
	Merge

	files     []*file
	stretches []*stretch
	groups    []group // by stretch.group
	study     Study
	next      int64 // the earliest time, beyond what was gathered, at which there may be an entry
}

// A group is one sensor.
type group struct {
	name     string
	from, to int64
}

// Open reads every file once, finds which sensors they are from and which
// readings stand in more than one place. The error is as that of Read; the Set is
// nil where the Mapping is at fault.
func Open(fsys fs.FS, dir string, m Mapping, study Study) (*Set, error) {
	return open(fsys, dir, m, study, keptEntries)
}

// open keeps at most room entries in memory.
func open(fsys fs.FS, dir string, m Mapping, study Study, room int) (*Set, error) {
	t, problems := newTold(m, study)
	if len(problems) > 0 {
		return nil, problems.Err()
	}
	found, problems := find(fsys, dir)
	s := &Set{Ignored: found.ignored, study: t.study}
	for _, name := range found.files {
		told := t.of(strings.TrimPrefix(name, dir+"/"))
		var f *file
		var ps problem.List
		if hasEnding(name, fhirEndings) {
			f, ps = told.indexFHIR(fsys, name)
		} else {
			f, ps = told.index(fsys, name, &room)
		}
		problems = append(problems, ps...)
		if f != nil {
			s.files = append(s.files, f)
			s.stretches = append(s.stretches, f.stretches...)
		}
	}
	problems = append(problems, s.findSensors()...)
	s.count()
	for _, f := range s.files {
		s.Files = append(s.Files, f.report)
	}
	return s, problems.Err()
}

// slab is the length of time that is in memory at once, in microseconds: a week.
const slab = int64(7 * 24 * time.Hour / time.Microsecond)

// gather gives the entries with from ≤ at < to, in the order of time, sensor,
// file and line, and notes where the next one may be.
func (s *Set) gather(from, to int64, list []located) []located {
	list = list[:0]
	s.next = math.MaxInt64
	for _, f := range s.files {
		for i := range f.blocks {
			b := &f.blocks[i]
			// Seconds may be left out, so that an entry moves up to a minute ahead.
			if b.max < from || b.min-minute >= to {
				if b.min-minute >= to {
					s.next = min(s.next, b.min-minute)
				}
				continue
			}
			f.read(b, func(e entry) {
				if e.unit >= 0 && f.stretches[e.unit].byMinute {
					e.at = floorMinute(e.at)
				}
				if e.at >= to {
					s.next = min(s.next, e.at)
				}
				if from <= e.at && e.at < to && e.unit >= 0 {
					f.censor(&e)
					list = append(list, located{e, f.stretches[e.unit]})
				}
			})
		}
	}
	order := func(a, b located) int {
		if c := cmp.Or(cmp.Compare(a.at, b.at), cmp.Compare(a.group, b.group)); c != 0 {
			return c
		}
		return cmp.Or(strings.Compare(a.file.report.File, b.file.report.File), cmp.Compare(a.line(), b.line()))
	}
	if !slices.IsSortedFunc(list, order) {
		slices.SortFunc(list, order)
	}
	return list
}

// A located is an entry and what it is from.
type located struct {
	entry
	*stretch
}

func (l located) line() int { return l.entry.line }

// overlaps are the times that more than one stretch covers, or in which a row
// stands twice.
func (s *Set) overlaps() []interval {
	var list []interval
	for i, u := range s.stretches {
		for _, v := range s.stretches[i+1:] {
			if shared, ok := share(u, v); ok {
				list = append(list, shared)
			}
		}
	}
	for _, f := range s.files {
		list = append(list, f.repeats...)
	}
	return union(list)
}

func share(u, v *stretch) (interval, bool) {
	shared := interval{max(u.min, v.min), min(u.max, v.max)}
	return shared, shared.from <= shared.to
}

// An interval of time in microseconds, both ends included.
type interval struct{ from, to int64 }

func union(list []interval) []interval {
	slices.SortFunc(list, func(a, b interval) int { return cmp.Compare(a.from, b.from) })
	var out []interval
	for _, x := range list {
		if n := len(out); n > 0 && x.from <= out[n-1].to {
			out[n-1].to = max(out[n-1].to, x.to)
		} else {
			out = append(out, x)
		}
	}
	return out
}

// slabs gathers intervals a slab at a time until yield says no, and leaps over
// times without entries.
func (s *Set) slabs(list []interval, yield func(entries []located, to int64) bool) {
	var entries []located
	for _, x := range list {
		for from := x.from; from <= x.to; from = s.next {
			to := min(from+slab, x.to+1)
			if entries = s.gather(from, to, entries); !yield(entries, to) {
				return
			}
		}
	}
}

// count fills in what stood in more than one place.
func (s *Set) count() {
	if s.Merge = (Merge{}); len(s.groups) == 0 {
		return
	}
	total := make([]SensorReport, len(s.groups))
	for i, g := range s.groups {
		total[i] = SensorReport{Name: g.name, From: time.UnixMicro(g.from).In(s.study.Zone), To: time.UnixMicro(g.to).In(s.study.Zone)}
	}
	for _, u := range s.stretches {
		r := &total[u.group]
		r.Readings += u.n
		if name := u.file.report.File; !slices.Contains(r.Files, name) {
			r.Files = append(r.Files, name)
		}
	}
	s.slabs(s.overlaps(), func(list []located, _ int64) bool {
		eachTime(list, func(same []located) {
			n := len(same)
			if n == 1 {
				return
			}
			r := &total[same[0].group]
			if i := s.conflict(same); i > 0 {
				r.Readings -= n
				s.Conflicting++
				if len(s.Conflicts) < mostConflicts || s.wanted(same[0].at) {
					a, b := s.reading(same[0]), s.reading(same[i])
					s.Conflicts = append(s.Conflicts, Conflict{Time: a.Time, Sensor: a.Sensor, A: a, B: b})
				}
				return
			}
			r.Readings -= n - 1
			s.Repeated += n - 1
		})
		return true
	})
	s.Sensors = total
}

// wanted tells whether a time is within the study's spans.
func (s *Set) wanted(at int64) bool {
	return slices.ContainsFunc(s.study.Spans, func(x Span) bool { return x.From.UnixMicro() <= at && at <= x.To.UnixMicro() })
}

// mostConflicts are told one by one, beside those within the study's spans.
const mostConflicts = 20

// eachTime gives the entries of one sensor at one time together.
func eachTime(list []located, yield func([]located)) {
	for i := 0; i < len(list); {
		n := i + 1
		for n < len(list) && list[n].at == list[i].at && list[n].group == list[i].group {
			n++
		}
		yield(list[i:n])
		i = n
	}
}

// conflict is the index of an entry that the first does not agree with, or 0.
func (s *Set) conflict(same []located) int {
	for i := 1; i < len(same); i++ {
		if !agree(same[0], same[i]) {
			return i
		}
	}
	return 0
}

// agree says whether two entries may be one reading, written in one unit or
// rounded in both. The largest rounding error of a whole mg/dL and a tenth of a
// mmol/L together is 0.5 + 0.05·18.0156 mg/dL.
func agree(a, b located) bool {
	x, y := a.file.report.Unit, b.file.report.Unit
	if a.limit != b.limit {
		return false
	}
	if a.limit != NotLimited && (a.glucose == 0 || b.glucose == 0) {
		return true
	}
	if x == y {
		return a.glucose == b.glucose || a.limit != NotLimited
	}
	const rounding = 1.41
	return a.limit != NotLimited || math.Abs(Convert(a.glucose, x, MgdL)-Convert(b.glucose, y, MgdL)) <= rounding
}

func (s *Set) reading(l located) Reading {
	r := Reading{Time: time.UnixMicro(l.at).In(s.study.Zone), Limit: l.limit, Sensor: s.groups[l.group].name, File: l.file.report.File, Line: l.line()}
	if l.glucose > 0 {
		r.Glucose = Convert(l.glucose, l.file.report.Unit, s.study.Unit)
	}
	return r
}

// Each gives the readings within some spans, or all where there are none, in
// the order of time, and by sensor within a time. A reading that stands in
// several places is given once; of two that contradict each other neither is.
// It stops when yield returns false.
func (s *Set) Each(spans []Span, yield func(Reading) bool) error {
	var list []interval
	for _, x := range spans {
		list = append(list, interval{x.From.UnixMicro(), x.To.UnixMicro()})
	}
	if spans == nil {
		for _, u := range s.stretches {
			list = append(list, interval{u.min, u.max})
		}
	}
	going := true
	s.slabs(union(list), func(entries []located, _ int64) bool {
		eachTime(entries, func(same []located) {
			if going && s.conflict(same) == 0 {
				going = yield(s.reading(same[0]))
			}
		})
		return going
	})
	for _, f := range s.files {
		if f.src != nil && f.src.err != nil {
			return problem.List{unreadable(f.report.File, f.src.err)}
		}
	}
	return nil
}
