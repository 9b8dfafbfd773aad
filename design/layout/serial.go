package layout

import (
	"errors"

	"mealtrial/design/chance"
)

// A SeriesType says whether a treatment may follow itself.
type SeriesType int

const (
	Type2 SeriesType = iota // no treatment follows itself
	Type1                   // each treatment also follows itself
)

var (
	// ErrNoneExists says that the whole search tree holds no sequence.
	ErrNoneExists = errors.New("no serially balanced sequence of this kind exists")

	// ErrUndecided says that the search gave up with part of the tree unseen.
	ErrUndecided = errors.New("search for a serially balanced sequence gave up: none found and none ruled out")
)

// SeriallyBalanced finds a sequence of tests for one person in which each
// treatment follows each other one exactly index times. After one conditioning
// test of treatment 0, which is not analysed but does precede, come blocks in
// which each of the n treatments stands once:
//
//	type 1, a treatment also follows itself index times: n·index blocks
//	type 2, a treatment never follows itself:        (n−1)·index blocks
//
// so that the n²·index or n(n−1)·index successions come out even. Successions
// count across the borders of blocks, the only place where a treatment can
// follow itself. Starting with treatment 0 is no restriction, as labels may be
// exchanged. The first number returned is the conditioning test.
//
// The search backtracks over the tests, with branches in an order drawn from
// the seed, and starts afresh with a longer leash while it finds nothing. The
// error is ErrNoneExists when a search ran through the whole tree, and
// ErrUndecided when none did within 100 million steps, some three seconds. Known
// for type 1, index 1: none for n = 3, 4, 5, some for n = 2 and n = 6 … 34
// (Nonyane and Theobald 2007, Br. J. Math. Stat. Psychol. 60:339).
//
// Different seeds give different sequences, not each equally likely.
//
// It panics for n outside 2 … 64, index < 1 or an unknown type. Finney and
// Outhwaite 1956, Proc. R. Soc. B 145:493, read in abstract only: the index is
// defined as by Nonyane and Theobald, and gives the known numbers of sequences.
func SeriallyBalanced(n int, t SeriesType, index int, seed uint64) ([]int, error) {
	random := chance.New(seed, stream)
	for leash, left := 10_000, longestLeash; left > 0; leash *= 2 {
		s := newSeries(n, t, index, random)
		s.steps = min(leash, left)
		left -= s.steps
		if s.extend(0, func([]int) bool { return false }) {
			return s.tests, nil
		}
		if s.steps > 0 {
			return nil, ErrNoneExists
		}
	}
	return nil, ErrUndecided
}

const (
	longestLeash = 100_000_000
	mostSerial   = 64 // treatments of a block are bits of a word
)

// A series is a sequence on its way through the search tree.
type series struct {
	n      int
	self   bool
	blocks int
	order  [][]int // order[position]: in which order to try the treatments there
	open   []int   // n×n: how often the second may still follow the first
	tests  []int   // the conditioning test and those after it
	steps  int     // tests that may still be tried
}

// newSeries tries treatments in random order, or in ascending order when random
// is nil.
func newSeries(n int, t SeriesType, index int, random *chance.Source) *series {
	if n < 2 || n > mostSerial || index < 1 || t != Type1 && t != Type2 {
		panic("layout: treatments, index or type of a series out of range")
	}
	s := &series{n: n, self: t == Type1, blocks: (n - 1) * index, open: make([]int, n*n)}
	if s.self {
		s.blocks = n * index
	}
	for i := range n {
		for j := range n {
			if i != j || s.self {
				s.open[i*n+j] = index
			}
		}
	}
	ascending := make([]int, n)
	for i := range ascending {
		ascending[i] = i
	}
	for range s.blocks * n {
		order := ascending
		if random != nil {
			order = random.Permutation(n)
		}
		s.order = append(s.order, order)
	}
	s.tests = append(make([]int, 0, 1+s.blocks*n), 0)
	return s
}

// extend completes the sequence and returns true, or returns false with the
// sequence as it was. used has a bit for each treatment of the present block.
// For each complete sequence it asks goOn whether to look for another.
func (s *series) extend(used uint64, goOn func(tests []int) bool) bool {
	done := len(s.tests) - 1
	if done == s.blocks*s.n {
		return !goOn(s.tests)
	}
	last := s.tests[done]
	starts := done%s.n == 0
	if starts {
		used = 0
	}
	for _, next := range s.order[done] {
		// There are as many borders as self-successions of type 1, and these
		// fit nowhere else: there every block starts as the one before ended.
		if used&(1<<next) != 0 || s.open[last*s.n+next] == 0 || starts && s.self && next != last {
			continue
		}
		if s.steps == 0 {
			return false
		}
		s.steps--
		s.open[last*s.n+next]--
		s.tests = append(s.tests, next)
		if s.extend(used|1<<next, goOn) {
			return true
		}
		s.tests = s.tests[:done+1]
		s.open[last*s.n+next]++
	}
	return false
}
