package design

import (
	"fmt"
	"slices"

	"mealtrial/design/chance"
)

// stream keeps the draws of schedules apart from other uses of the same seed.
const stream chance.Stream = 0x6d65616c747269

// mostTries bounds the redrawing until every restriction is satisfied.
const mostTries = 20000

// A Restriction names what kept a draw from fitting.
type Restriction string

// The restrictions, in the order in which they are looked at.
const (
	Consecutive  Restriction = "no treatment on two consecutive tests"
	CarryOver    Restriction = "carry-over balance"
	TrendBalance Restriction = "trend balance"
	Days         Restriction = "free days"
	Weekly       Restriction = "tests a week"
	Availability Restriction = "availability of a treatment"
	WantedDays   Restriction = "a test on each wanted day"
)

// A DoesNotFit error says that no draw satisfied the restrictions.
type DoesNotFit struct {
	Needed int                 // tests of the layout
	Placed int                 // most tests that a draw could place before it failed
	Tries  int                 // draws that were made
	Failed map[Restriction]int // how many failed by each restriction
	Scarce map[int]int         // by treatment: how many of them failed by its availability
}

func (e DoesNotFit) Error() string {
	return fmt.Sprintf("%d tests needed, at most %d could be placed in %d draws", e.Needed, e.Placed, e.Tries)
}

// Worst returns the restriction that failed most of the draws that came furthest:
// where some order was allowed, it is one of those on days.
func (e DoesNotFit) Worst() Restriction {
	for _, kind := range [][]Restriction{{Days, Weekly, Availability, WantedDays}, {Consecutive, CarryOver, TrendBalance}} {
		worst := kind[0]
		for _, r := range kind {
			if e.Failed[r] > e.Failed[worst] {
				worst = r
			}
		}
		if e.Failed[worst] > 0 {
			return worst
		}
	}
	return Days
}

// Draw is the one random step of a study: a pure function of the problem and
// the seed. The order of a schedule is made in three steps, each uniform and
// independent of the others: treatments of one class change places, the contents
// of blocks of one size change places, and each block is put in order. Every
// test then takes the earliest day that the order allows.
//
// Distribution: orders that break a restriction or do not fit their days are
// drawn again, so over the seeds each outcome of the three steps that satisfies
// all restrictions is equally likely. For complete blocks these are the
// (Treatments!)^Blocks orders, as far as they are allowed.
//
// The error is DoesNotFit when 20 000 draws all failed.
func Draw(p Problem, seed uint64) ([]Slot, error) {
	slots, _, err := draw(p, seed)
	return slots, err
}

// draw is Draw, with the number of orders it took.
func draw(p Problem, seed uint64) (slots []Slot, tries int, err error) {
	p.check()
	d := newDrawing(&p)
	e := DoesNotFit{Needed: len(d.slots), Tries: mostTries, Failed: map[Restriction]int{}, Scarce: map[int]int{}}
	tries, ok := d.next(chance.New(seed, stream), mostTries, func(failed Restriction) { e.add(d, failed) })
	if !ok {
		return nil, tries, e
	}
	return d.slots, tries, nil
}

// next draws orders until one is allowed, at most so many, and returns how many
// it took. failed is told of every other one; ok is false when all failed, or are
// bound to.
func (d *drawing) next(random *chance.Source, most int, failed func(Restriction)) (tries int, ok bool) {
	for tries < most {
		tries++
		d.shuffle(random)
		r := d.fit()
		if r == "" {
			return tries, true
		}
		failed(r)
		if r == Days && d.hopeless() {
			break
		}
	}
	return tries, false
}

// add counts an order that failed.
func (e *DoesNotFit) add(d *drawing, failed Restriction) {
	e.Failed[failed]++
	if failed == Availability {
		e.Scarce[d.scarce]++
	}
	e.Placed = max(e.Placed, d.placed)
	if failed == Days && d.hopeless() {
		e.Tries = e.Failed[Days]
	}
}

// A drawing is the state of one draw.
type drawing struct {
	p      *Problem
	slots  []Slot
	order  []int // treatments of the slots
	label  []int // label[i] is the treatment that stands for i in this draw
	source []int // source[j] is the block whose contents stand in block j
	bySize [][]int
	class  [][]int
	placed int
	scarce int // the treatment that could not be had when Availability failed
	// What many draws of one problem make use of: the slots have their days, whatever
	// the order; no order is forbidden; each block has its contents, which stay.
	sameDays, anyOrder, sameContents bool
}

func newDrawing(p *Problem) *drawing {
	d := &drawing{p: p, slots: make([]Slot, p.Tests()), order: make([]int, p.Tests()),
		label: make([]int, p.Treatments), source: make([]int, len(p.Blocks))}
	for i := range d.label {
		d.label[i] = i
	}
	n := 0
	for j, b := range p.Blocks {
		d.source[j] = j
		for range b.Contents {
			d.slots[n].Block = j
			n++
		}
	}
	d.class = groups(p.Treatments, func(i int) int {
		if p.Class == nil {
			return i
		}
		return p.Class[i]
	})
	d.bySize = groups(len(p.Blocks), func(j int) int { return len(p.Blocks[j].Contents) })
	return d
}

// groups collects the numbers below n that share a key, groups of one left out.
func groups(n int, key func(int) int) [][]int {
	var keys []int
	byKey := map[int][]int{}
	for i := range n {
		k := key(i)
		if byKey[k] == nil {
			keys = append(keys, k)
		}
		byKey[k] = append(byKey[k], i)
	}
	var out [][]int
	for _, k := range keys {
		if len(byKey[k]) > 1 {
			out = append(out, byKey[k])
		}
	}
	return out
}

// shuffle makes the three steps of a draw.
func (d *drawing) shuffle(random *chance.Source) {
	for _, class := range d.class {
		random.ShuffleAt(d.label, class)
	}
	for _, blocks := range d.bySize {
		random.ShuffleAt(d.source, blocks)
	}
	n := 0
	for j := range d.p.Blocks {
		block := d.order[n : n+len(d.p.Blocks[j].Contents)]
		if !d.sameContents {
			for i, t := range d.p.Blocks[d.source[j]].Contents {
				block[i] = d.label[t]
			}
		}
		random.Shuffle(block)
		n += len(block)
	}
}

// fill puts the treatments of the order into the slots.
func (d *drawing) fill() {
	for i, t := range d.order {
		d.slots[i].Treatment = t
	}
}

// hopeless tells whether the days fail whatever the order: then the order plays
// no part in the restrictions on days, and trying again is of no use.
func (d *drawing) hopeless() bool {
	p := d.p
	return p.After == nil && p.Before == nil && p.Available == nil && len(p.Wanted) == 0 &&
		!slices.ContainsFunc(p.Blocks, func(b Block) bool { return len(b.Contents) != len(p.Blocks[0].Contents) })
}
