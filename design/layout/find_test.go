package layout

import (
	"errors"
	"math"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func repeat(x, n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = x
	}
	return out
}

func mustFind(t *testing.T, p Problem, s Search) Layout {
	t.Helper()
	l, err := Find(p, s)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func near(a, b, relative float64) bool {
	return a == b || math.Abs(a-b) <= relative*math.Max(math.Abs(a), math.Abs(b))
}

// Parameters of balanced incomplete blocks that exist, from the tables of
// Fisher and Yates (Statistical Tables) and of Cochran and Cox (Experimental
// Designs, 2nd ed. 1957, plans 11.1 on), from memory; each satisfies bk = vr and
// λ(v−1) = r(k−1), which the test checks. Efficiency v(k−1)/(k(v−1)).
func TestFindReachesBalancedIncompleteBlocks(t *testing.T) {
	for _, c := range []struct{ v, b, r, k, lambda int }{
		{4, 6, 3, 2, 1}, {5, 10, 6, 3, 3}, {6, 10, 5, 3, 2}, {6, 15, 10, 4, 6},
		{7, 7, 3, 3, 1}, {7, 7, 4, 4, 2}, {9, 12, 4, 3, 1}, {9, 18, 8, 4, 3},
		{10, 15, 6, 4, 2}, {11, 11, 5, 5, 2}, {13, 13, 4, 4, 1}, {13, 26, 6, 3, 1},
		{15, 15, 7, 7, 3}, {16, 20, 5, 4, 1}, {21, 21, 5, 5, 1},
	} {
		if c.b*c.k != c.v*c.r || c.lambda*(c.v-1) != c.r*(c.k-1) {
			t.Fatalf("%+v is no such table entry", c)
		}
		l := mustFind(t, Problem{
			Replicates: repeat(c.r, c.v), BlockSizes: repeat(c.k, c.b), Contrasts: Pairwise(c.v),
		}, Search{Seed: 1})
		want := float64(c.v*(c.k-1)) / float64(c.k*(c.v-1))
		if !near(l.Efficiency, want, 1e-9) || !l.Optimal || !l.Connected {
			t.Errorf("%+v: efficiency %.12f, want %.12f, optimal %v", c, l.Efficiency, want, l.Optimal)
		}
		together := map[[2]int]int{}
		for _, block := range l.Blocks {
			for i, a := range block {
				for _, b := range block[i+1:] {
					together[[2]int{a, b}]++
				}
			}
		}
		for pair, n := range together {
			if n != c.lambda {
				t.Errorf("%+v: %v stand together %d times", c, pair, n)
			}
		}
	}
}

// twelve is 12 treatments, 4 tests each, in 8 blocks of 5 and 2 of 4.
func twelve() Problem {
	return Problem{Replicates: repeat(4, 12), BlockSizes: append(repeat(5, 8), 4, 4), Contrasts: Pairwise(12)}
}

// bestOfTwelve is the smallest variance ever found for this problem: this
// package's search, seeds 100 and 102, 2·10⁹ exchanges each (over a minute a
// seed), and four seeds of an earlier version with other starts, all six ending
// here. The proven bound is 0.578947, 1.1 % lower.
const bestOfTwelve = 0.585577286200

func TestFindTwelveTreatmentsInBlocksOfFive(t *testing.T) {
	for seed := range uint64(3) {
		// A fortieth of the usual effort.
		l := mustFind(t, twelve(), Search{Seed: seed, Exchanges: usualExchanges / 40})
		if l.Average > bestOfTwelve*1.01 || l.Average < bestOfTwelve*(1-1e-9) {
			t.Errorf("seed %d: variance %.12f, best known %.12f", seed, l.Average, bestOfTwelve)
		}
		if !near(l.LowerBound, 22.0/38, 1e-9) { // 2(v−1)/(n−b)
			t.Errorf("lower bound %.12f", l.LowerBound)
		}
	}
}

func BenchmarkFindTwelveTreatmentsInBlocksOfFive(b *testing.B) {
	worst := 0.0
	for seed := range b.N {
		l, err := Find(twelve(), Search{Seed: uint64(seed)})
		if err != nil {
			b.Fatal(err)
		}
		worst = math.Max(worst, l.Average)
	}
	b.ReportMetric(worst/bestOfTwelve, "variance/best")
}

// Complete blocks leave nothing to search: every difference has 2/r.
func TestFindCompleteBlocks(t *testing.T) {
	l := mustFind(t, Problem{Replicates: repeat(5, 4), BlockSizes: repeat(4, 5), Contrasts: Pairwise(4)}, Search{})
	if !l.Optimal || !near(l.Average, 2.0/5, 1e-12) || !near(l.Efficiency, 1, 1e-12) {
		t.Errorf("%+v", l)
	}
	for _, block := range l.Blocks {
		if !slices.Equal(block, []int{0, 1, 2, 3}) {
			t.Errorf("block %v", block)
		}
	}
}

// A reference twice in each block with every treatment once is orthogonal:
// 1/r + 1/r₀.
func TestFindCompleteBlocksWithTheReferenceTwice(t *testing.T) {
	l := mustFind(t, Problem{
		Replicates: []int{8, 4, 4, 4}, BlockSizes: repeat(5, 4), MostPerBlock: []int{2, 1, 1, 1},
		InEveryBlock: []int{0}, Contrasts: AgainstReference(4, 0),
	}, Search{})
	if !l.Optimal || !near(l.Average, 1.0/4+1.0/8, 1e-12) {
		t.Errorf("%+v", l)
	}
}

// Two unrelated questions in blocks of two are answered best by two unrelated
// halves, each complete: variance 2/r.
func TestFindTakesADisconnectedLayoutWhereItIsBest(t *testing.T) {
	l := mustFind(t, Problem{
		Replicates: repeat(4, 4), BlockSizes: repeat(2, 8),
		Contrasts: []Contrast{Difference(4, 0, 1, 1), Difference(4, 2, 3, 1)},
	}, Search{Exchanges: 200_000})
	if l.Connected || !l.Optimal || !near(l.Average, 2.0/4, 1e-12) {
		t.Errorf("%+v", l)
	}
}

// With a ridge of 1e-8 rounding hid the one exchange that connects this layout:
// the only good one is all three treatments in the large block.
func TestFindLeavesADisconnectedStart(t *testing.T) {
	p := Problem{Replicates: []int{1, 2, 1}, BlockSizes: []int{3, 1}, MostPerBlock: []int{1, 2, 1}, Contrasts: []Contrast{
		Difference(3, 1, 0, 1), Difference(3, 0, 2, 1), Difference(3, 1, 2, 3), Difference(3, 0, 2, 5),
	}}
	for seed := range uint64(20) {
		l := mustFind(t, p, Search{Seed: seed, Exchanges: 20_000})
		if want := [][]int{{0, 1, 2}, {1}}; !cmp.Equal(l.Blocks, want) {
			t.Errorf("seed %d: %v, want %v", seed, l.Blocks, want)
		}
	}
}

// A question with weight is answered more precisely than one without.
func TestWeightsPullPrecision(t *testing.T) {
	p := Problem{Replicates: repeat(3, 6), BlockSizes: repeat(3, 6), Contrasts: Pairwise(6)}
	even := mustFind(t, p, Search{Exchanges: 100_000})
	p.Contrasts[0].Weight = 50
	pulled := mustFind(t, p, Search{Exchanges: 100_000})
	if !(pulled.Variances[0] < even.Variances[0]-0.01) {
		t.Errorf("variance %g with weight 50, %g without", pulled.Variances[0], even.Variances[0])
	}
}

func TestFindErrors(t *testing.T) {
	pairs := Pairwise(4)
	for _, c := range []struct {
		name string
		p    Problem
		want string
	}{
		{"sums", Problem{Replicates: repeat(2, 4), BlockSizes: repeat(2, 3), Contrasts: pairs},
			"no layout exists: the treatments have 8 tests and the blocks hold 6"},
		{"reference too rare", Problem{Replicates: []int{1, 2, 2, 1}, BlockSizes: repeat(2, 3), InEveryBlock: []int{0}, Contrasts: pairs},
			"no layout exists: treatment 0 must be in all 3 blocks and has 1 tests"},
		{"block too small", Problem{Replicates: []int{3, 3, 1, 1}, BlockSizes: []int{4, 3, 1}, InEveryBlock: []int{0, 1}, Contrasts: pairs},
			"no layout exists: block 2 holds 1 tests and 2 treatments must be in every block"},
		{"one too many", Problem{Replicates: []int{5, 1, 1, 1}, BlockSizes: repeat(2, 4), Contrasts: pairs},
			"no layout exists: treatment 0: 5 tests, and the blocks hold at most 4 of them"},
		{"two too many", Problem{Replicates: []int{1, 4, 4, 1}, BlockSizes: []int{1, 3, 3, 3}, Contrasts: pairs},
			"no layout exists: treatments 1, 2: 8 tests, and the blocks hold at most 7 of them"},
	} {
		_, err := Find(c.p, Search{})
		if !errors.Is(err, ErrNoLayout) || err.Error() != c.want {
			t.Errorf("%s: %v, want %s", c.name, err, c.want)
		}
	}
}

func TestNotEstimableNamesTheContrasts(t *testing.T) {
	// Two blocks of two leave room for 2 of the 3 independent differences; the
	// best layout answers two of the six, one in each block.
	_, err := Find(Problem{Replicates: repeat(1, 4), BlockSizes: repeat(2, 2), Contrasts: Pairwise(4)}, Search{Exchanges: 1000})
	var lost NotEstimable
	if !errors.As(err, &lost) || !lost.Proven || len(lost.Contrasts) != 4 || lost.Needed != 3 || lost.Free != 2 {
		t.Fatalf("%+v", err)
	}
	// The heavy difference 0−1 must not be among those given up.
	contrasts := Pairwise(4)
	contrasts[0].Weight = 3
	_, err = Find(Problem{Replicates: repeat(1, 4), BlockSizes: repeat(2, 2), Contrasts: contrasts}, Search{Exchanges: 1000})
	want := "contrasts 1, 2, 3, 4 of 6 cannot be estimated: 3 independent contrasts are asked and the blocks leave room for 2"
	if err == nil || err.Error() != want {
		t.Errorf("%v, want %s", err, want)
	}
	// Room for two contrasts, and two are asked, but a block of one answers none.
	_, err = Find(Problem{
		Replicates: []int{1, 1, 1, 1, 1}, BlockSizes: []int{3, 1, 1},
		Contrasts: []Contrast{Difference(5, 0, 1, 2), Difference(5, 2, 3, 1)},
	}, Search{Exchanges: 1000})
	want = "contrast 1 of 2 cannot be estimated in any layout found: no chain of shared blocks joins their treatments"
	if err == nil || err.Error() != want {
		t.Errorf("%v, want %s", err, want)
	}
}

// The layout of a seed may not change, on no platform: a study may be drawn up
// with it. The expected blocks are this program's own.
func TestLayoutOfASeedIsForever(t *testing.T) {
	p := Problem{Replicates: []int{6, 3, 3, 3, 3}, BlockSizes: []int{4, 4, 4, 3, 3}, MostPerBlock: []int{2, 1, 1, 1, 1},
		InEveryBlock: []int{0}, Contrasts: AgainstReference(5, 0)}
	l := mustFind(t, p, Search{Seed: 20270111, Exchanges: 50_000})
	want := [][]int{{0, 0, 1, 4}, {0, 1, 3, 4}, {0, 2, 3, 4}, {0, 1, 2}, {0, 2, 3}}
	if diff := cmp.Diff(want, l.Blocks); diff != "" {
		t.Error(diff)
	}
}
