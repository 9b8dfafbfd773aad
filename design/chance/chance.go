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
type Source struct {
	pcg     *rand.PCG
	batched bool
}

// A Stream keeps the draws of one use apart from other uses of the same seed.
type Stream uint64

// New returns a source for a seed and a use.
func New(seed uint64, use Stream) *Source { return &Source{pcg: rand.NewPCG(seed, uint64(use))} }

// NewBatched returns a source that takes several steps of a Shuffle from one
// random word, for many draws. Its distribution is that of New, its numbers are not.
func NewBatched(seed uint64, use Stream) *Source {
	return &Source{pcg: rand.NewPCG(seed, uint64(use)), batched: true}
}

// Below returns a number in [0, n), each equally likely: multiplication with
// rejection (Lemire 2019, ACM Trans. Model. Comput. Simul. 29:3, algorithm 5).
func (s *Source) Below(n int) int {
	bound := uint64(n)
	hi, lo := bits.Mul64(s.pcg.Uint64(), bound)
	if lo < bound { // else the threshold, which is less, need not be known
		for threshold := -bound % bound; lo < threshold; {
			hi, lo = bits.Mul64(s.pcg.Uint64(), bound)
		}
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

// Shuffle puts values into an order drawn uniformly, as ShuffleAt does.
func (s *Source) Shuffle(values []int) {
	if s.batched {
		s.shuffleBatched(values)
		return
	}
	for i := len(values) - 1; i > 0; i-- {
		k := s.Below(i + 1)
		values[i], values[k] = values[k], values[i]
	}
}

// mostOutcomes are the most outcomes that share a random word; a word is then
// drawn again less than once in 2²⁴.
const mostOutcomes = 1 << 40

// shuffleBatched is Shuffle with one random word for as many steps as have at
// most mostOutcomes outcomes together: the digits of a number below i(i−1)…, each
// the high half of a product whose low half is the word for the next
// (Brackett-Rozinsky and Lemire 2024, Softw. Pract. Exper. 55:293, arXiv 2408.06213).
func (s *Source) shuffleBatched(values []int) {
	for i := len(values); i > 1; {
		outcomes, last := uint64(i), i-1
		for ; last > 1 && outcomes*uint64(last) <= mostOutcomes; last-- {
			outcomes *= uint64(last)
		}
		word := s.pcg.Uint64()
		if word*outcomes < outcomes {
			for threshold := -outcomes % outcomes; word*outcomes < threshold; {
				word = s.pcg.Uint64()
			}
		}
		for ; i > last; i-- {
			var k uint64
			k, word = bits.Mul64(word, uint64(i))
			values[i-1], values[k] = values[k], values[i-1]
		}
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
