package design

import "slices"

// carryOverImbalance measures how unevenly treatments follow each other: the
// sum over ordered pairs of different treatments of the squared number of times
// the second follows the first. It is least when each food is preceded by each
// other as evenly as the size allows (first-order balance, Williams 1949,
// Australian Journal of Scientific Research A 2:149).
func carryOverImbalance(slots []Slot, treatments int) float64 {
	follows := make([]int, treatments*treatments)
	for i := 1; i < len(slots); i++ {
		follows[slots[i-1].Treatment*treatments+slots[i].Treatment]++
	}
	sum := 0
	for _, n := range follows {
		sum += n * n
	}
	return float64(sum)
}

// trendImbalance measures how far treatments lean to the start or the end of
// their blocks: the sum over treatments of the squared total of places within
// the block, counted from its middle. A linear drift within blocks then cancels
// out of their differences (Cox 1951, Biometrika 38:312; from memory).
func trendImbalance(slots []Slot, treatments int) float64 {
	lean := make([]float64, treatments)
	for first := 0; first < len(slots); {
		end := first
		for end < len(slots) && slots[end].Block == slots[first].Block {
			end++
		}
		for i := first; i < end; i++ {
			lean[slots[i].Treatment] += float64(i-first) - float64(end-first-1)/2
		}
		first = end
	}
	sum := 0.0
	for _, x := range lean {
		sum += x * x
	}
	return sum
}

// The share of orders that the balance restrictions keep, and the draws by
// which it is found.
const (
	balancedShare   = 0.05
	calibrationSize = 2000
)

// Balance returns the problem with limits on the imbalance of the order that
// keep about the best-balanced twentieth of the orders that are otherwise
// allowed (each kind by itself). The limits come from 2000 draws with fixed
// seeds and are a function of the problem alone. The error is that of Draw.
func Balance(p Problem, carryOver, trend bool) (Problem, error) {
	p.CarryOver, p.Trend = nil, nil
	var carry, lean []float64
	for seed := range uint64(calibrationSize) {
		slots, err := Draw(p, seed+1)
		if err != nil {
			return p, err
		}
		carry = append(carry, carryOverImbalance(slots, p.Treatments))
		lean = append(lean, trendImbalance(slots, p.Treatments))
	}
	limit := func(scores []float64) *float64 {
		slices.Sort(scores)
		return &scores[int(balancedShare*float64(len(scores)))]
	}
	if carryOver {
		p.CarryOver = limit(carry)
	}
	if trend {
		p.Trend = limit(lean)
	}
	return p, nil
}
