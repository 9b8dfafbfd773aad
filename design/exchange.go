package design

import (
	"math/big"
	"slices"

	"mealtrial/design/chance"
)

// exchanges keeps the random orders of an Exchange apart from other draws.
const exchanges chance.Stream = 0x65786368616e6765

// An Exchange is a drawn schedule together with the schedules that might as well
// have been drawn, given all that is not exchanged: some treatments change
// places within each stratum, the places of one block that were drawn at once.
//
// Every one of these schedules was drawn with the same probability. Draw makes
// each allowed outcome of its three steps equally likely. A schedule belongs to
// the same number of outcomes as any other one: those are the relabellings of
// classes and exchanges of contents that give its blocks their contents, which
// form a coset of one group, times the orders of each block that repeated
// treatments make look alike; and relabelling or moving contents changes neither
// number. So Draw is uniform over the schedules that are allowed. Given which
// treatments each block holds, and all places but those of the exchanged
// treatments, it is uniform over the exchanges within blocks that the
// restrictions allow: where treatments changed their labels or blocks their
// contents is part of what is given, and nothing has to be known of it.
//
// In an amended schedule each part was drawn so, given the parts before it. An
// exchange in an earlier part leaves the chances of the later draw as they are if
// it leaves its problem as it is. So these stay: what a later part replaced or
// planned again, the days of an earlier part, and the treatment last eaten before
// a later part whose first test looks back to it. An exchange that the earlier
// problem forbids, beside what was replaced, is not counted.
type Exchange struct {
	strata     [][]int // places, of the parts' slots one after the other
	treatments []int   // as drawn, then of the order looked at
	parts      []partOrder
	moved      bool
}

// partOrder looks whether a part may have an order.
type partOrder struct {
	drawing  *drawing
	first    int  // place of its first slot
	free     bool // any exchange is allowed, and moves no day
	sameDays bool
	earlier  bool  // a later part was drawn behind it
	days     []int // as drawn
}

// NewExchange returns the exchanges of some treatments in a schedule. The error
// is ErrNotDrawn. It panics for slots that do not belong to their problem.
func NewExchange(parts []Part, among []int) (*Exchange, error) {
	x := &Exchange{}
	for r := range parts {
		p := &parts[r]
		p.check()
		x.addStrata(p, among, fixedLast(parts, r, among))
		if err := x.addOrder(p, among, r < len(parts)-1); err != nil {
			return nil, err
		}
	}
	return x, nil
}

// addStrata adds the places of a part that may be exchanged, all kept.
func (x *Exchange) addStrata(p *Part, among []int, fixed int) {
	byBlock := make([][]int, len(p.Problem.Blocks))
	first := len(x.treatments)
	for i, s := range p.Slots {
		x.treatments = append(x.treatments, s.Treatment)
		if p.fate(i) == Kept && i != fixed && slices.Contains(among, s.Treatment) {
			byBlock[s.Block] = append(byBlock[s.Block], first+i)
		}
	}
	for _, places := range byBlock {
		if slices.ContainsFunc(places, func(i int) bool { return x.treatments[i] != x.treatments[places[0]] }) {
			x.strata = append(x.strata, places)
		}
	}
}

// fixedLast returns the last slot of a part that was held, if the draw of a later
// part may have looked back to its treatment; else −1.
func fixedLast(parts []Part, r int, among []int) int {
	looksBack := func(p Part) bool {
		return !p.Problem.alikeInDays(among) || p.Problem.NoRepeat && len(p.Problem.Held) > 0
	}
	if !slices.ContainsFunc(parts[r+1:], looksBack) {
		return -1
	}
	last := len(parts[r].Slots) - 1
	for last >= 0 && parts[r].fate(last) == Replaced {
		last--
	}
	return last
}

func (x *Exchange) addOrder(p *Part, among []int, earlier bool) error {
	o := partOrder{drawing: newDrawing(&p.Problem), first: len(x.treatments) - len(p.Slots), earlier: earlier}
	copy(o.drawing.slots, p.Slots)
	if o.drawing.place() != "" || !slices.Equal(o.drawing.slots, p.Slots) {
		return ErrNotDrawn
	}
	for _, s := range p.Slots {
		o.days = append(o.days, s.Day)
	}
	o.sameDays = p.Problem.alikeInDays(among)
	o.free = o.sameDays && !p.Problem.restrictsOrder()
	x.parts = append(x.parts, o)
	return nil
}

// Orders returns the number of exchanges without the restrictions, the drawn
// order among them: the product over strata of n! / Π nₜ!.
func (x *Exchange) Orders() *big.Int {
	number := big.NewInt(1)
	for _, places := range x.strata {
		number.Mul(number, arrangements(x.treatments, places))
	}
	return number
}

// Restricted tells whether restrictions may forbid some of the exchanges.
func (x *Exchange) Restricted() bool {
	return slices.ContainsFunc(x.parts, func(o partOrder) bool { return !o.free })
}

// Moved tells whether one of the orders that were allowed so far puts a test on
// another day.
func (x *Exchange) Moved() bool { return x.moved }

// Each shows every allowed order, the drawn one among them, as treatments by
// place; what it shows is only valid until visit returns.
func (x *Exchange) Each(visit func(treatments []int)) {
	work := slices.Clone(x.treatments)
	for _, places := range x.strata {
		sortAt(work, places)
	}
	for more := true; more; {
		if x.allowed(work) {
			visit(work)
		}
		more = false
		for i := 0; i < len(x.strata) && !more; i++ {
			more = nextAt(work, x.strata[i])
		}
	}
}

// Sample shows so many random ones of the allowed orders, each equally likely and
// independent of the others. It ends before as Redraw does.
func (x *Exchange) Sample(seed uint64, draws, tries int, visit func(treatments []int)) (done Tally) {
	if draws < 0 || tries < 0 {
		panic("design: negative number of draws")
	}
	random := chance.New(seed, exchanges)
	work := slices.Clone(x.treatments)
	for vain := 0; done.Draws < draws && vain < mostTries && (tries == 0 || done.Tries < tries); vain++ {
		done.Tries++
		for _, places := range x.strata {
			random.ShuffleAt(work, places)
		}
		if x.allowed(work) {
			done.Draws++
			vain = -1
			visit(work)
		}
	}
	return done
}

// allowed tells whether each part could have been drawn with these treatments.
func (x *Exchange) allowed(treatments []int) bool {
	moved := false
	for i := range x.parts {
		o := &x.parts[i]
		if o.free {
			continue
		}
		if !o.fits(treatments[o.first:]) {
			return false
		}
		if !o.sameDays && o.moves() {
			if o.earlier {
				return false
			}
			moved = true
		}
	}
	x.moved = x.moved || moved
	return true
}

func (o *partOrder) fits(treatments []int) bool {
	for i := range o.drawing.slots {
		o.drawing.slots[i].Treatment = treatments[i]
	}
	if o.sameDays {
		return o.drawing.checkOrder() == ""
	}
	return o.drawing.place() == ""
}

func (o *partOrder) moves() bool {
	for i, s := range o.drawing.slots {
		if s.Day != o.days[i] {
			return true
		}
	}
	return false
}
