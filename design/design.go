// Package design lays out tests: how many, in which blocks, in which random
// order, on which days, and what such a layout can show. Foods are numbered
// treatments here and dates are day numbers; names and calendars are for the
// caller.
//
// Sizes that cannot be meant (a negative number of blocks) are mistakes of the
// program and panic; a layout that does not fit its days is an error.
package design

import "fmt"

// A Problem is a layout problem: randomised complete blocks, in which each
// block holds every treatment once, on days with a washout between them.
type Problem struct {
	Treatments int   // number of treatments, at least 1
	Blocks     int   // number of blocks, at least 1
	Days       []int // days on which a test may be held, ascending day numbers
	Washout    int   // days kept free between two tests, at least 0
}

// Tests returns the number of tests of the layout.
func (p Problem) Tests() int { return p.Treatments * p.Blocks }

// A Slot is one planned test.
type Slot struct {
	Day       int // one of Problem.Days
	Block     int // from 0
	Treatment int // from 0
}

// A DoesNotFit error says that the days do not hold the tests.
type DoesNotFit struct {
	Needed int // tests of the layout
	Free   int // days on which a test may be held
	Room   int // tests that these days hold with the washout
}

func (e DoesNotFit) Error() string {
	return fmt.Sprintf("%d tests need %d test days, %d days are free and hold %d", e.Needed, e.Needed, e.Free, e.Room)
}

// Draw is the one random step of a study: a pure function of the problem and
// the seed. Every test takes the earliest day that the washout allows, so days
// and blocks are fixed by the problem; the order of the treatments is drawn.
//
// Distribution: over the seeds, each of the (Treatments!)^Blocks orders in
// which every block is a permutation of all treatments is equally likely, and
// blocks are independent. The error is DoesNotFit.
func Draw(p Problem, seed uint64) ([]Slot, error) {
	days := Place(p)
	if len(days) < p.Tests() {
		return nil, DoesNotFit{Needed: p.Tests(), Free: len(p.Days), Room: len(days)}
	}
	random := newSource(seed)
	slots := make([]Slot, 0, p.Tests())
	for block := range p.Blocks {
		for _, treatment := range random.permutation(p.Treatments) {
			slots = append(slots, Slot{Day: days[len(slots)], Block: block, Treatment: treatment})
		}
	}
	return slots, nil
}

// Place returns the earliest days for the tests, each with the washout behind
// the one before; fewer days than tests where not all fit. Taking the earliest
// day each time fits as many tests as can be fitted.
func Place(p Problem) []int {
	if p.Treatments < 1 || p.Blocks < 1 || p.Washout < 0 {
		panic("design: treatments, blocks or washout out of range")
	}
	var days []int
	for _, day := range p.Days {
		if len(days) == p.Tests() {
			break
		}
		if len(days) == 0 || day > days[len(days)-1]+p.Washout {
			days = append(days, day)
		}
	}
	return days
}

// Room returns how many tests the days hold with a washout between them.
func Room(days []int, washout int) int {
	return len(Place(Problem{Treatments: len(days) + 1, Blocks: 1, Days: days, Washout: washout}))
}
