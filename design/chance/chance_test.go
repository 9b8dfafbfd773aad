package chance

import (
	"fmt"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// A number that takes no threshold and one that does come from the same stream
// as ever: they are the record of a randomisation. The values are this program's
// own, from before the threshold was left out where it is not needed.
func TestBelowOfASeedIsForever(t *testing.T) {
	s := New(20270111, 7)
	var got []int
	for _, n := range []int{2, 3, 5, 10, 1000, 1 << 62, 3 << 61, 3 << 61, 3 << 61, 3 << 61, 3 << 61, 3 << 61, 3 << 61, 3 << 61, 3 << 61} {
		got = append(got, s.Below(n)%1000)
	}
	if want := []int{0, 1, 4, 4, 776, 64, 83, 936, 926, 908, 722, 722, 458, 154, 267}; !slices.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
}

// Shuffle of a source takes the steps of ShuffleAt.
func TestShuffleIsShuffleAt(t *testing.T) {
	a, b := []int{0, 1, 2, 3, 4, 5, 6}, []int{0, 1, 2, 3, 4, 5, 6}
	New(5, 1).Shuffle(a)
	New(5, 1).ShuffleAt(b, []int{0, 1, 2, 3, 4, 5, 6})
	if !slices.Equal(a, b) || slices.IsSorted(a) {
		t.Errorf("%v and %v", a, b)
	}
}

// Every order is equally likely, of several steps a word too: Pearson's chi-square
// over 120 000 shuffles with a fixed seed, between its 0.1 % and 99.9 % points.
func TestShufflesAreUniform(t *testing.T) {
	const shuffles = 120_000
	for _, batched := range []bool{false, true} {
		for _, n := range []int{2, 3, 5} {
			s := New(11, 3)
			if batched {
				s = NewBatched(11, 3)
			}
			seen, values := map[string]float64{}, make([]int, n)
			for range shuffles {
				for i := range values {
					values[i] = i
				}
				s.Shuffle(values)
				seen[fmt.Sprint(values)]++
			}
			orders := 1
			for i := range n {
				orders *= i + 1
			}
			chi, want := 0.0, shuffles/float64(orders)
			for _, x := range seen {
				chi += (x - want) * (x - want) / want
			}
			if at := (distuv.ChiSquared{K: float64(orders - 1)}).CDF(chi); len(seen) != orders || at < 0.001 || at > 0.999 {
				t.Errorf("batched %t: %d orders of %d values, chi-square %.1f at the %.4f point", batched, len(seen), n, chi, at)
			}
		}
	}
}

// Lists of 14 values and more take several words, each for several steps: where
// the first, the middle and the last value go is uniform.
func TestLongBatchedShufflesAreUniform(t *testing.T) {
	const shuffles = 40_000
	for _, n := range []int{14, 15, 40} {
		s := NewBatched(12, 3)
		values := make([]int, n)
		for _, value := range []int{0, n / 2, n - 1} {
			seen := make([]float64, n)
			for range shuffles {
				for i := range values {
					values[i] = i
				}
				s.Shuffle(values)
				seen[slices.Index(values, value)]++
			}
			chi, want := 0.0, shuffles/float64(n)
			for _, x := range seen {
				chi += (x - want) * (x - want) / want
			}
			if at := (distuv.ChiSquared{K: float64(n - 1)}).CDF(chi); at < 0.001 || at > 0.999 {
				t.Errorf("%d values: the places of %d have chi-square %.1f, at the %.4f point", n, value, chi, at)
			}
		}
	}
}

func BenchmarkShuffleOf5(b *testing.B) {
	for _, batched := range []bool{false, true} {
		b.Run(fmt.Sprintf("batched=%t", batched), func(b *testing.B) {
			s := &Source{pcg: New(1, 1).pcg, batched: batched}
			values := []int{0, 1, 2, 3, 4}
			for range b.N {
				s.Shuffle(values)
			}
		})
	}
}
