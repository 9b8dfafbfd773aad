package layout

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// Dunnett's √k: 4 treatments and a reference with twice as many; 9, thrice.
func TestReferenceReplicates(t *testing.T) {
	for _, c := range []struct{ treatments, each, want int }{
		{1, 5, 5}, {4, 6, 12}, {9, 4, 12}, {2, 5, 7}, {3, 4, 7}, {5, 3, 7}, {11, 4, 13}, {6, 1, 2}, {7, 1, 3},
	} {
		if got := ReferenceReplicates(c.treatments, c.each); got != c.want {
			t.Errorf("%d treatments × %d: %d, want %d", c.treatments, c.each, got, c.want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		k, each := rapid.IntRange(1, 200).Draw(t, "k"), rapid.IntRange(1, 200).Draw(t, "each")
		if got := ReferenceReplicates(k, each); float64(got) != math.Round(math.Sqrt(float64(k))*float64(each)) {
			t.Fatalf("%d", got)
		}
	})
}

func TestSplitWithReference(t *testing.T) {
	for _, c := range []struct{ total, treatments, reference, each int }{
		{24, 4, 8, 4}, {18, 3, 6, 4}, {10, 3, 4, 2}, {48, 9, 12, 4}, {2, 1, 1, 1}, {5, 4, 1, 1}, {7, 1, 4, 3},
	} {
		reference, each, ok := SplitWithReference(c.total, c.treatments)
		if !ok || reference != c.reference || each != c.each {
			t.Errorf("%d tests, %d treatments: %d and %d each, want %d and %d", c.total, c.treatments, reference, each, c.reference, c.each)
		}
	}
	if _, _, ok := SplitWithReference(4, 4); ok {
		t.Error("four tests were split among four treatments and a reference")
	}
	rapid.Check(t, func(t *rapid.T) {
		total, k := rapid.IntRange(0, 150).Draw(t, "total"), rapid.IntRange(1, 12).Draw(t, "k")
		reference, each, ok := SplitWithReference(total, k)
		if ok != (total > k) || ok && reference+k*each != total {
			t.Fatalf("%d + %d·%d of %d, %v", reference, k, each, total, ok)
		}
		for e := 1; total-k*e >= 1; e++ {
			other := 1/float64(e) + 1/float64(total-k*e)
			if got := 1/float64(each) + 1/float64(reference); got > other*(1+1e-12) {
				t.Fatalf("%d each has %g, %d each has %g", each, got, e, other)
			}
		}
	})
}

func TestRaise(t *testing.T) {
	primary := []Contrast{Difference(5, 0, 3, 1)}
	before := []int{4, 4, 4, 4, 4}
	if got := Raise(before, primary, 4); !slices.Equal(got, []int{6, 4, 4, 6, 4}) || before[0] != 4 {
		t.Errorf("%v from %v", got, before)
	}
	// √9 = 3: nine treatments of four tests, the reference twelve.
	if got, want := Raise(repeat(1, 10), AgainstReference(10, 0), 38), append([]int{12}, repeat(4, 9)...); !slices.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
}

// No other way to give out the extra tests has a smaller variance.
func TestRaiseIsTheBest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.IntRange(2, 4).Draw(t, "treatments")
		start := rapid.SliceOfN(rapid.IntRange(1, 4), v, v).Draw(t, "replicates")
		contrasts := Pairwise(v)
		for q := range contrasts {
			contrasts[q].Weight = float64(rapid.IntRange(1, 9).Draw(t, "weight"))
		}
		extra := rapid.IntRange(0, 6).Draw(t, "extra")
		variance := func(replicates []int) float64 {
			total := 0.0
			for _, c := range contrasts {
				for i, x := range c.Coefficients {
					total += c.Weight * x * x / float64(replicates[i])
				}
			}
			return total
		}
		best := math.Inf(1)
		var give func(i, left int, replicates []int)
		give = func(i, left int, replicates []int) {
			if i == v-1 {
				last := slices.Clone(replicates)
				last[i] += left
				best = math.Min(best, variance(last))
				return
			}
			for n := 0; n <= left; n++ {
				next := slices.Clone(replicates)
				next[i] += n
				give(i+1, left-n, next)
			}
		}
		give(0, extra, start)
		raised := Raise(start, contrasts, extra)
		if sum(raised) != sum(start)+extra || !near(variance(raised), best, 1e-9) {
			t.Fatalf("%v from %v: %g, best %g", raised, start, variance(raised), best)
		}
	})
}
