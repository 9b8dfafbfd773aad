package design

import (
	"fmt"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// redrawn counts the orders of so many redraws.
func redrawn(p Problem, seed uint64, draws int) map[string]int {
	seen := map[string]int{}
	Redraw(p, seed, draws, 0, func(o Order) { slots := o.Slots(); seen[orderOf(slots)]++ })
	return seen
}

func orderOf(slots []Slot) string {
	key := make([]byte, len(slots))
	for i, s := range slots {
		key[i] = byte('0' + s.Treatment)
	}
	return string(key)
}

// The problems on which the orders are looked at: small enough to list them all.
func smallProblems() map[string]Problem {
	shared := days(14)
	blocks := func(contents ...[]int) (b []Block) {
		for _, c := range contents {
			b = append(b, Block{Contents: c, Days: shared})
		}
		return b
	}
	carryOver, trend := 14.0, 6.0
	return map[string]Problem{
		"complete":                    {Treatments: 3, Blocks: blocks([]int{0, 1, 2}, []int{0, 1, 2})},
		"no repeats":                  {Treatments: 3, Blocks: blocks([]int{0, 1, 2}, []int{0, 1, 2}, []int{0, 1, 2}), NoRepeat: true},
		"no repeat of a held test":    {Treatments: 3, Blocks: blocks([]int{0, 1, 2}, []int{0, 1, 2}), NoRepeat: true, Held: []Held{{-3, 1}}},
		"washout after one":           {Treatments: 3, Blocks: blocks([]int{0, 1, 2}, []int{0, 1, 2}, []int{0, 1, 2}), After: []int{2, 0, 0}},
		"washout before one":          {Treatments: 3, Blocks: blocks([]int{0, 1, 2}, []int{0, 1, 2}, []int{0, 1, 2}), Before: []int{0, 2, 0}},
		"washout after and before":    {Treatments: 3, Blocks: blocks([]int{0, 1, 2}, []int{0, 1, 2}), After: []int{3, 0, 0}, Before: []int{0, 4, 0}},
		"one treatment is late":       {Treatments: 3, Blocks: blocks([]int{0, 1, 2}, []int{0, 1, 2}), Available: []Range{{0, 99}, {3, 99}, {0, 11}}, Washout: 1},
		"one a week":                  {Treatments: 2, Blocks: blocks([]int{0, 1}), Weekly: 1, After: []int{9, 0}},
		"balanced":                    {Treatments: 3, Blocks: blocks([]int{0, 1, 2}, []int{0, 1, 2}, []int{0, 1, 2}), CarryOver: &carryOver, Trend: &trend},
		"pairs of one class":          {Treatments: 3, Class: []int{0, 0, 0}, Blocks: blocks([]int{0, 1}, []int{0, 2}, []int{1, 2})},
		"two classes, two sizes":      {Treatments: 4, Class: []int{0, 1, 1, 1}, Blocks: blocks([]int{0, 1}, []int{0, 2, 3}, []int{0, 1}), NoRepeat: true},
		"reference twice, one class":  {Treatments: 3, Class: []int{0, 1, 1}, Blocks: blocks([]int{0, 0, 1}, []int{0, 2}, []int{0, 1, 1})},
		"contents change places":      {Treatments: 3, Blocks: blocks([]int{0, 1}, []int{0, 2}, []int{0, 1})},
		"contents and a late one":     {Treatments: 3, Blocks: blocks([]int{0, 1}, []int{0, 2}, []int{1, 2}), Available: []Range{{0, 99}, {2, 99}, {0, 99}}},
		"a wanted day":                {Treatments: 2, Blocks: blocks([]int{0, 1}, []int{0, 1}), After: []int{1, 3}, Wanted: []int{4}},
		"blocks on days of their own": {Treatments: 2, Blocks: []Block{{[]int{0, 1}, days(4)}, {[]int{1, 0}, []int{4, 5, 7}}}, After: []int{2, 0}},
	}
}

// checkEven holds counts of so many possible orders against equal chances, by
// Pearson's chi-square below its 99.99 % point.
func checkEven(t *testing.T, seen map[string]int, orders int) {
	t.Helper()
	total, chi := 0, 0.0
	for _, n := range seen {
		total += n
	}
	want := float64(total) / float64(orders)
	for _, n := range seen {
		chi += (float64(n) - want) * (float64(n) - want) / want
	}
	chi += want * float64(orders-len(seen)) // those never seen
	if orders > 1 && chi > (distuv.ChiSquared{K: float64(orders - 1)}).Quantile(0.9999) {
		t.Errorf("chi-square %.1f for %d orders", chi, orders)
	}
}

// Redraw draws as Draw does: the same orders, each equally likely, by Pearson's
// chi-square for both.
func TestRedrawIsUniformOverTheOrdersOfDraw(t *testing.T) {
	for name, p := range smallProblems() {
		listed := map[string]int{}
		EachOrder(p, func(o Order) { slots := o.Slots(); listed[orderOf(slots)]++ })
		n := 60 * len(listed)
		drawn := countOrders(t, p, n)
		seen := redrawn(p, 3, n)
		for _, orders := range []map[string]int{drawn, seen} {
			for order := range orders {
				if listed[order] != 1 {
					t.Fatalf("%s: %s was drawn and is listed %d times", name, order, listed[order])
				}
			}
			checkEven(t, orders, len(listed))
		}
		if t.Failed() {
			t.Fatalf("in %s", name)
		}
	}
}

// Slots that are redrawn have their blocks and days, also where the days are not
// looked up again.
func TestRedrawnSlotsKeepTheRestrictions(t *testing.T) {
	for name, p := range smallProblems() {
		for j := range p.Blocks {
			p.Blocks[j].Days = slices.Clone(p.Blocks[0].Days)
		}
		Redraw(p, 1, 200, 0, func(o Order) {
			slots := o.Slots()
			q := p
			if q.After == nil {
				q.After = make([]int, p.Treatments)
			}
			if q.Before == nil {
				q.Before = make([]int, p.Treatments)
			}
			if v := violation(q, slots); v != "" {
				t.Fatalf("%s: %s in %v", name, v, slots)
			}
		})
	}
}

func TestRedrawStops(t *testing.T) {
	p := CompleteBlocks(3, 3, days(9), 0)
	p.NoRepeat = true
	full := Redraw(p, 1, 1000, 0, func(Order) {})
	if full.Draws != 1000 || full.Tries <= 1500 || full.Tries > 3500 { // (2/3)² of the orders are allowed
		t.Errorf("%+v", full)
	}
	short := Redraw(p, 1, 1000, 500, func(Order) {})
	if short.Tries != 500 || short.Draws < 150 || short.Draws > 300 {
		t.Errorf("%+v", short)
	}
	p.Treatments, p.Blocks = 1, []Block{{[]int{0, 0}, days(4)}}
	if never := Redraw(p, 1, 5, 0, func(Order) { t.Error("an order that is not allowed") }); never != (Tally{0, mostTries}) {
		t.Errorf("%+v", never)
	}
	if none := Redraw(CompleteBlocks(3, 3, days(8), 0), 1, 5, 0, func(Order) {}); none != (Tally{0, 1}) {
		t.Errorf("days that cannot do: %+v", none)
	}
}

func TestRedrawFollowsFromItsSeed(t *testing.T) {
	p := CompleteBlocks(4, 2, days(8), 0)
	record := func(seed uint64) (all string) {
		Redraw(p, seed, 20, 0, func(o Order) { slots := o.Slots(); all += fmt.Sprint(slots) })
		return all
	}
	if again := record(1); again != record(1) || again == record(2) {
		t.Error("redraws do not follow from their seed")
	}
}

// One redraw with the sum of squares of the treatments' sums; the aim is 250 ns.
func BenchmarkRedraw5FoodsIn6Blocks(b *testing.B) {
	p := CompleteBlocks(5, 6, days(30), 0)
	y := make([]float64, 30)
	for i := range y {
		y[i] = float64(i * i % 17)
	}
	largest := 0.0
	b.ReportAllocs()
	Redraw(p, 1, b.N, 0, func(o Order) {
		slots := o.Slots()
		var sums [5]float64
		for i := range slots {
			sums[slots[i].Treatment] += y[i]
		}
		largest = max(largest, sums[0]*sums[0]+sums[1]*sums[1]+sums[2]*sums[2]+sums[3]*sums[3]+sums[4]*sums[4])
	})
}

// The same with restrictions as a study has them.
func BenchmarkRedrawRestricted(b *testing.B) {
	p := CompleteBlocks(5, 6, days(75), 1)
	p.NoRepeat = true
	b.Run("no repeats", func(b *testing.B) { Redraw(p, 1, b.N, 0, func(Order) {}) })
	p.After = []int{0, 2, 0, 0, 0}
	b.Run("no repeats, a washout", func(b *testing.B) { Redraw(p, 1, b.N, 0, func(Order) {}) })
	p.After = nil
	balanced, err := Balance(p, true, false)
	if err != nil {
		b.Fatal(err)
	}
	b.Run("carry-over balanced", func(b *testing.B) { Redraw(balanced, 1, b.N, 0, func(Order) {}) })
}
