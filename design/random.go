package design

import (
	"math/bits"
	"math/rand/v2"
)

// A source draws from a permuted congruential generator (O'Neill 2014, PCG),
// whose output for a seed is the same in every release and on every platform.
// Bounded numbers and permutations are made here, so that no library may
// change a schedule that was drawn before.
type source struct{ pcg *rand.PCG }

// stream keeps the draws of this program apart from other uses of the same seed.
const stream = 0x6d65616c747269

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

// shuffleAt puts the values at some places of a list into an order drawn
// uniformly (Durstenfeld 1964, Commun. ACM 7:420, algorithm 235).
func (s *source) shuffleAt(values, places []int) {
	for i := len(places) - 1; i > 0; i-- {
		a, b := places[i], places[s.below(i+1)]
		values[a], values[b] = values[b], values[a]
	}
}
