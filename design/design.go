// Package design lays out tests: how many, in which blocks, in which random
// order, on which days, and what such a layout can show. Foods are numbered
// treatments here and dates are day numbers; names and calendars are for the
// caller.
//
// Sizes that cannot be meant (a negative washout) are mistakes of the program
// and panic; a layout that does not fit its days is an error.
package design

import "slices"

// A Problem is a layout problem: which treatments stand in which block, and the
// restrictions on their order and days. It is data only, so that the same
// problem can be drawn again with another seed.
type Problem struct {
	Treatments int     // number of treatments, at least 1
	Blocks     []Block // in the order of time
	// Class gives a class to each treatment; those of one class may change
	// places. Nil: each is in a class of its own.
	Class []int

	Washout   int     // days kept free between two tests, at least 0
	After     []int   // by treatment: days kept free after it, where more than Washout; nil: none
	Before    []int   // by treatment: days kept free before it, likewise
	Weekly    int     // most tests in any seven days; 0: no limit
	Available []Range // by treatment: days on which it may be had; nil: always
	Wanted    []int   // days, ascending, on which a test is to be held
	NoRepeat  bool    // no treatment in two consecutive tests
	// Held are tests before the first block, in order: not drawn, but washouts,
	// weeks and NoRepeat count from them.
	Held []Held

	// Most imbalance that an order may have, set by Balance; nil: no limit.
	CarryOver *float64
	Trend     *float64
}

// A Block is a group of tests within which treatments are randomised.
type Block struct {
	Contents []int // its treatments; one that stands twice is tested twice
	Days     []int // days on which its tests may be held, ascending day numbers
}

// A Range of days, both ends included.
type Range struct{ From, Until int }

// A Slot is one planned test.
type Slot struct {
	Day       int // one of the days of its block
	Block     int // from 0
	Treatment int // from 0
}

// Held is a test that was held, or is fixed, before those that are drawn.
type Held struct{ Day, Treatment int }

// CompleteBlocks returns the problem of a number of blocks that hold every
// treatment once, on common days.
func CompleteBlocks(treatments, blocks int, days []int, washout int) Problem {
	p := Problem{Treatments: treatments, Washout: washout}
	for range blocks {
		contents := make([]int, treatments)
		for i := range contents {
			contents[i] = i
		}
		p.Blocks = append(p.Blocks, Block{Contents: contents, Days: days})
	}
	return p
}

// Tests returns the number of tests of the layout.
func (p *Problem) Tests() int {
	n := 0
	for _, b := range p.Blocks {
		n += len(b.Contents)
	}
	return n
}

// check panics for problems that cannot be meant.
func (p *Problem) check() {
	ok := p.Treatments >= 1 && p.Washout >= 0 && p.Weekly >= 0
	for _, b := range p.Blocks {
		for _, t := range b.Contents {
			ok = ok && t >= 0 && t < p.Treatments
		}
		ok = ok && slices.IsSorted(b.Days)
	}
	for i, h := range p.Held {
		ok = ok && h.Treatment >= 0 && h.Treatment < p.Treatments && (i == 0 || h.Day > p.Held[i-1].Day)
	}
	for _, list := range [][]int{p.Class, p.After, p.Before} {
		ok = ok && (list == nil || len(list) == p.Treatments)
	}
	if ok = ok && (p.Available == nil || len(p.Available) == p.Treatments); !ok {
		panic("design: treatments, blocks or restrictions out of range")
	}
}
