package protocol

import (
	"math"
	"slices"

	"mealtrial/stats/null"
)

// nullDesign is the layout of a fit by looks: what was eaten in the finished
// blocks, and what is planned for the others. now is the index of this look
// among those that have tests; −1: it has none.
func (f *Folder) nullDesign(state LookState, m *sample, of taking) (d null.Design, now int) {
	d.Treatments = len(f.Study.Foods)
	if !of.blank {
		d.SpreadDF = f.borrowedDF(m)
	}
	if ratio, ok := m.blockRatio(f.Study); ok {
		d.Random, d.BlockVariance = true, ratio
	}
	order := f.blocksInTime()
	var labels []int // of the blocks by index
	inBlocks := make([]int, len(order)+1)
	byTime := make([][]null.Test, len(order)+1)
	add := func(label, food int) {
		i := slices.Index(labels, label)
		if i < 0 {
			i = len(labels)
			labels = append(labels, label)
		}
		at := max(0, slices.Index(order, label)) // tests that no schedule ordered come first
		byTime[at] = append(byTime[at], null.Test{Treatment: food, Block: i})
		inBlocks[at]++
	}
	if m != nil {
		for i, o := range m.obs {
			add(m.from[i].Block, o.Treatment)
		}
	}
	if f.Schedule != nil {
		for _, t := range f.Schedule.Tests {
			food := f.Study.Food(t.Food)
			at := slices.Index(order, t.Block)
			if !t.RunIn && at >= state.Finished && (of.blank || f.Study.Foods[food].Role != RoleBlank) {
				add(t.Block, food)
			}
		}
	}
	for _, tests := range byTime {
		d.Tests = append(d.Tests, tests...)
	}
	now = -1
	for k, after := range lookAfter(state, len(order)) {
		n := 0
		for _, tests := range inBlocks[:min(after, len(inBlocks))] {
			n += tests
		}
		if last := len(d.Looks) - 1; last >= 0 && n == d.Looks[last] {
			if k+1 == state.Now { // nothing has come since: it is the look before once more
				now = last
				d.Taken = d.Taken[:min(len(d.Taken), last)]
			}
			continue
		}
		if n == 0 {
			continue
		}
		d.Looks = append(d.Looks, n)
		if k+1 == state.Now {
			now = len(d.Looks) - 1
		}
		if k+1 < state.Now {
			d.Taken = append(d.Taken, f.takenLevel(after, of))
		}
	}
	return d, now
}

// takenLevel is the nominal level that a look took in one of the families; NaN: it was
// not taken.
func (f *Folder) takenLevel(after int, of taking) float64 {
	if n := f.taken(after); n != nil {
		return float64(of.level(n))
	}
	return math.NaN()
}

// Taking says where the level of a family is kept, and in which fit it is.
type taking struct {
	level func(*Nominal) Number
	blank bool
}

var (
	ofMain           = taking{level: func(n *Nominal) Number { return n.Main }}
	ofBlank          = taking{level: func(n *Nominal) Number { return n.Blank }, blank: true}
	ofOther          = taking{level: func(n *Nominal) Number { return n.Other }}
	ofOtherWithBlank = taking{level: func(n *Nominal) Number { return n.Other }, blank: true}
	ofLimits         = taking{level: func(n *Nominal) Number { return n.Limits }}
)

// borrowedDF are the degrees of freedom from earlier studies: of a fit, or, where
// nothing was measured yet, those that fit the plan.
func (f *Folder) borrowedDF(m *sample) (df int) {
	if m != nil {
		if m.borrowed != nil {
			df = m.borrowed.AddedDF
		}
		return df
	}
	_, df, _ = f.Study.PlannedSpread()
	return df
}

// lookAfter returns the looks; without blocks the one at the end.
func lookAfter(state LookState, blocks int) []int {
	if len(state.After) == 0 {
		return []int{blocks + 1}
	}
	return state.After
}
