// Package randomisation tests what a study shows against the random draw of its
// own schedule, and against nothing else: no normal errors, no equal spread, no
// independence of tests is assumed. A test is exact when its p-value is at most
// any α with a chance of at most α, over the draws, if the hypothesis holds
// (Fisher 1935, The Design of Experiments, section 21; Edgington and Onghena 2007,
// Randomization Tests, 4th ed., chapters 1 and 4; from memory).
//
// What is held against the draw is a sharp hypothesis: the response that was
// measured at a place of the order would have been the same whichever of the
// treatments in question had stood there. It says nothing on the level of other
// places, which may drift or jump. Two assumptions come with it, for which no
// draw can stand:
//
//   - A response belongs to its place in the order. Where treatments keep unequal
//     days free, another order has other days, and the response is taken to move
//     with its place; Test.DaysMove says when that happened.
//   - Whether a test was lost or left out does not depend on which of the
//     treatments in question it was: it stays missing at its place.
//
// Sizes that do not match and values that are not numbers are mistakes of the
// program and panic. Everything random follows from a seed.
package randomisation

import (
	"errors"
	"math"
	"math/big"

	"mealtrial/design"
)

// ErrNotEstimable says that the responses that are there do not tell the
// difference, whatever its size.
var ErrNotEstimable = errors.New("not estimable from the tests that count")

// ErrNoResidual says that no spread is left to hold differences against.
var ErrNoResidual = errors.New("no degrees of freedom are left for the spread")

// Data are a drawn schedule and its responses.
type Data struct {
	Parts []design.Part // one, or more where the schedule was amended
	// Response by place, see design.Places. NaN: there is none, or it does not
	// count. Those of places that were not kept are not looked at.
	Response []float64
}

// An Effort says how much is computed. The zero value is the usual choice.
type Effort struct {
	// Orders is the number of orders, restrictions left aside, up to which every
	// one is looked at and the test is exact without chance; 0: 2²⁰.
	Orders int
	// Draws is the number of random orders looked at otherwise; 0: 100 000.
	Draws int
	// Tries are the most orders drawn to get so many allowed ones; then fewer draws
	// do, and the test stays valid. 0: 20 · Draws.
	Tries int
	Seed  uint64
}

func (e Effort) filled() Effort {
	if e.Orders < 0 || e.Draws < 0 || e.Tries < 0 {
		panic("randomisation: negative effort")
	}
	if e.Orders == 0 {
		e.Orders = 1 << 20
	}
	if e.Draws == 0 {
		e.Draws = 100_000
	}
	if e.Tries == 0 {
		e.Tries = 20 * e.Draws
	}
	return e
}

// A Null is the hypothesis that a test holds against the draw.
type Null string

// The hypotheses.
const (
	// AllAlike: no treatment differs from any other. A test of a contrast under it
	// is no test of that contrast where other treatments differ.
	AllAlike Null = "no treatment differs from any other"
	// PairAlike: two treatments do not differ, whatever the others do.
	PairAlike Null = "the two treatments do not differ, whatever the others do"
)

// A Test is the result of a randomisation test.
type Test struct {
	Null Null
	// P is the two-sided p-value, in (0, 1]: of all orders, the share in which the
	// statistic is at least as large as in the order that was drawn, that one
	// included. If not Exact, it is
	//
	//	(1 + number at least as large) / (1 + Draws)
	//
	// of random orders, which keeps the level too (Phipson and Smyth 2010, Stat Appl
	// Genet Mol Biol 9:39), and Error is its Monte Carlo standard error.
	P     float64
	Exact bool
	Draws int     // random orders looked at; 0 when Exact
	Error float64 // 0 when Exact
	// Orders is the number of orders that are equally likely under Null, given all
	// that is held fixed: exact when every one was looked at or all are allowed.
	Orders design.Count
	// Smallest is the smallest P that this schedule could have given, whatever the
	// responses: the share of the orders that are as extreme as the drawn one in any
	// case, such as the one with both treatments exchanged throughout. If not Exact,
	// it is 1 / (1 + Draws).
	Smallest float64
	// DaysMove says that another order has tests on other days.
	DaysMove bool
}

// tie is how far a statistic, a share in [0, 1], may lie below the observed one
// and still count as equal.
const tie = 1e-10

// A tester counts orders against the observed one.
type tester struct {
	observed  float64
	statistic func(treatments []int) float64
	alike     func(treatments []int) bool // as extreme as the observed one in any case; asked after statistic
	larger    int
	same      int
}

func (t *tester) look(treatments []int) {
	if t.statistic(treatments) >= t.observed-tie {
		t.larger++
	}
}

func (t *tester) lookClosely(treatments []int) {
	t.look(treatments)
	if t.alike(treatments) {
		t.same++
	}
}

// orders are the orders that a statistic is held against.
type orders interface {
	// number is how many there are without restrictions.
	number() *big.Int
	// restricted tells whether some may be forbidden.
	restricted() bool
	each(visit func(treatments []int))
	sample(seed uint64, draws, tries int, visit func(treatments []int)) design.Tally
	moved() bool
}

// run holds the observed order against all, or against random ones.
func (t *tester) run(o orders, e Effort) Test {
	e = e.filled()
	number := o.number()
	if number.Cmp(big.NewInt(int64(e.Orders))) <= 0 {
		seen := 0
		o.each(func(treatments []int) {
			seen++
			t.lookClosely(treatments)
		})
		return Test{Exact: true, P: float64(t.larger) / float64(seen), Smallest: float64(t.same) / float64(seen),
			Orders: design.ExactCount(big.NewInt(int64(seen)), number), DaysMove: o.moved()}
	}
	done := o.sample(e.Seed, e.Draws, e.Tries, t.look)
	n := float64(done.Draws)
	r := Test{Draws: done.Draws, P: float64(1+t.larger) / (1 + n), Smallest: 1 / (1 + n), DaysMove: o.moved()}
	if n > 0 {
		share := float64(t.larger) / n
		r.Error = math.Sqrt(share*(1-share)*n) / (1 + n)
	}
	if o.restricted() {
		if done.Draws == 0 { // then the order that was drawn is the only one known
			done = design.Tally{Draws: 1, Tries: done.Tries + 1}
		}
		r.Orders = design.EstimatedCount(number, done)
	} else {
		r.Orders = design.ExactCount(number, number)
	}
	return r
}
