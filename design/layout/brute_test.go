package layout

import (
	"errors"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"mealtrial/design/chance"
)

// everyLayout calls visit with each table that keeps the margins and bounds of
// the problem. It shares no code with the search.
func everyLayout(p Problem, visit func(blocks [][]int)) {
	v, b := len(p.Replicates), len(p.BlockSizes)
	left := slices.Clone(p.Replicates)
	blocks := make([][]int, b)
	var fill func(j, i, room int)
	fill = func(j, i, room int) {
		if i == v {
			if room != 0 {
				return
			}
			if j == b-1 {
				if !slices.ContainsFunc(left, func(n int) bool { return n != 0 }) {
					visit(blocks)
				}
				return
			}
			fill(j+1, 0, p.BlockSizes[j+1])
			return
		}
		most, least := 1, 0
		if p.MostPerBlock != nil {
			most = p.MostPerBlock[i]
		}
		if slices.Contains(p.InEveryBlock, i) {
			least = 1
		}
		for n := least; n <= min(most, room, left[i]); n++ {
			length := len(blocks[j])
			for range n {
				blocks[j] = append(blocks[j], i)
			}
			left[i] -= n
			fill(j, i+1, room-n)
			left[i] += n
			blocks[j] = blocks[j][:length]
		}
	}
	fill(0, 0, p.BlockSizes[0])
}

// bruteBest returns the smallest average variance of all layouts, by least
// squares on the tests, and how many layouts there are.
func bruteBest(p Problem) (best float64, layouts int) {
	best = math.Inf(1)
	seen := map[string]float64{}
	everyLayout(p, func(blocks [][]int) {
		layouts++
		key := blockKey(blocks)
		if _, known := seen[key]; !known {
			seen[key] = averageByLeastSquares(len(p.Replicates), blocks, p.Contrasts)
		}
		best = math.Min(best, seen[key])
	})
	return best, layouts
}

// blockKey is the same for layouts that differ in the order of blocks only.
func blockKey(blocks [][]int) string {
	keys := make([]string, len(blocks))
	for j, block := range blocks {
		for _, i := range block {
			keys[j] += string(rune('a' + i))
		}
	}
	slices.Sort(keys)
	key := ""
	for _, k := range keys {
		key += k + " "
	}
	return key
}

func TestFindIsTheBestOfAllLayouts(t *testing.T) {
	for _, c := range []struct {
		name string
		p    Problem
	}{
		{"v=4 k=2 b=4", Problem{Replicates: repeat(2, 4), BlockSizes: repeat(2, 4), Contrasts: Pairwise(4)}},
		{"v=4 k=2 b=5", Problem{Replicates: []int{3, 3, 2, 2}, BlockSizes: repeat(2, 5), Contrasts: Pairwise(4)}},
		{"v=4 k=3 b=4", Problem{Replicates: repeat(3, 4), BlockSizes: repeat(3, 4), Contrasts: Pairwise(4)}},
		{"v=5 k=2 b=5", Problem{Replicates: repeat(2, 5), BlockSizes: repeat(2, 5), Contrasts: Pairwise(5)}},
		{"v=5 k=3 b=5", Problem{Replicates: repeat(3, 5), BlockSizes: repeat(3, 5), Contrasts: AgainstReference(5, 0)}},
		{"unequal blocks", Problem{Replicates: []int{4, 2, 2, 2}, BlockSizes: []int{4, 3, 2, 1}, Contrasts: AgainstReference(4, 0)}},
		{"reference twice", Problem{Replicates: []int{5, 2, 2, 2}, BlockSizes: []int{4, 4, 3}, MostPerBlock: []int{2, 1, 1, 1},
			InEveryBlock: []int{0}, Contrasts: AgainstReference(4, 0)}},
	} {
		want, layouts := bruteBest(c.p)
		l := mustFind(t, c.p, Search{Exchanges: 100_000})
		if !near(l.Average, want, 1e-9) {
			t.Errorf("%s: %.12f, the best of %d layouts has %.12f", c.name, l.Average, layouts, want)
		}
		if l.LowerBound > want*(1+1e-9) {
			t.Errorf("%s: lower bound %.12f above the best, %.12f", c.name, l.LowerBound, want)
		}
	}
}

// smallProblem draws a problem whose margins are those of some table.
func smallProblem(t *rapid.T, mostTreatments int) Problem {
	v := rapid.IntRange(2, mostTreatments).Draw(t, "treatments")
	b := rapid.IntRange(1, 4).Draw(t, "blocks")
	p := Problem{Replicates: make([]int, v), BlockSizes: make([]int, b), MostPerBlock: make([]int, v)}
	for i := range v {
		p.MostPerBlock[i] = rapid.IntRange(1, 2).Draw(t, "most")
		least := 0
		if rapid.IntRange(0, 5).Draw(t, "required") == 0 {
			least, p.InEveryBlock = 1, append(p.InEveryBlock, i)
		}
		for j := range b {
			n := rapid.IntRange(least, p.MostPerBlock[i]).Draw(t, "tests")
			p.Replicates[i] += n
			p.BlockSizes[j] += n
		}
	}
	if slices.Min(p.Replicates) < 1 || slices.Min(p.BlockSizes) < 1 {
		t.Skip("an empty margin")
	}
	for range rapid.IntRange(1, 4).Draw(t, "contrasts") {
		a := rapid.IntRange(0, v-1).Draw(t, "a")
		c := (a + rapid.IntRange(1, v-1).Draw(t, "b − a")) % v
		p.Contrasts = append(p.Contrasts, Difference(v, a, c, float64(rapid.IntRange(1, 5).Draw(t, "weight"))))
	}
	return p
}

func TestFindIsTheBestOfAllSmallLayouts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := smallProblem(t, 4)
		want, layouts := bruteBest(p)
		l, err := Find(p, Search{Seed: rapid.Uint64().Draw(t, "seed"), Exchanges: 20_000})
		var lost NotEstimable
		switch {
		case errors.As(err, &lost):
			if !math.IsInf(want, 1) {
				t.Fatalf("%v; the best of %d layouts has %g", err, layouts, want)
			}
		case err != nil:
			t.Fatal(err)
		case !near(l.Average, want, 1e-9):
			t.Fatalf("%.12f, the best of %d layouts has %.12f", l.Average, layouts, want)
		case l.LowerBound > want*(1+1e-9):
			t.Fatalf("lower bound %.12f above the best, %.12f", l.LowerBound, want)
		}
	})
}

// A table is found exactly when there is one.
func TestPlaceFindsATableWheneverThereIsOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := smallProblem(t, 4)
		// Spoil the margins: move tests between treatments, places between blocks.
		for range rapid.IntRange(0, 4).Draw(t, "moves") {
			for _, margin := range [][]int{p.Replicates, p.BlockSizes} {
				from := rapid.IntRange(0, len(margin)-1).Draw(t, "from")
				to := rapid.IntRange(0, len(margin)-1).Draw(t, "to")
				if margin[from] > 1 {
					margin[from]--
					margin[to]++
				}
			}
		}
		layouts := 0
		everyLayout(p, func([][]int) { layouts++ })
		n, err := place(p, chance.New(rapid.Uint64().Draw(t, "seed"), stream))
		if (err == nil) != (layouts > 0) {
			t.Fatalf("%d layouts exist, and the error is %v", layouts, err)
		}
		if err == nil {
			checkKept(t, p, n.blocks())
			mix(n, p.least(), p.most(), chance.New(1, stream))
			checkKept(t, p, n.blocks())
		}
	})
}

// checkKept fails when blocks break a restriction of the problem.
func checkKept(t *rapid.T, p Problem, blocks [][]int) {
	t.Helper()
	replicates := make([]int, len(p.Replicates))
	for j, block := range blocks {
		if len(block) != p.BlockSizes[j] || !slices.IsSorted(block) {
			t.Fatalf("block %d is %v, of size %d", j, block, p.BlockSizes[j])
		}
		times := make([]int, len(p.Replicates))
		for _, i := range block {
			times[i]++
			replicates[i]++
		}
		for i, n := range times {
			if n > p.most()[i] || n == 0 && slices.Contains(p.InEveryBlock, i) {
				t.Fatalf("treatment %d stands %d times in block %v", i, n, block)
			}
		}
	}
	if !slices.Equal(replicates, p.Replicates) {
		t.Fatalf("replicates %v, want %v", replicates, p.Replicates)
	}
}
