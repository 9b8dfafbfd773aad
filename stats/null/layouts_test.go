package null

import "pgregory.net/rapid"

// oneWay has the given number of tests of each treatment and no blocks.
func oneWay(repeats ...int) Design {
	d := Design{Treatments: len(repeats)}
	for treatment, n := range repeats {
		for range n {
			d.Tests = append(d.Tests, Test{Treatment: treatment})
		}
	}
	d.Looks = []int{len(d.Tests)}
	return d
}

// complete has every treatment once in every block.
func complete(treatments, blocks int) Design {
	d := Design{Treatments: treatments}
	for b := range blocks {
		for t := range treatments {
			d.Tests = append(d.Tests, Test{Treatment: t, Block: b})
		}
	}
	d.Looks = []int{len(d.Tests)}
	return d
}

// without drops the tests of the given places.
func (d Design) without(places ...int) Design {
	lost := map[int]bool{}
	for _, p := range places {
		lost[p] = true
	}
	var left []Test
	for i, t := range d.Tests {
		if !lost[i] {
			left = append(left, t)
		}
	}
	d.Tests, d.Looks = left, []int{len(left)}
	return d
}

func (d Design) looks(n ...int) Design {
	d.Looks = n
	return d
}

func (d Design) asking(contrasts [][]float64) Design {
	d.Contrasts = contrasts
	return d
}

// allPairs compares the first k treatments of t with each other.
func allPairs(k, t int) (contrasts [][]float64) {
	for i := range k {
		for j := i + 1; j < k; j++ {
			c := make([]float64, t)
			c[i], c[j] = 1, -1
			contrasts = append(contrasts, c)
		}
	}
	return contrasts
}

// againstFirst compares treatments 1 to k with treatment 0.
func againstFirst(k, t int) (contrasts [][]float64) {
	return allPairs(k+1, t)[:k]
}

// crippled is an incomplete layout with lost tests, a block with a single test
// and a treatment that comes late.
func crippled() Design {
	d := Design{Treatments: 5, Looks: []int{9, 14, 21, 27}, Contrasts: allPairs(5, 5)}
	for b, block := range [][]int{{0, 1, 2}, {1, 3, 0}, {2, 3, 1}, {3}, {0, 2, 3, 1}, {4, 0, 1}, {2, 2, 4}, {0, 4, 3, 3}, {1, 4, 2}} {
		for _, t := range block {
			d.Tests = append(d.Tests, Test{Treatment: t, Block: b})
		}
	}
	// A general contrast, not of length 1.
	d.Contrasts = append(d.Contrasts, []float64{3, -1, -1, -1, 0})
	return d
}

// anyDesign draws layouts of all kinds, also ones in which nothing can be tested.
func anyDesign(t *rapid.T) Design {
	d := Design{Treatments: rapid.IntRange(2, 5).Draw(t, "treatments")}
	blocks := rapid.IntRange(1, 6).Draw(t, "blocks")
	n := rapid.IntRange(2, 24).Draw(t, "tests")
	for range n {
		d.Tests = append(d.Tests, Test{
			Treatment: rapid.IntRange(0, d.Treatments-1).Draw(t, "treatment"),
			Block:     rapid.IntRange(0, blocks-1).Draw(t, "block"),
		})
	}
	for look := range n {
		if look+1 == n || rapid.IntRange(0, 5).Draw(t, "look") == 0 {
			d.Looks = append(d.Looks, look+1)
		}
	}
	d.Contrasts = allPairs(rapid.IntRange(2, d.Treatments).Draw(t, "compared"), d.Treatments)
	return d
}
