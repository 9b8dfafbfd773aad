package design

import "slices"

// carryOverImbalance measures how unevenly treatments follow each other: the
// sum over ordered pairs of different treatments of the squared number of times
// the second follows the first. It is least when each treatment is preceded by each
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

// The shares of orders that a balance restriction keeps at least, by itself and
// beside another, and the draws by which its limit is found.
const (
	shareAlone      = 0.005
	shareBeside     = 0.02
	calibrationSize = 20000
	// Where few orders are allowed, draws take many tries; then fewer draws do.
	calibrationTries = 2_000_000
	calibrationLeast = 200
)

// Balance returns the problem with limits on the imbalance of its order. Each
// limit is the smallest imbalance that at least one in 200 of the otherwise
// allowed orders do not exceed (one in 50, where both are balanced). For few
// treatments that is the most even order there is, among them the serially balanced
// sequences of Finney and Outhwaite (1956, Proceedings of the Royal Society B
// 145:493) where they exist; for many treatments it is among the most even, and
// leaves enough orders for a randomisation test. The limits come from up to
// 20 000 draws with fixed seeds and are a function of the problem alone. The error is
// that of Draw.
func Balance(p Problem, carryOver, trend bool) (Problem, error) {
	p.CarryOver, p.Trend = nil, nil
	share := shareAlone
	if carryOver && trend {
		share = shareBeside
	}
	var err error
	if carryOver {
		if p.CarryOver, err = limit(p, carryOverImbalance, share, calibrationSize); err != nil {
			return p, err
		}
	}
	if trend {
		n := calibrationSize
		if carryOver {
			n = int(1 / (share * share)) // each of these takes many draws
		}
		p.Trend, err = limit(p, trendImbalance, share, n)
	}
	return p, err
}

// limit returns the smallest score that at least a share of n draws do not exceed.
func limit(p Problem, score func([]Slot, int) float64, share float64, n int) (*float64, error) {
	var scores []float64
	for tries := 0; len(scores) < n && (tries < calibrationTries || len(scores) < calibrationLeast); {
		slots, took, err := draw(p, uint64(len(scores))+1)
		if err != nil {
			return nil, err
		}
		tries += took
		scores = append(scores, score(slots, p.Treatments))
	}
	slices.Sort(scores)
	return &scores[int(share*float64(len(scores)))], nil
}
