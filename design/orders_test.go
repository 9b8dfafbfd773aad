package design

import (
	"errors"
	"math"
	"math/big"
	"slices"
	"testing"
)

// permutations lists all orders of 0 … n−1.
func permutations(n int) [][]int {
	if n == 0 {
		return [][]int{nil}
	}
	var out [][]int
	for _, shorter := range permutations(n - 1) {
		for at := range n {
			out = append(out, slices.Insert(slices.Clone(shorter), at, n-1))
		}
	}
	return out
}

// outcomes counts, by order, the outcomes of the three steps of a draw that lead
// to it, restrictions left aside: straight from the description of Draw.
func outcomes(p Problem) map[string]int {
	class := p.Class
	if class == nil {
		class = days(p.Treatments)
	}
	seen := map[string]int{}
	for _, label := range permutations(p.Treatments) {
		if slices.ContainsFunc(days(p.Treatments), func(t int) bool { return class[t] != class[label[t]] }) {
			continue
		}
		for _, source := range permutations(len(p.Blocks)) {
			if slices.ContainsFunc(days(len(p.Blocks)), func(j int) bool { return len(p.Blocks[j].Contents) != len(p.Blocks[source[j]].Contents) }) {
				continue
			}
			count := map[string]int{"": 1}
			for _, j := range source {
				longer := map[string]int{}
				for _, order := range permutations(len(p.Blocks[j].Contents)) {
					block := ""
					for _, i := range order {
						block += string(rune('0' + label[p.Blocks[j].Contents[i]]))
					}
					for before, n := range count {
						longer[before+block] += n
					}
				}
				count = longer
			}
			for order, n := range count {
				seen[order] += n
			}
		}
	}
	return seen
}

// Each order belongs to as many outcomes of the draw as any other one, the orders
// are those that EachOrder lists, and Unrestricted is their number.
func TestEveryOrderHasAsManyOutcomes(t *testing.T) {
	for name, p := range smallProblems() {
		p = Problem{Treatments: p.Treatments, Class: p.Class, Blocks: p.Blocks}
		for j := range p.Blocks {
			p.Blocks[j].Days = days(20)[j*4 : j*4+4] // own days, so that blocks are not alike
		}
		want := outcomes(p)
		times, listed := -1, map[string]bool{}
		for _, n := range want {
			if times >= 0 && n != times {
				t.Fatalf("%s: one order has %d outcomes, another %d", name, times, n)
			}
			times = n
		}
		EachOrder(p, func(o Order) {
			slots := o.Slots()
			order := orderOf(slots)
			if listed[order] || want[order] == 0 {
				t.Fatalf("%s: %s is listed twice or has no outcome", name, order)
			}
			listed[order] = true
		})
		if len(listed) != len(want) || Unrestricted(p).Cmp(big.NewInt(int64(len(want)))) != 0 {
			t.Errorf("%s: %d orders listed, %v counted, %d by outcomes", name, len(listed), Unrestricted(p), len(want))
		}
	}
}

// Numbers by hand: (5!)⁶ and (3!)⁴ orders of complete blocks; 6!/(2!2!2!) · … of
// incomplete ones. All ten pairs of five treatments of one class, a design that every
// relabelling gives back: 10! · 2¹⁰. The seven lines of the Fano plane have 168
// automorphisms of the 7! relabellings (the order of PSL(2, 7)): 30 different
// planes, 7! orders of their lines, (3!)⁷ orders within.
func TestOrdersByHand(t *testing.T) {
	whole := func(s string) *big.Int {
		n, _ := new(big.Int).SetString(s, 10)
		return n
	}
	var pairs, fano Problem
	pairs = Problem{Treatments: 5, Class: make([]int, 5)}
	for a := range 5 {
		for b := range a {
			pairs.Blocks = append(pairs.Blocks, Block{[]int{a, b}, days(20)})
		}
	}
	fano = Problem{Treatments: 7, Class: make([]int, 7)}
	for i := range 7 {
		fano.Blocks = append(fano.Blocks, Block{[]int{i, (i + 1) % 7, (i + 3) % 7}, days(21)})
	}
	repeated := Problem{Treatments: 2, Blocks: []Block{{[]int{0, 0, 1}, days(6)}, {[]int{0, 1, 1}, days(6)}}}
	for _, c := range []struct {
		name string
		p    Problem
		want *big.Int
	}{
		{"5 in 6", CompleteBlocks(5, 6, days(30), 0), whole("2985984000000")},
		{"3 in 4", CompleteBlocks(3, 4, days(12), 0), whole("1296")},
		{"a reference twice", repeated, whole("18")},
		{"pairs", pairs, whole("3715891200")},
		{"Fano plane", fano, new(big.Int).Mul(big.NewInt(30*5040), big.NewInt(279936))},
	} {
		if got := Unrestricted(c.p); got.Cmp(c.want) != 0 {
			t.Errorf("%s: %v orders, want %v", c.name, got, c.want)
		}
	}
}

// Blocks of AB give 2/2^n, of three treatments 6/6^n (Edgington and Onghena 2007,
// chapter 1; from memory), with 64 arrangements of 6 blocks of two.
func TestSmallestPOfAllOrders(t *testing.T) {
	for _, c := range []struct {
		treatments, blocks int
		number             int64
		p                  float64
	}{{2, 3, 8, 0.25}, {2, 4, 16, 0.125}, {2, 5, 32, 0.0625}, {2, 6, 64, 0.03125}, {2, 8, 256, 0.0078125}, {3, 2, 36, 1.0 / 6},
		{3, 5, 7776, 6.0 / 7776}, {5, 3, 1728000, 120.0 / 1728000}} {
		o, err := CountOrders(CompleteBlocks(c.treatments, c.blocks, days(40), 0), 1, 100)
		if err != nil {
			t.Fatal(err)
		}
		if o.Number.Cmp(big.NewInt(c.number)) != 0 || math.Abs(o.SmallestP-c.p) > 1e-12 || o.AtMost != (c.number > mostEnumerated) ||
			math.Abs(o.Log10-math.Log10(float64(c.number))) > 1e-12 || o.Share != 1 || o.ShareError != 0 {
			t.Errorf("%d in %d blocks: %+v, want %d and p %g", c.treatments, c.blocks, o, c.number, c.p)
		}
		if c.treatments == 2 && SmallestP(c.blocks) != o.SmallestP {
			t.Errorf("%g and %g for %d pairs", SmallestP(c.blocks), o.SmallestP, c.blocks)
		}
	}
}

// The orders that are left by restrictions, against the outcomes that an
// independent look at order and days does not forbid.
func TestRestrictedOrdersAreCounted(t *testing.T) {
	for name, p := range smallProblems() {
		want := 0
		for order := range outcomes(p) {
			if fits(p, order) {
				want++
			}
		}
		o, err := CountOrders(p, 1, 100)
		if err != nil {
			t.Fatal(name, err)
		}
		if o.Number.Int64() != int64(want) {
			t.Errorf("%s: %v orders, want %d", name, o.Number, want)
		}
	}
}

// fits tells whether some choice of days suits an order: a search over all.
func fits(p Problem, order string) bool {
	var slots []Slot
	for j, b := range p.Blocks {
		for range b.Contents {
			slots = append(slots, Slot{Block: j, Treatment: int(order[len(slots)] - '0')})
		}
	}
	if p.CarryOver != nil && carryOverImbalance(slots, p.Treatments) > *p.CarryOver || p.Trend != nil && trendImbalance(slots, p.Treatments) > *p.Trend {
		return false
	}
	if p.After == nil {
		p.After = make([]int, p.Treatments)
	}
	if p.Before == nil {
		p.Before = make([]int, p.Treatments)
	}
	dead := map[[2]int]bool{} // that from a slot on no days will do, after a day: unless more than that day counts
	lasting := p.Weekly == 0 && len(p.Wanted) == 0
	var search func(i, last int) bool
	search = func(i, last int) bool {
		if i == len(slots) {
			return !slices.ContainsFunc(p.Wanted, func(w int) bool {
				return !slices.ContainsFunc(slots, func(s Slot) bool { return s.Day == w })
			})
		}
		for _, day := range p.Blocks[slots[i].Block].Days {
			slots[i].Day = day
			if !dead[[2]int{i, last}] && violation(p, slots[:i+1]) == "" && search(i+1, day) {
				return true
			}
		}
		dead[[2]int{i, last}] = lasting
		return false
	}
	return search(0, -1)
}

// The estimated number of orders agrees with the enumerated one: three treatments
// in seven blocks, 6⁷ orders, of which (2/3)⁶ repeat no treatment.
func TestOrdersAreEstimatedWhereThereAreMany(t *testing.T) {
	p := CompleteBlocks(3, 7, days(40), 0)
	p.NoRepeat = true
	o, err := CountOrders(p, 5, 40000)
	if err != nil {
		t.Fatal(err)
	}
	share := math.Pow(2.0/3, 6)
	if o.Number != nil || math.Abs(o.Share-share) > 4*o.ShareError || math.Abs(o.ShareError-math.Sqrt(share*(1-share)/40000)) > 1e-4 ||
		math.Abs(o.Log10-math.Log10(279936*o.Share)) > 1e-9 || !o.AtMost || math.Abs(o.SmallestP-6/(279936*o.Share)) > 1e-9 {
		t.Errorf("%+v, want a share of %.4f", o, share)
	}
	if _, err := CountOrders(CompleteBlocks(3, 3, days(5), 0), 1, 10); !errors.As(err, &DoesNotFit{}) {
		t.Errorf("nine tests on five days: %v", err)
	}
}

// Large numbers keep their logarithm: 20 blocks of 12.
func TestLogOfManyOrders(t *testing.T) {
	o, err := CountOrders(CompleteBlocks(12, 40, days(480), 0), 1, 10)
	lgamma, _ := math.Lgamma(13)
	if want := 40 * lgamma / math.Ln10; err != nil || math.Abs(o.Log10-want) > 1e-9 || o.SmallestP < 0 {
		t.Errorf("%v %+v, want 10^%g", err, o, want)
	}
}
