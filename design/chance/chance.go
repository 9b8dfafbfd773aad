// Package chance makes random numbers that stay the same for a seed in every
// release and on every platform, because a drawn schedule is the record of a
// randomisation.
package chance

import (
	"math/bits"
	"math/rand/v2"
)

// A Source draws from a permuted congruential generator (O'Neill 2014, PCG).
// Bounded numbers and permutations are made here, so that no library may change
// a schedule that was drawn before.
type Source struct{ pcg *rand.PCG }

// A Stream keeps the draws of one use apart from other uses of the same seed.
type Stream uint64

// New returns a source for a seed and a use.
func New(seed uint64, use Stream) *Source { return &Source{rand.NewPCG(seed, uint64(use))} }

// Below returns a number in [0, n), each equally likely: multiplication with
// rejection (Lemire 2019, ACM Trans. Model. Comput. Simul. 29:3, algorithm 5).
func (s *Source) Below(n int) int {
	bound := uint64(n)
	hi, lo := bits.Mul64(s.pcg.Uint64(), bound)
	for threshold := -bound % bound; lo < threshold; {
		hi, lo = bits.Mul64(s.pcg.Uint64(), bound)
	}
	return int(hi)
}

// ShuffleAt puts the values at some places of a list into an order drawn
// uniformly (Durstenfeld 1964, Commun. ACM 7:420, algorithm 235).
func (s *Source) ShuffleAt(values, places []int) {
	for i := len(places) - 1; i > 0; i-- {
		a, b := places[i], places[s.Below(i+1)]
		values[a], values[b] = values[b], values[a]
	}
}

// Permutation returns the numbers 0 … n−1 in an order drawn uniformly.
func (s *Source) Permutation(n int) []int {
	order, places := make([]int, n), make([]int, n)
	for i := range order {
		order[i], places[i] = i, i
	}
	s.ShuffleAt(order, places)
	return order
}
