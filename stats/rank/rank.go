// Package rank holds statistics of ranks for two groups within blocks: for
// ratings, of which only the order is sure.
//
// Arguments outside their domain are mistakes of the program and panic with
// "rank: …".
package rank

import (
	"maps"
	"math"
	"slices"
)

// A Block holds the values of two groups that are compared within it.
type Block struct{ A, B []float64 }

// Midranks returns the ranks of the values from 1, equal values with the mean of
// their ranks.
func Midranks(values []float64) []float64 {
	order := make([]int, len(values))
	for i := range order {
		if math.IsNaN(values[i]) {
			panic("rank: a value is not a number")
		}
		order[i] = i
	}
	slices.SortStableFunc(order, func(i, j int) int {
		switch {
		case values[i] < values[j]:
			return -1
		case values[i] > values[j]:
			return 1
		}
		return 0
	})
	ranks := make([]float64, len(values))
	for from := 0; from < len(order); {
		to := from
		for to < len(order) && values[order[to]] == values[order[from]] {
			to++
		}
		for _, i := range order[from:to] {
			ranks[i] = float64(from+1+to) / 2
		}
		from = to
	}
	return ranks
}

// Superiority returns the number of pairs of a value of A and one of B in the same
// block, and of these the share in which A's is the larger, equal ones counting
// half: the Mann–Whitney statistic over the number of pairs, ½ where neither group
// tends to be larger. The share is NaN without a pair. Mann and Whitney 1947,
// Annals of Mathematical Statistics 18:50 (from memory).
func Superiority(blocks []Block) (share float64, pairs int) {
	wins := 0.0
	for _, b := range blocks {
		for _, x := range b.A {
			for _, y := range b.B {
				pairs++
				switch {
				case x > y:
					wins++
				case x == y:
					wins += 0.5
				}
			}
		}
	}
	return wins / float64(pairs), pairs
}

// A Test is the result of a rank test.
type Test struct {
	// W is the sum of the midranks of A within its blocks.
	W float64
	// Expected is the mean of W if the groups do not differ.
	Expected float64
	// P is the two-sided p-value, in (0, 1]: the share of all ways to share out the
	// values of each block with W at least as far from Expected.
	P float64
	// Smallest is the smallest P that values with these ties can give.
	Smallest float64
}

// Stratified tests whether the values of A tend to be larger or smaller than
// those of B in the same block, by the exact distribution of the sum of A's ranks
// when within each block every way to share its values out among A and B is
// equally likely; ties keep their midranks. With one block it is the exact
// Wilcoxon–Mann–Whitney test, with pairs the sign test. Blocks without one of the
// groups say nothing and are left out. Van Elteren 1960, Bulletin of the
// International Statistical Institute 37:351 (from memory).
func Stratified(blocks []Block) Test {
	t := Test{P: 1, Smallest: 1}
	ways, far := map[int]float64{0: 1}, 0 // W doubled, so that midranks are whole
	mean := 0.0
	for _, b := range blocks {
		if len(b.A) == 0 || len(b.B) == 0 {
			continue
		}
		ranks := Midranks(append(slices.Clone(b.A), b.B...))
		for _, r := range ranks[:len(b.A)] {
			t.W += r
			far += int(2 * r)
		}
		mean += float64(len(b.A)) * float64(len(ranks)+1) / 2
		ways = convolve(ways, subsetSums(ranks, len(b.A)))
	}
	t.Expected = mean
	if mean == 0 {
		return t
	}
	distance := func(w int) float64 { return math.Abs(float64(w) - 2*mean) }
	p, most, atMost := 0.0, 0.0, 0.0
	for _, w := range inOrder(ways) { // so that a p has the same last digit each time
		share := ways[w]
		if distance(w) >= distance(far)-1e-9 {
			p += share
		}
		switch d := distance(w); {
		case d > most+1e-9:
			most, atMost = d, share
		case d > most-1e-9:
			atMost += share
		}
	}
	t.P, t.Smallest = math.Min(1, p), math.Min(1, atMost)
	return t
}

// subsetSums returns the shares of the doubled sums of k of the ranks.
func subsetSums(ranks []float64, k int) map[int]float64 {
	by := make([]map[int]float64, k+1)
	for i := range by {
		by[i] = map[int]float64{}
	}
	by[0][0] = 1
	for _, r := range ranks {
		for i := k; i > 0; i-- {
			for sum, n := range by[i-1] {
				by[i][sum+int(2*r)] += n
			}
		}
	}
	total := 0.0
	for _, n := range by[k] {
		total += n
	}
	for sum := range by[k] {
		by[k][sum] /= total
	}
	return by[k]
}

func convolve(a, b map[int]float64) map[int]float64 {
	out := map[int]float64{}
	sums := inOrder(b)
	for _, x := range inOrder(a) {
		for _, y := range sums {
			out[x+y] += a[x] * b[y]
		}
	}
	return out
}

func inOrder(shares map[int]float64) []int { return slices.Sorted(maps.Keys(shares)) }
