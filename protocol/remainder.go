package protocol

import (
	"math"
	"slices"

	"mealtrial/design"
)

// A remainder is a block with what is still to be tested in it.
type remainder struct {
	block    int
	contents []int // food indexes
	sensor   int   // on which it has to lie, from 0; −1: any
}

// remainders returns the ways to lay out what is still to be tested, the one
// with the fewest tests first. The block that was begun last goes on where it
// can, and blocks that were not begun stay whole. What is still wanting then joins
// the blocks to come, or else make-up blocks.
func (f *Folder) remainders(from Date) (ways [][]remainder) {
	outstanding, last := f.outstanding()
	for _, goOn := range []bool{true, false} {
		for _, join := range []bool{true, false} {
			ways = append(ways, f.lay(outstanding, last, from, goOn, join))
		}
	}
	return ways
}

// An unfinished block is what a planned block still lacks.
type unfinished struct {
	block int
	lacks []int // food indexes
	begun Date  // of its last test that counts; 0: not begun
}

// outstanding returns what each planned block lacks, and the number of the
// block with the last test that counts; 0: none has one.
func (f *Folder) outstanding() (blocks []unfinished, last int) {
	at := map[int]int{}
	for _, t := range f.Schedule.Tests {
		if t.RunIn {
			continue
		}
		i, known := at[t.Block]
		if !known {
			i = len(blocks)
			at[t.Block] = i
			blocks = append(blocks, unfinished{block: t.Block})
		}
		blocks[i].lacks = append(blocks[i].lacks, f.Study.Food(t.Food))
	}
	responses, _ := f.Responses()
	var latest Date
	for _, r := range responses {
		i, known := at[r.Block]
		if !known || !r.Counts() {
			continue
		}
		b := &blocks[i]
		if b.begun = max(b.begun, r.Date); r.Date > latest {
			latest, last = r.Date, r.Block
		}
		if j := slices.Index(b.lacks, r.food); j >= 0 {
			b.lacks = slices.Delete(b.lacks, j, j+1)
		}
	}
	slices.SortStableFunc(blocks, func(a, b unfinished) int { return a.block - b.block })
	return blocks, last
}

// lay makes one of the ways. goOn: the block begun last goes on, if its sensor
// still has room. join: what is wanting joins blocks to come.
func (f *Folder) lay(blocks []unfinished, last int, from Date, goOn, join bool) (rest []remainder) {
	highest := 0
	for _, b := range blocks {
		highest = max(highest, b.block)
		sensor, room := f.roomToGoOn(b, from)
		switch {
		case len(b.lacks) == 0:
		case b.begun == 0:
			rest = append(rest, remainder{b.block, slices.Clone(b.lacks), -1})
		case goOn && b.block == last && room:
			rest = slices.Insert(rest, 0, remainder{b.block, slices.Clone(b.lacks), sensor})
		}
	}
	lost, gained := f.wanting(rest)
	if !join || len(rest) == 0 {
		return append(rest, f.makeUp(append(lost, gained...), highest)...)
	}
	for _, food := range lost {
		at := smallest(rest, food)
		rest[at].contents = append(rest[at].contents, food)
	}
	return append(rest, f.makeUp(gained, highest)...)
}

// smallest returns the block that a food is added to: one without it first, then
// the one with the fewest tests, then the later one.
func smallest(rest []remainder, food int) int {
	best := len(rest) - 1
	for i := len(rest) - 2; i >= 0; i-- {
		has, hasBest := slices.Contains(rest[i].contents, food), slices.Contains(rest[best].contents, food)
		if hasBest && !has || has == hasBest && len(rest[i].contents) < len(rest[best].contents) {
			best = i
		}
	}
	return best
}

// roomToGoOn tells whether a begun block can be finished: on any day, or, where
// blocks may not straddle sensors, on the sensor of its last test.
func (f *Folder) roomToGoOn(b unfinished, from Date) (sensor int, ok bool) {
	s := f.Study
	if b.begun == 0 || len(s.Plan.Sensors) == 0 || s.Plan.Straddle {
		return -1, true
	}
	for i, x := range s.Plan.Sensors {
		if len(x.on(s, []int{int(b.begun)})) > 0 {
			days := slices.DeleteFunc(x.on(s, s.freeDays(s.Plan.Until)), func(d int) bool { return d < int(max(from, b.begun+1)) })
			return i, design.Room(days, s.Plan.Washout, s.Plan.PerWeek) >= len(b.lacks)
		}
	}
	return -1, false
}

// wanting returns the foods that the study asks for more often than they were
// tested and are in blocks to come: those of tests that were lost and of new foods,
// and the repeats that the study file has gained since the first draw.
func (f *Folder) wanting(rest []remainder) (lost, gained []int) {
	first := Date(math.MaxInt)
	planned := map[string]int{}
	for i, a := range f.Schedule.Amendments {
		first = min(first, a.From)
		if i == 0 { // what it replaced was drawn first
			count(planned, a.Replaced, math.MaxInt)
		}
	}
	count(planned, slices.DeleteFunc(slices.Clone(f.Schedule.Tests), func(t PlannedTest) bool { return f.Schedule.replacedOn(t.Date) }), first)
	responses, _ := f.Responses()
	for i, food := range f.Study.Foods {
		asked := food.Repeats
		if asked == 0 {
			asked = f.Study.Plan.Repeats
		}
		more := 0 // repeats that a known food has gained
		if planned[food.ID] > 0 {
			more = max(0, asked-planned[food.ID])
		}
		n := max(planned[food.ID], asked)
		for _, r := range responses {
			if r.Counts() && r.food == i {
				n--
			}
		}
		for _, b := range rest {
			for _, t := range b.contents {
				if t == i {
					n--
				}
			}
		}
		for k := range n {
			if k < n-more {
				lost = append(lost, i)
			} else {
				gained = append(gained, i)
			}
		}
	}
	return lost, append(gained, f.extra...)
}

// count adds the tests before a date to those of their foods, run-in left out.
func count(n map[string]int, tests []PlannedTest, before Date) {
	for _, t := range tests {
		if !t.RunIn && t.Date < before {
			n[t.Food]++
		}
	}
}

// makeUp puts foods into new blocks, each food once a block, together with
// something to compare them with: the reference, or else the food that the first
// question about them names.
func (f *Folder) makeUp(foods []int, last int) (blocks []remainder) {
	ref := f.Study.Reference()
	for _, food := range foods {
		at := slices.IndexFunc(blocks, func(b remainder) bool {
			room := f.Study.blockSize()
			if ref >= 0 && food != ref && !slices.Contains(b.contents, ref) {
				room-- // the reference is still to come
			}
			return !slices.Contains(b.contents, food) && len(b.contents) < room
		})
		if at < 0 {
			at = len(blocks)
			blocks = append(blocks, remainder{block: last + 1 + at, sensor: -1})
		}
		blocks[at].contents = append(blocks[at].contents, food)
	}
	for i := range blocks {
		b := &blocks[i]
		if ref >= 0 && !slices.Contains(b.contents, ref) {
			b.contents = append(b.contents, ref)
		}
		if len(b.contents) == 1 {
			if other := f.Study.comparedWith(b.contents[0]); other >= 0 {
				b.contents = append(b.contents, other)
			}
		}
	}
	return blocks
}

// comparedWith returns the food that the first question about a food compares it
// with, any other food where none does; −1: there is only one food.
func (s *Study) comparedWith(food int) int {
	for _, q := range s.comparisons() {
		w := s.Weights(q)
		for other := range w {
			if w[food]*w[other] < 0 {
				return other
			}
		}
	}
	return slices.IndexFunc(s.Foods, func(f Food) bool { return f.ID != s.Foods[food].ID })
}

// placeBlocks gives each block to the first place that still has room for it;
// what fits nowhere goes to the last.
func (s *Study) placeBlocks(rest []remainder, places []place) (blocks []design.Block) {
	at, used := 0, 0
	for _, r := range rest {
		if r.sensor > at {
			at, used = r.sensor, 0
		}
		for at < len(places)-1 && r.sensor < 0 && design.Room(places[at].days, s.Plan.Washout, s.Plan.PerWeek) < used+len(r.contents) {
			at, used = at+1, 0
		}
		used += len(r.contents)
		blocks = append(blocks, design.Block{Contents: r.contents, Days: places[at].days})
	}
	return blocks
}

// alternating tells whether two blocks, one after the other, hold the same two foods,
// as after a retest of one question. With no food on two consecutive tests each
// would have the order of the one before it, and hardly any draw would fit.
func alternating(rest []remainder) bool {
	for i := 1; i < len(rest); i++ {
		a, b := slices.Sorted(slices.Values(rest[i-1].contents)), slices.Sorted(slices.Values(rest[i].contents))
		if len(a) == 2 && slices.Equal(a, b) {
			return true
		}
	}
	return false
}

func sizesOf(rest []remainder) (sizes []int) {
	for _, r := range rest {
		sizes = append(sizes, len(r.contents))
	}
	return sizes
}
