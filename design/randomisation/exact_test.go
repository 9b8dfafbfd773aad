package randomisation

import (
	"maps"
	"math"
	"slices"
	"testing"

	"mealtrial/design"
)

func days(n int) []int { return sequence(n) }

// A setting is a problem with few orders, of which each is looked at.
type setting struct {
	name    string
	problem design.Problem
	lost    []int // places without a response
}

// settings have every kind of restriction and layout. Treatments 0 and 1 are alike
// and 2 and 3 are not.
func settings() []setting {
	shared := days(30)
	blocks := func(contents ...[]int) (b []design.Block) {
		for _, c := range contents {
			b = append(b, design.Block{Contents: c, Days: shared})
		}
		return b
	}
	all, pairs := []int{0, 1, 2}, blocks([]int{0, 1}, []int{0, 1}, []int{0, 1}, []int{0, 1}, []int{0, 1})
	carryOver, trend := 14.0, 6.0
	three := blocks(all, all, all)
	return []setting{
		{"pairs", design.Problem{Treatments: 2, Blocks: pairs}, nil},
		{"pairs, two lost", design.Problem{Treatments: 2, Blocks: pairs}, []int{2, 7}},
		{"complete", design.Problem{Treatments: 3, Blocks: three}, nil},
		{"complete, one lost", design.Problem{Treatments: 3, Blocks: three}, []int{4}},
		{"no repeats", design.Problem{Treatments: 3, Blocks: three, NoRepeat: true}, nil},
		{"no repeats, one lost", design.Problem{Treatments: 3, Blocks: three, NoRepeat: true}, []int{3}},
		{"balanced", design.Problem{Treatments: 3, Blocks: three, CarryOver: &carryOver, Trend: &trend}, nil},
		{"washouts", design.Problem{Treatments: 3, Blocks: []design.Block{{Contents: all, Days: days(6)}, {Contents: all, Days: shared}, {Contents: all, Days: days(14)}},
			After: []int{2, 0, 0}, Before: []int{0, 1, 0}}, nil},
		{"one is late", design.Problem{Treatments: 3, Blocks: three, Available: []design.Range{{From: 0, Until: 40}, {From: 2, Until: 40}, {From: 0, Until: 7}}}, nil},
		{"incomplete", design.Problem{Treatments: 4, Blocks: blocks([]int{0, 1}, []int{0, 2, 1}, []int{1, 3}, []int{0, 3, 2})}, nil},
		{"one class", design.Problem{Treatments: 3, Class: []int{0, 0, 0}, Blocks: blocks([]int{0, 1}, []int{0, 2}, []int{1, 2}, []int{0, 1, 2})}, nil},
		{"one class, unequal repeats", design.Problem{Treatments: 3, Class: []int{0, 0, 0}, Blocks: blocks([]int{0, 1}, []int{0, 1}, []int{0, 2}, []int{0, 1, 2})}, nil},
		{"two classes, no repeats, one lost", design.Problem{Treatments: 4, Class: []int{0, 0, 1, 1}, NoRepeat: true,
			Blocks: blocks([]int{0, 1, 2}, []int{0, 1, 3}, []int{0, 2})}, []int{1}},
		{"contents change places", design.Problem{Treatments: 3, Blocks: blocks([]int{0, 1}, []int{0, 2}, []int{0, 1}, []int{1, 2})}, nil},
		{"a reference twice", design.Problem{Treatments: 3, Blocks: blocks([]int{0, 0, 1, 2}, []int{0, 0, 1}, []int{0, 1, 2})}, []int{6}},
	}
}

// level of each place: a drift, jumps and an outlier, nothing like normal errors.
func levels(n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = 0.7*float64(i) + 3*math.Sin(float64(i*i)) + float64(i%4)
	}
	out[n/2] += 40
	return out
}

// study is the data of an order, with the response of each place and treatment.
func (s setting) study(slots []design.Slot, level, effect []float64) Data {
	d := Data{Parts: []design.Part{{Problem: s.problem, Slots: slices.Clone(slots)}}}
	for i, slot := range slots {
		d.Response = append(d.Response, level[i]+effect[slot.Treatment])
	}
	for _, i := range s.lost {
		d.Response[i] = math.NaN()
	}
	return d
}

// A tail collects p-values with the chances of the orders that gave them.
type tail map[float64]float64

// check holds P(p ≤ α) ≤ α at every p-value that came up, which is for all α.
func (l tail) check(t *testing.T, name string) {
	t.Helper()
	sum := 0.0
	for _, p := range slices.Sorted(maps.Keys(l)) {
		if sum += l[p]; sum > p+1e-9 {
			t.Errorf("%s: p ≤ %v has a chance of %v", name, p, sum)
		}
	}
	if math.Abs(sum-1) > 1e-9 {
		t.Errorf("%s: chances sum to %v", name, sum)
	}
}

// Over all orders that the draw can give, the p-value of two treatments that are
// alike is at most α with a chance of at most α, though the others differ; and the
// interval holds the difference of two that are not with a chance of its level.
func TestQuestionIsExactOverTheDraw(t *testing.T) {
	for _, s := range settings() {
		weights := make([]float64, s.problem.Treatments)
		weights[0], weights[1] = 1, -1
		level := levels(s.problem.Tests())
		alike, orders, told, held := tail{}, 0.0, 0, 0.0
		design.EachOrder(s.problem, func(design.Order) { orders++ })
		design.EachOrder(s.problem, func(o design.Order) {
			slots := o.Slots()
			a, err := Question(s.study(slots, level, []float64{5, 5, -20, 30}), weights, 0.6, Effort{})
			if err != nil {
				a.P = 1 // no answer
			} else if told++; !a.Exact || a.Null != PairAlike {
				t.Fatalf("%s: %+v", s.name, a)
			}
			alike[a.P] += 1 / orders
			b, err := Question(s.study(slots, level, []float64{8, 5, -20, 30}), weights, 0.6, Effort{})
			if err != nil || !b.Interval.Bounded || b.Interval.Low <= 3+1e-9 && b.Interval.High >= 3-1e-9 {
				held += 1 / orders
			}
			if err == nil && b.Interval.Bounded && !(b.Interval.Low <= b.Estimate && b.Estimate <= b.Interval.High) {
				t.Errorf("%s: the estimate %v lies outside %+v", s.name, b.Estimate, b.Interval)
			}
		})
		alike.check(t, s.name)
		if held < 0.6-1e-9 {
			t.Errorf("%s: the interval holds the difference with a chance of %v", s.name, held)
		}
		if float64(told) < orders/2 || len(alike) < 3 {
			t.Errorf("%s: %d of %v orders give an answer, %d p-values", s.name, told, orders, len(alike))
		}
	}
}

// The same of the test that no treatment differs, and of a contrast under it: their
// p-values are those of the orders among each other.
func TestGlobalIsExactOverTheDraw(t *testing.T) {
	for _, s := range settings() {
		level := levels(s.problem.Tests())
		weights := []float64{1, 1, -2, 0}[:s.problem.Treatments]
		global := s.everyP(level, nil)
		var contrast []float64
		if s.problem.Treatments > 2 {
			contrast = s.everyP(level, weights)
			s.tail(contrast).check(t, s.name+", contrast")
		}
		s.tail(global).check(t, s.name)
		step, i := max(1, len(global)/100), -1 // some orders are enough: each looks at all
		design.EachOrder(s.problem, func(o design.Order) {
			slots := o.Slots()
			if i++; i%step != 0 {
				return
			}
			d := s.study(slots, level, make([]float64, 4))
			if g, err := Global(d, Effort{}); err != nil || g.P != global[i] || g.Orders.Number.Int64() != int64(len(global)) {
				t.Fatalf("%s: %+v %v, want p = %v of %d orders", s.name, g, err, global[i], len(global))
			}
			if contrast == nil {
				return
			}
			if a, err := Question(d, weights, 0.9, Effort{}); err != nil && contrast[i] != 1 || err == nil && (a.P != contrast[i] || a.Null != AllAlike || a.Interval != nil) {
				t.Fatalf("%s: %+v %v, want p = %v", s.name, a, err, contrast[i])
			}
		})
	}
}

func (s setting) tail(p []float64) tail {
	l := tail{}
	for _, x := range p {
		l[x] += 1 / float64(len(p))
	}
	return l
}

// everyP returns the p-value of each order; as all are held against the same set,
// one run with the statistics of all gives them.
func (s setting) everyP(level, weights []float64) []float64 {
	var values []float64
	var places []design.Place
	var m *model
	design.EachOrder(s.problem, func(o design.Order) {
		slots := o.Slots()
		if m == nil {
			d := s.study(slots, level, make([]float64, 4))
			places = design.Places(d.Parts)
			m = newModel(places, d.Response, s.problem.Treatments, true, weights)
		}
		order := make([]int, len(slots))
		for i := range slots {
			order[i] = slots[i].Treatment
		}
		values = append(values, m.statistic(order))
	})
	out := make([]float64, len(values))
	for i, v := range values {
		n := 0.0
		for _, w := range values {
			if w >= v-tie {
				n++
			}
		}
		out[i] = n / float64(len(values))
	}
	return out
}
