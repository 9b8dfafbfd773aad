package layout

import "mealtrial/design/chance"

// stream keeps the searches apart from other uses of the same seed.
const stream chance.Stream = 0x6c61796f7574

// A Search says how long and from where to search for a layout.
type Search struct {
	Seed uint64 // start of the random numbers

	// Exchanges is how many exchanges of two tests to score before the search
	// ends; the rest of the work is counted in the same coin. 0 means 8
	// million, about a third of a second on one core. The search ends earlier
	// when the layout found is proven optimal, and later, beyond some 50
	// treatments, when it has not reached a first local optimum by then.
	Exchanges int
}

const (
	usualExchanges = 8_000_000
	// improvement is the smallest relative gain that counts; less is rounding.
	improvement = 1e-9
)

// Find returns the layout found with the smallest weighted average variance
//
//	Σ w Var(cᵀτ) / Σ w,   Var(cᵀτ) = cᵀ C⁻ c σ²
//
// of the contrasts under response = treatment + block + error with fixed blocks
// (see Assess), among all layouts that keep the replicates, the block sizes, the
// most tests of a treatment in a block and the treatments required in every
// block. A contrast counts as it is scaled: doubling its coefficients quadruples
// its variance.
//
// Algorithm: from random layouts, tabu search over exchanges of two tests
// between two blocks, each scored in constant time as a change of rank two of C;
// it starts afresh when it stalls. All layouts can be reached by such exchanges
// (Ryser 1957, Canad. J. Math. 9:371, from memory). The result is proven optimal
// where it meets LowerBound, as complete and balanced incomplete blocks do, or
// where no second layout exists; otherwise it is the best found. LowerBound is
// the larger of the variance in an orthogonal layout and (tr W^½)²/max tr C,
// with W = Σ wccᵀ/Σ w (for all pairs of treatments this is the bound met by
// balanced incomplete blocks). Searches by exchange go back to Jones and
// Eccleston 1980, J. R. Stat. Soc. B 42:238 (from memory).
//
// Contrasts that leave some difference of treatments unasked may be answered
// best by a layout that is not connected; such are considered too. There the
// search compares to four digits or so. Weights more than a thousandfold apart
// may cost the light contrasts their estimability.
//
// Errors: ErrNoLayout, wrapped, when replicates, sizes and bounds contradict
// each other; NotEstimable when no layout found estimates all contrasts. It
// panics on a problem that cannot be meant: fewer than two treatments, no block,
// no contrast, numbers below 1, weights not positive, coefficients that do not
// add to 0, or lengths that differ.
func Find(p Problem, s Search) (Layout, error) {
	p.check()
	if s.Exchanges < 0 {
		panic("layout: negative number of exchanges")
	}
	if s.Exchanges == 0 {
		s.Exchanges = usualExchanges
	}
	weights := weightMatrix(p.treatments(), p.Contrasts)
	bound, rank := lowerBound(p, weights)
	t := newTabu(p, weights, bound, rank, s)
	for t.left > 0 && !t.optimal {
		if err := t.run(); err != nil {
			return Layout{}, err
		}
	}
	if lost := t.best.lost(); lost != nil {
		return Layout{}, newNotEstimable(p, lost, rank)
	}
	return Layout{
		Blocks:     newIncidence(t.v, t.b, t.bestCounts).blocks(),
		Assessment: t.best,
		LowerBound: bound,
		Optimal:    t.optimal,
	}, nil
}
