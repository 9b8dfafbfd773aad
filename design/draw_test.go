package design

import (
	"errors"
	"fmt"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

func days(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	return out
}

// Every one of the (3!)² = 36 orders of two blocks of three must be equally
// likely: Pearson's chi-square against the enumerated set, 36 000 seeds. The
// seeds are fixed, so the test always gives the same answer; the bounds are the
// 0.1 % and 99.9 % points.
func TestDrawIsUniformOverTheOrdersOfSmallBlocks(t *testing.T) {
	p := CompleteBlocks(3, 2, days(6), 0)
	checkUniform(t, countOrders(t, p, 36000), 36)
}

// countOrders draws with the seeds 1, 2, … and counts the orders that come up.
func countOrders(t *testing.T, p Problem, seeds int) map[string]int {
	t.Helper()
	seen := map[string]int{}
	for seed := range uint64(seeds) {
		slots, err := Draw(p, seed+1)
		if err != nil {
			t.Fatal(err)
		}
		key := ""
		for _, s := range slots {
			key += fmt.Sprint(s.Treatment)
		}
		seen[key]++
	}
	return seen
}

// checkUniform holds counts of so many possible orders against equal chances, by
// Pearson's chi-square between its 0.1 % and 99.9 % points.
func checkUniform(t *testing.T, seen map[string]int, orders int) {
	t.Helper()
	if len(seen) != orders {
		t.Fatalf("%d different orders came up, want %d", len(seen), orders)
	}
	total := 0
	for _, n := range seen {
		total += n
	}
	chi, want := 0.0, float64(total)/float64(orders)
	for _, n := range seen {
		chi += (float64(n) - want) * (float64(n) - want) / want
	}
	law := distuv.ChiSquared{K: float64(orders - 1)}
	if at := law.CDF(chi); at < 0.001 || at > 0.999 {
		t.Errorf("chi-square %.1f on %d degrees of freedom is at the %.4f point", chi, orders-1, at)
	}
}

// Neighbouring seeds are the ones a person would try.
func TestNeighbouringSeedsDiffer(t *testing.T) {
	p := CompleteBlocks(5, 4, days(20), 0)
	a, _ := Draw(p, 1)
	b, _ := Draw(p, 2)
	if slices.Equal(a, b) {
		t.Error("seeds 1 and 2 draw the same schedule")
	}
}

// The schedule of a seed may never change, in no release and on no platform:
// it is the record of a randomisation. The expected order is this program's own.
func TestDrawOfASeedIsForever(t *testing.T) {
	slots, err := Draw(CompleteBlocks(4, 2, days(8), 0), 20270111)
	if err != nil {
		t.Fatal(err)
	}
	got := ""
	for _, s := range slots {
		got += fmt.Sprint(s.Treatment)
	}
	if want := "20133102"; got != want {
		t.Errorf("seed 20270111 draws %s, and drew %s before", got, want)
	}
}

// No schedule ever breaks a restriction.
func TestEveryDrawKeepsTheRestrictions(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var free []int
		day := 0
		for range rapid.IntRange(0, 120).Draw(t, "free days") {
			day += rapid.IntRange(1, 5).Draw(t, "step")
			free = append(free, day)
		}
		p := CompleteBlocks(rapid.IntRange(1, 7).Draw(t, "treatments"), rapid.IntRange(1, 6).Draw(t, "blocks"), free,
			rapid.IntRange(0, 4).Draw(t, "washout"))
		slots, err := Draw(p, rapid.Uint64().Draw(t, "seed"))
		var misfit DoesNotFit
		if errors.As(err, &misfit) {
			if Room(free, p.Washout, 0) >= misfit.Needed || misfit.Placed != Room(free, p.Washout, 0) || misfit.Worst() != Days {
				t.Fatalf("refused with room for %d: %+v", Room(free, p.Washout, 0), misfit)
			}
			return
		}
		again, _ := Draw(p, 7)
		if len(slots) != p.Tests() || len(again) != p.Tests() {
			t.Fatalf("%d slots, want %d", len(slots), p.Tests())
		}
		times := map[[2]int]int{}
		for i, s := range slots {
			times[[2]int{s.Block, s.Treatment}]++
			if !slices.Contains(free, s.Day) {
				t.Fatalf("day %d is not free", s.Day)
			}
			if i > 0 && (s.Day-slots[i-1].Day <= p.Washout || s.Block < slots[i-1].Block) {
				t.Fatalf("slots %v and %v with washout %d", slots[i-1], s, p.Washout)
			}
			if s.Day != again[i].Day || s.Block != again[i].Block {
				t.Fatalf("the seed moved day or block: %v, %v", s, again[i])
			}
		}
		if len(times) != p.Tests() {
			t.Fatalf("some treatment stands twice in a block: %v", times)
		}
	})
}

// Taking the earliest day each time must hold as many tests as any choice of
// days: brute force over all subsets of up to 12 days.
func TestRoomIsTheLargestPossible(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		washout := rapid.IntRange(0, 3).Draw(t, "washout")
		free := rapid.SliceOfNDistinct(rapid.IntRange(0, 20), 0, 12, rapid.ID[int]).Draw(t, "days")
		slices.Sort(free)
		most := 0
		for subset := range 1 << len(free) {
			n, last, ok := 0, -100, true
			for i, d := range free {
				if subset&(1<<i) != 0 {
					ok = ok && d > last+washout
					n, last = n+1, d
				}
			}
			if ok {
				most = max(most, n)
			}
		}
		if got := Room(free, washout, 0); got != most {
			t.Fatalf("room for %d on %v with washout %d, brute force finds %d", got, free, washout, most)
		}
	})
}

func TestMisfitNamesTheNumbers(t *testing.T) {
	_, err := Draw(CompleteBlocks(3, 3, days(10), 1), 1)
	if want := "9 tests needed, at most 5 could be placed in 1 draws"; err == nil || err.Error() != want {
		t.Errorf("%v, want %s", err, want)
	}
}

// A redraw is to be done within 50 µs.
func BenchmarkDraw5FoodsIn6Blocks(b *testing.B) {
	p := CompleteBlocks(5, 6, days(60), 1)
	p.After = []int{0, 2, 0, 0, 0} // 30 tests and up to 36 washout days: not every order fits 60 days
	p.Washout = 0
	p.NoRepeat = true
	for i := range b.N {
		if _, err := Draw(p, uint64(i)); err != nil {
			b.Fatal(err)
		}
	}
}
