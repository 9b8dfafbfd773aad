package layout

import (
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func TestCarryOverByHand(t *testing.T) {
	blocks := [][]int{{0, 1}, {0, 1}, {1, 0}}
	apart := CarryOver(2, blocks, Order{})
	if diff := cmp.Diff(CarryOverBalance{Counts: [][]int{{0, 2}, {1, 0}}}, apart); diff != "" {
		t.Error(diff)
	}
	// A B A B B A: AB 2, BA 2, BB 1. With totals A followed twice, B three
	// times, the best off the diagonal is what it is.
	joined := CarryOver(2, blocks, Order{Joined: true})
	if diff := cmp.Diff(CarryOverBalance{Counts: [][]int{{0, 2}, {2, 1}}, SelfSuccessions: 1}, joined); diff != "" {
		t.Error(diff)
	}
	// With the diagonal, one turn makes it 1 1 / 1 2: 9 falls to 7.
	self := CarryOver(2, blocks, Order{Joined: true, Self: true})
	if self.Deviation != 2 {
		t.Errorf("deviation %d, want 2", self.Deviation)
	}
}

// The same order three times: 0 precedes and 2 follows only, so 1 can be followed
// by nothing but 2, and 0 by nothing but 1. Lopsided, yet the only counts with
// these totals.
func TestCarryOverCannotBeEvenerThanItsMargins(t *testing.T) {
	c := CarryOver(3, [][]int{{0, 1, 2}, {0, 1, 2}, {0, 1, 2}}, Order{})
	if c.Deviation != 0 {
		t.Errorf("deviation %d", c.Deviation)
	}
}

// leastSquares finds by brute force the smallest Σ n² of whole numbers with the
// margins of the counts.
func leastSquares(counts [][]int, diagonal bool) int {
	v := len(counts)
	rows, columns := make([]int, v), make([]int, v)
	for i, row := range counts {
		for j, n := range row {
			if i != j || diagonal {
				rows[i] += n
				columns[j] += n
			}
		}
	}
	best := -1
	var fill func(cell, squares int)
	fill = func(cell, squares int) {
		if best >= 0 && squares >= best {
			return
		}
		if cell == v*v {
			if slices.Max(rows) == 0 && slices.Max(columns) == 0 {
				best = squares
			}
			return
		}
		i, j := cell/v, cell%v
		most := min(rows[i], columns[j])
		if i == j && !diagonal {
			most = 0
		}
		for n := 0; n <= most; n++ {
			rows[i] -= n
			columns[j] -= n
			fill(cell+1, squares+n*n)
			rows[i] += n
			columns[j] += n
		}
	}
	fill(0, 0)
	return best
}

func TestDeviationAgainstAllCountTables(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.IntRange(1, 4).Draw(t, "treatments")
		blocks := rapid.SliceOfN(rapid.SliceOfN(rapid.IntRange(0, v-1), 1, 5), 0, 4).Draw(t, "blocks")
		o := Order{Joined: rapid.Bool().Draw(t, "joined"), Self: rapid.Bool().Draw(t, "self")}
		c := CarryOver(v, blocks, o)
		squares := 0
		for i, row := range c.Counts {
			for j, n := range row {
				if i != j || o.Self {
					squares += n * n
				}
			}
		}
		if want := squares - leastSquares(c.Counts, o.Self); c.Deviation != want {
			t.Fatalf("counts %v: deviation %d, brute force %d", c.Counts, c.Deviation, want)
		}
	})
}
