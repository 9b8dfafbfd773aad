package design

import (
	"slices"

	"mealtrial/design/chance"
)

// redraws keeps the schedules of Redraw apart from those of Draw.
const redraws chance.Stream = 0x72656472617773

// A Tally says how many orders were drawn and how many of them were allowed.
type Tally struct{ Draws, Tries int }

// An Order is an order of a problem that the draw allows, and the days it leads to.
// It is only valid while the function it was handed to has not returned.
type Order struct{ d *drawing }

// Treatments returns the treatments, by place in the order.
func (o Order) Treatments() []int { return o.d.order }

// Slots returns the schedule, as Draw does.
func (o Order) Slots() []Slot {
	o.d.fill()
	return o.d.slots
}

// Redraw repeats the draw of a problem: visit sees so many orders, each drawn by
// the steps of Draw and independent of the others, with random numbers of their
// own. It ends before when 20 000 orders in a row, or so many as tries in all, have
// been drawn in vain; 0 tries are no limit. It panics for negative numbers.
func Redraw(p Problem, seed uint64, draws, tries int, visit func(Order)) (done Tally) {
	p.check()
	if draws < 0 || tries < 0 {
		panic("design: negative number of draws")
	}
	d := newDrawing(&p)
	random := chance.NewBatched(seed, redraws)
	for done.Draws < draws {
		most := mostTries
		if tries > 0 {
			most = min(most, tries-done.Tries)
		}
		took, ok := d.next(random, most, func(Restriction) {})
		done.Tries += took
		if !ok {
			break
		}
		if done.Draws == 0 {
			d.settle()
		}
		done.Draws++
		visit(Order{d})
	}
	return done
}

// fit gives a day to every slot, and returns the restriction that fails, or "".
func (d *drawing) fit() Restriction {
	if d.anyOrder {
		return ""
	}
	d.fill()
	if d.sameDays {
		return d.checkOrder()
	}
	return d.place()
}

// settle looks, at an order that is allowed, for what no later one can change.
func (d *drawing) settle() {
	d.sameDays, d.anyOrder = d.p.FixedDays(), !d.p.Restricted()
	d.bySize = slices.DeleteFunc(d.bySize, func(blocks []int) bool {
		return !slices.ContainsFunc(blocks, func(j int) bool { return !sameContents(d.p.Blocks[j], d.p.Blocks[blocks[0]]) })
	})
	d.sameContents = len(d.bySize) == 0 && len(d.class) == 0
}

// FixedContents tells whether each block holds the same treatments in every order.
func (p Problem) FixedContents() bool {
	d := newDrawing(&p)
	d.settle()
	return d.sameContents
}

// FixedDays tells whether the tests lie on the same days in every order.
func (p Problem) FixedDays() bool { return p.alikeInDays(sequence(p.Treatments)) }

// Restricted tells whether some orders may be forbidden although others are not.
func (p Problem) Restricted() bool {
	return !p.FixedDays() || p.restrictsOrder()
}

func (p *Problem) restrictsOrder() bool { return p.NoRepeat || p.CarryOver != nil || p.Trend != nil }

func sameContents(a, b Block) bool {
	return slices.Equal(slices.Sorted(slices.Values(a.Contents)), slices.Sorted(slices.Values(b.Contents)))
}

// alikeInDays tells whether a change of places among some treatments leaves all
// days as they are: they are to be had on the same days, and as many days are
// kept free before and after them. Treatments that the problem does not know are
// passed over.
func (p *Problem) alikeInDays(treatments []int) bool {
	treatments = slices.DeleteFunc(slices.Clone(treatments), func(t int) bool { return t >= p.Treatments })
	free := func(days []int, t int) int {
		if days == nil {
			return p.Washout
		}
		return max(p.Washout, days[t])
	}
	return !slices.ContainsFunc(treatments, func(t int) bool {
		u := treatments[0]
		return free(p.After, t) != free(p.After, u) || free(p.Before, t) != free(p.Before, u) ||
			p.Available != nil && p.Available[t] != p.Available[u]
	})
}

// sequence returns 0 … n−1.
func sequence(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	return out
}
