package layout

import (
	"errors"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// Numbers of sequences from an exhaustive search by another program, written
// for this project's table of test values; the zeros for type 1, index 1 with
// 3, 4 and 5 treatments also stand in Nonyane and Theobald 2007, Br. J. Math.
// Stat. Psychol. 60:339.
func TestNumberOfSeriallyBalancedSequences(t *testing.T) {
	for _, c := range []struct {
		n     int
		kind  SeriesType
		index int
		want  int
	}{
		{2, Type1, 1, 1}, {3, Type1, 1, 0}, {3, Type2, 1, 4}, {3, Type1, 2, 6}, {3, Type2, 2, 44},
		{4, Type1, 1, 0}, {4, Type2, 1, 84}, {5, Type1, 1, 0}, {5, Type2, 1, 14736},
	} {
		s, got := newSeries(c.n, c.kind, c.index, nil), 0
		s.steps = 10_000_000
		s.extend(0, func([]int) bool { got++; return true })
		if got != c.want {
			t.Errorf("%d treatments, type %v, index %d: %d sequences, want %d", c.n, c.kind, c.index, got, c.want)
		}
		_, err := SeriallyBalanced(c.n, c.kind, c.index, 1)
		if (c.want == 0) != errors.Is(err, ErrNoneExists) || c.want > 0 && err != nil {
			t.Errorf("%d treatments, type %v, index %d: %v, and %d exist", c.n, c.kind, c.index, err, c.want)
		}
	}
}

// In ascending order the first sequence is the smallest, which can be read off:
// (A) AB BA for two treatments of type 1.
func TestFirstSeries(t *testing.T) {
	s := newSeries(2, Type1, 1, nil)
	s.steps = 100
	if !s.extend(0, func([]int) bool { return false }) || !slices.Equal(s.tests, []int{0, 0, 1, 1, 0}) {
		t.Errorf("%v", s.tests)
	}
}

func TestSeriallyBalancedSequencesAreBalanced(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 12).Draw(t, "treatments")
		kind := rapid.SampledFrom([]SeriesType{Type1, Type2}).Draw(t, "type")
		index := rapid.IntRange(1, 3).Draw(t, "index")
		tests, err := SeriallyBalanced(n, kind, index, rapid.Uint64().Draw(t, "seed"))
		if err != nil {
			// Three treatments of type 1 have none for index 1 and 3.
			if kind == Type2 || n < 3 || n > 5 || index == 2 {
				t.Fatal(err)
			}
			return
		}
		blocks := n * index
		if kind == Type2 {
			blocks = (n - 1) * index
		}
		if len(tests) != 1+blocks*n || tests[0] != 0 {
			t.Fatalf("%d tests from %d", len(tests), tests[0])
		}
		for block := range slices.Chunk(tests[1:], n) {
			seen := slices.Clone(block)
			slices.Sort(seen)
			if len(slices.Compact(seen)) != n {
				t.Fatalf("block %v", block)
			}
		}
		balance := CarryOver(n, [][]int{tests}, Order{Self: kind == Type1})
		for i, row := range balance.Counts {
			for j, times := range row {
				want := index
				if i == j && kind == Type2 {
					want = 0
				}
				if times != want {
					t.Fatalf("%d follows %d %d times", j, i, times)
				}
			}
		}
		if balance.Deviation != 0 {
			t.Fatalf("deviation %d", balance.Deviation)
		}
	})
}

// The expected sequences are this program's own.
func TestSeriesOfASeedIsForever(t *testing.T) {
	a, _ := SeriallyBalanced(4, Type2, 1, 20270111)
	b, _ := SeriallyBalanced(4, Type2, 1, 20270112)
	if got, want := letters([][]int{a, b}), "ABACDBCADCBDA ADBACBCDABDCA"; got != want {
		t.Errorf("%s, and before %s", got, want)
	}
}

func TestGivingUpIsNotAProof(t *testing.T) {
	s := newSeries(5, Type1, 1, nil)
	s.steps = 50
	if s.extend(0, func([]int) bool { return false }) || s.steps != 0 || len(s.tests) != 1 {
		t.Errorf("%d steps left, %v", s.steps, s.tests)
	}
	if got := ErrUndecided.Error(); got != "search for a serially balanced sequence gave up: none found and none ruled out" {
		t.Error(got)
	}
	if got := ErrNoneExists.Error(); got != "no serially balanced sequence of this kind exists" {
		t.Error(got)
	}
}
