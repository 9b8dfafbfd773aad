package layout

import (
	"math"

	"mealtrial/design/chance"
)

// A tabu search walks from layout to layout, each time by the best exchange
// that does not put a treatment back where it was taken from a moment ago
// (Glover 1989, ORSA J. Comput. 1:190), and starts afresh when it stalls.
type tabu struct {
	*state
	p      Problem
	random *chance.Source
	bound  float64
	left   int // exchanges that may still be scored
	step   int
	barred []int // v×b: the step until which a treatment may not enter a block
	starts int

	bestValue  float64
	bestCounts []int
	best       Assessment
	optimal    bool
	movable    bool // the last scan found an exchange that the bounds allow
}

func newTabu(p Problem, weights []float64, bound float64, rank int, s Search) *tabu {
	v, b := p.treatments(), len(p.BlockSizes)
	// The ridge biases what is compared. A smaller one loses the way out of a
	// disconnected start, where scoring has a relative error of about
	// 10⁻¹⁶/ridge², and more digits still where the best layout may itself be
	// disconnected; that needs questions which leave some difference unasked.
	ridge := 1e-6
	if rank < v-1 {
		ridge = 1e-4
	}
	return &tabu{
		state:  newState(p, weights, ridge),
		p:      p,
		random: chance.New(s.Seed, stream),
		bound:  bound,
		left:   s.Exchanges,
		barred: make([]int, v*b),
	}
}

// Settings found by trial: smaller and larger ones are no better on 12
// treatments in blocks of 4 and 5, 24 in blocks of 6 and 40 in blocks of 5.
const (
	patience      = 500 // steps without gain after which to start afresh
	leastTenure   = 3   // steps for which a treatment may not return, at least
	tenureChoices = 8   // number of lengths to draw from
)

// run starts from a random layout and searches until it stalls. The first run
// goes on while it gains, so that at least one local optimum is reached.
func (t *tabu) run() error {
	start, err := place(t.p, t.random)
	if err != nil {
		return err
	}
	mix(start, t.least, t.most, t.random)
	t.incidence = start
	t.refresh()
	t.left -= t.refreshingWork
	t.record()
	t.starts++
	clear(t.barred)
	t.step = 0
	runBest, gained := t.value, true
	for stalled := 0; stalled < patience && !t.optimal && (t.left > 0 || t.starts == 1 && gained); stalled++ {
		t.step++
		e, found := t.bestExchange(runBest)
		if !found {
			// Where bounds leave no exchange there is no second layout: a longer
			// ring of moves always holds a shorter one, as a treatment has the
			// same bounds in every block.
			t.optimal = !t.movable
			return nil
		}
		t.apply(e)
		t.left -= t.refreshingWork
		t.barred[e.i*t.b+e.a] = t.step + t.tenure()
		t.barred[e.j*t.b+e.b] = t.step + t.tenure()
		if gained = t.value < runBest*(1-improvement); gained {
			runBest, stalled = t.value, 0
			t.record()
		}
	}
	return nil
}

func (t *tabu) tenure() int { return leastTenure + t.random.Below(tenureChoices) }

// bestExchange returns the exchange with the smallest average variance among
// those that are not barred or that beat the best of this run. found is false
// when there is none.
func (t *tabu) bestExchange(runBest float64) (best exchange, found bool) {
	t.movable = false
	beat := float64(runBest*(1-improvement)) - t.value
	smallest := infinite
	for a := range t.b {
		for b := a + 1; b < t.b; b++ {
			for _, i := range t.present[a] {
				for _, j := range t.present[b] {
					e := exchange{i: i, a: a, j: j, b: b}
					if !t.allows(e, t.least, t.most) {
						continue
					}
					t.movable = true
					t.left--
					change := t.change(e)
					if change < smallest && (change < beat || !t.isBarred(e)) {
						best, found, smallest = e, true, change
					}
				}
			}
		}
	}
	return best, found
}

func (t *tabu) isBarred(e exchange) bool {
	return t.barred[e.i*t.b+e.b] >= t.step || t.barred[e.j*t.b+e.a] >= t.step
}

// record keeps the present layout when it is the best so far: one that loses
// fewer contrasts, or none and has the smaller variance. It compares without
// the ridge.
func (t *tabu) record() {
	if t.bestCounts != nil && !(t.value < t.bestValue*(1-improvement)) {
		return
	}
	now := assess(t.incidence, t.p.Contrasts)
	if t.bestCounts != nil {
		lost, before := len(now.lost()), len(t.best.lost())
		if lost > before || lost == before && lost == 0 && now.Average >= t.best.Average {
			return
		}
	}
	t.best, t.bestValue = now, t.value
	t.bestCounts = append(t.bestCounts[:0], t.counts...)
	t.optimal = now.Average <= t.bound*(1+improvement)
}

// lost lists the contrasts that cannot be estimated.
func (a Assessment) lost() []int {
	var list []int
	for q, variance := range a.Variances {
		if math.IsInf(variance, 1) {
			list = append(list, q)
		}
	}
	return list
}
