package layout

// Order says how tests follow each other, for CarryOver.
type Order struct {
	// Joined says that the last test of a block precedes the first of the next,
	// as for one person tested on. Otherwise blocks stand apart, as the rows of
	// a Williams square do.
	Joined bool

	// Self says that a treatment following itself is wanted as often as any
	// other succession, as in type 1 of SeriallyBalanced.
	Self bool
}

// A CarryOverBalance says how evenly treatments follow each other.
type CarryOverBalance struct {
	// Counts[i][j] is how often treatment j directly follows treatment i.
	Counts [][]int

	// SelfSuccessions is how often a treatment follows itself, Σ Counts[i][i].
	SelfSuccessions int

	// Deviation is Σ nᵢⱼ² over the ordered pairs minus the smallest value that
	// it can have when each treatment precedes and follows as often as it does
	// here. 0 means as even as these replicates permit; moving one succession
	// from a pair seen twice to a pair unseen takes off 2. Pairs of a treatment
	// with itself count only when Order.Self is set.
	Deviation int
}

// CarryOver counts the ordered successions of treatments in tests arranged in
// blocks, each block in the order of its tests, and compares them with the most
// even counts possible: the whole numbers with the same row and column totals
// and the smallest sum of squares. The comparison is exact. It does not ask
// whether an arrangement in blocks has these counts, so the deviation of the
// best arrangement can be above 0.
//
// A conditioning test may be given as a first block of one test, joined.
// It panics when a block holds no such treatment, or v is below 1.
func CarryOver(v int, blocks [][]int, o Order) CarryOverBalance {
	if v < 1 {
		panic("layout: no treatment")
	}
	c := CarryOverBalance{Counts: make([][]int, v)}
	for i := range v {
		c.Counts[i] = make([]int, v)
	}
	const none = -1
	last := none
	for _, block := range blocks {
		if !o.Joined {
			last = none
		}
		for _, i := range block {
			if i < 0 || i >= v {
				panic("layout: no such treatment")
			}
			if last != none {
				c.Counts[last][i]++
			}
			last = i
		}
	}
	for i := range v {
		c.SelfSuccessions += c.Counts[i][i]
	}
	c.Deviation = excess(c.Counts, o.Self)
	return c
}

// excess returns by how much Σ nᵢⱼ² can fall with row and column totals kept,
// over all cells or over those off the diagonal.
//
// Moving one count along a closed path of cells, up and down in turn, keeps the
// totals, and for a convex sum the counts are best when no closed path lowers
// it (Ahuja, Magnanti and Orlin, Network Flows, 1993, section 14.5, from memory).
func excess(counts [][]int, diagonal bool) int {
	v := len(counts)
	even := make([][]int, v)
	for i, row := range counts {
		even[i] = append([]int(nil), row...)
	}
	total := 0
	for {
		path := lowering(even, diagonal)
		if path == nil {
			return total
		}
		for _, cell := range path {
			i, j, by := cell[0], cell[1], cell[2]
			total += even[i][j] * even[i][j]
			even[i][j] += by
			total -= even[i][j] * even[i][j]
		}
	}
}

// lowering finds a closed path of cells along which a unit can be moved so that
// Σ nᵢⱼ² falls, as triples of row, column and +1 or −1, or nil when there is
// none: a negative cycle of the residual network, by Bellman and Ford. Nodes
// 0 … v−1 are rows and v … 2v−1 columns; going from row to column adds one to
// the cell, going back takes one away.
func lowering(counts [][]int, diagonal bool) [][3]int {
	v := len(counts)
	distance, from := make([]int, 2*v), make([]int, 2*v)
	for x := range from {
		from[x] = -1
	}
	changed := -1
	for range 2*v + 1 {
		changed = -1
		for i := range v {
			for j := range v {
				if i == j && !diagonal {
					continue
				}
				n := counts[i][j]
				if d := distance[i] + 2*n + 1; d < distance[v+j] {
					distance[v+j], from[v+j], changed = d, i, v+j
				}
				if d := distance[v+j] - 2*n + 1; n > 0 && d < distance[i] {
					distance[i], from[i], changed = d, v+j, i
				}
			}
		}
		if changed < 0 {
			return nil
		}
	}
	return cycle(from, changed)
}

// cycle walks back from a node that still changed to the cycle before it.
func cycle(from []int, x int) [][3]int {
	v := len(from) / 2
	for range from {
		x = from[x]
	}
	var path [][3]int
	for start := x; ; {
		before := from[x]
		if x >= v {
			path = append(path, [3]int{before, x - v, 1})
		} else {
			path = append(path, [3]int{x, before - v, -1})
		}
		if x = before; x == start {
			return path
		}
	}
}
