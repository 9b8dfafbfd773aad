package layout

import (
	"math/bits"
	"math/rand/v2"
)

// A source draws from a permuted congruential generator (O'Neill 2014, PCG),
// whose output for a seed is the same in every release and on every platform.
type source struct{ pcg *rand.PCG }

// stream keeps the draws of this package apart from other uses of the same seed.
const stream = 0x6c61796f7574

func newSource(seed uint64) *source { return &source{rand.NewPCG(seed, stream)} }

// below returns a number in [0, n), each equally likely: multiplication with
// rejection (Lemire 2019, ACM Trans. Model. Comput. Simul. 29:3, algorithm 5).
func (s *source) below(n int) int {
	bound := uint64(n)
	hi, lo := bits.Mul64(s.pcg.Uint64(), bound)
	for threshold := -bound % bound; lo < threshold; {
		hi, lo = bits.Mul64(s.pcg.Uint64(), bound)
	}
	return int(hi)
}

// permutation returns the numbers 0 … n−1 in an order drawn uniformly
// (Durstenfeld 1964, Commun. ACM 7:420, algorithm 235).
func (s *source) permutation(n int) []int {
	order := make([]int, n)
	for i := range order {
		order[i] = i
	}
	for i := n - 1; i > 0; i-- {
		j := s.below(i + 1)
		order[i], order[j] = order[j], order[i]
	}
	return order
}
