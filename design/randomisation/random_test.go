package randomisation

import (
	"errors"
	"math"
	"math/big"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"mealtrial/design"
)

// Random orders come to the p-values and limits of all orders, within their own
// error, and are told from them.
func TestRandomOrdersAgreeWithAllOrders(t *testing.T) {
	for _, q := range reference.Questions {
		if q.Orders < 16 {
			continue
		}
		d, weights := q.data(), q.weights(q.A, q.B, 1)
		all, err := Question(d, weights, q.Level, Effort{})
		if err != nil {
			t.Fatal(err)
		}
		some, err := Question(d, weights, q.Level, Effort{Orders: 1, Draws: 20_000, Seed: 3})
		if err != nil {
			t.Fatal(err)
		}
		if some.Exact || some.Draws != 20_000 || math.Abs(some.P-all.P) > 5*some.Error+1e-4 || some.Error > 0.004 || (some.P < 0.99) != (some.Error > 0) {
			t.Errorf("%s: %+v, want p = %v", q.Name, some, all.P)
		}
		if some.Smallest != 1.0/20_001 || some.Interval.Bounded != all.Interval.Bounded || some.Estimate != all.Estimate {
			t.Errorf("%s: %+v of random orders, %+v of all", q.Name, some.Interval, all.Interval)
		}
		if n := math.Log10(float64(q.Orders)); math.Abs(some.Orders.Log10-n) > 5*some.Orders.ShareError/some.Orders.Share+1e-9 {
			t.Errorf("%s: 10^%v orders, want 10^%v", q.Name, some.Orders.Log10, n)
		}
		again, _ := Question(d, weights, q.Level, Effort{Orders: 1, Draws: 20_000, Seed: 3})
		other, _ := Question(d, weights, q.Level, Effort{Orders: 1, Draws: 20_000, Seed: 4})
		if again.P != some.P || all.P < 0.95 && other.P == some.P {
			t.Errorf("%s: seeds 3, 3 and 4 give %v, %v and %v", q.Name, some.P, again.P, other.P)
		}
	}
	for _, g := range reference.Globals {
		r, err := Global(g.data(), Effort{Orders: 1, Draws: 30_000})
		if err != nil || r.Exact || math.Abs(r.P-g.P) > 5*r.Error+1e-4 || math.Abs(r.Orders.Log10-math.Log10(float64(g.Orders))) > 0.02 {
			t.Errorf("%s: %+v %v, want p = %v of %d orders", g.Name, r, err, g.P, g.Orders)
		}
	}
}

// The limits of many pairs: of random orders near those of all.
func TestLimitsOfRandomOrders(t *testing.T) {
	maize := pairs(reference.Pairs[0].D).data()
	all, _ := Question(maize, []float64{1, -1}, 0.95, Effort{})
	some, _ := Question(maize, []float64{1, -1}, 0.95, Effort{Orders: 1000})
	if some.Exact || math.Abs(some.Interval.Low-all.Interval.Low) > 0.7 || math.Abs(some.Interval.High-all.Interval.High) > 0.7 {
		t.Errorf("%+v and %+v", some.Interval, all.Interval)
	}
}

// When allowed orders are rare fewer are looked at, and when only the drawn one is
// known p is 1.
func TestRareOrders(t *testing.T) {
	p := design.CompleteBlocks(3, 3, days(9), 0)
	least := 12.0 // the most even orders of nine tests
	p.CarryOver, p.NoRepeat = &least, true
	slots, err := design.Draw(p, 1)
	if err != nil {
		t.Fatal(err)
	}
	d := setting{problem: p}.study(slots, levels(9), []float64{0, 9, 0})
	r, err := Global(d, Effort{Orders: 1, Draws: 1000, Tries: 3000, Seed: 1})
	if err != nil || r.Draws >= 1000 || r.Draws < 10 || r.P < 1/float64(r.Draws+1) || r.Smallest != 1/float64(r.Draws+1) || r.Orders.Number != nil || r.Orders.ShareError <= 0 {
		t.Errorf("%+v %v", r, err)
	}
	r, err = Global(d, Effort{Orders: 1, Draws: 1, Tries: 1, Seed: 2})
	if err != nil || r.P != 1 || r.Draws != 0 || r.Error != 0 || math.IsNaN(r.Orders.Log10) {
		t.Errorf("%+v %v", r, err)
	}
}

// As many blocks of two as make 2/2^n fall below a level are needed; with five no
// difference is ever shown at 0.05 (Edgington and Onghena 2007, chapter 1; from memory).
func TestSmallestP(t *testing.T) {
	for n, want := range map[int]float64{3: 0.25, 4: 0.125, 5: 0.0625, 6: 0.03125, 8: 0.0078125} {
		var differences []float64
		for i := range n {
			differences = append(differences, 1000+float64(i))
		}
		a, err := Question(pairs(differences).data(), []float64{1, -1}, 0.95, Effort{})
		if err != nil || a.Smallest != want || a.P != want || a.Orders.Number.Cmp(big.NewInt(1<<n)) != 0 || a.Interval.Bounded != (n > 5) || want != design.SmallestP(n) {
			t.Errorf("%d blocks: %+v %v", n, a, err)
		}
	}
	// Of three treatments in two blocks 6 of 36 orders differ in the numbers only.
	p := design.CompleteBlocks(3, 2, days(6), 0)
	slots, _ := design.Draw(p, 1)
	if r, err := Global(setting{problem: p}.study(slots, make([]float64, 6), []float64{0, 50, 900}), Effort{}); err != nil || r.Smallest != 1.0/6 || r.P != 1.0/6 {
		t.Errorf("%+v %v", r, err)
	}
}

// Contrasts differ in sign at most where treatments of one weight change numbers:
// 2 of the 3! relabellings for (1, 1, −2), 8 of the 4! for (1, 1, −1, −1).
func TestSmallestPOfContrasts(t *testing.T) {
	for _, c := range []struct {
		weights []float64
		want    float64
	}{{[]float64{1, 1, -2}, 2.0 / 36}, {[]float64{1, 1, -1, -1}, 8.0 / 576}} {
		k := len(c.weights)
		p := design.CompleteBlocks(k, 2, days(2*k), 0)
		slots, _ := design.Draw(p, 1)
		a, err := Question(setting{problem: p}.study(slots, levels(2*k), make([]float64, 4)), c.weights, 0.9, Effort{})
		if err != nil || math.Abs(a.Smallest-c.want) > 1e-12 || a.P < a.Smallest || a.Null != AllAlike {
			t.Errorf("%v: %+v %v, want %v", c.weights, a, err, c.want)
		}
	}
}

// Of few random orders the drawn one is one: with 18 of them no p below 1/19, and so
// no limits at 0.95; with 19 there may be.
func TestFewRandomOrders(t *testing.T) {
	shift := pairs([]float64{30, 31, 33, 36, 40, 45, 51, 58, 66, 75, 85, 96, 108, 121, 135}).data()
	for draws, bounded := range map[int]bool{18: false, 20: true} {
		a, err := Question(shift, []float64{1, -1}, 0.95, Effort{Orders: 1, Draws: draws, Seed: 1})
		if err != nil || a.P != 1/float64(draws+1) || a.Smallest != a.P || a.Interval.Bounded != bounded {
			t.Errorf("%d draws: %+v %+v %v", draws, a, a.Interval, err)
		}
	}
}

// Responses that are all equal, or equal but for blocks, speak for nothing.
func TestEqualResponses(t *testing.T) {
	p := design.CompleteBlocks(3, 4, days(12), 0)
	slots, _ := design.Draw(p, 1)
	level := make([]float64, 12)
	for i, s := range slots {
		level[i] = 0.1 * float64(s.Block)
	}
	d := setting{problem: p}.study(slots, level, make([]float64, 3))
	r, err := Global(d, Effort{})
	a, err2 := Question(d, []float64{1, 0, -1}, 0.9, Effort{})
	if err != nil || err2 != nil || r.P != 1 || a.P != 1 || a.Estimate > 1e-12 || math.IsNaN(a.Interval.Low+a.Interval.High) {
		t.Errorf("%+v %v, %+v %v", r, err, a, err2)
	}
	if a.Smallest != 2.0/16 || r.Smallest != 6.0/1296 || a.Orders.Number.Int64() != 16 {
		t.Errorf("what the schedule can show: %+v, %+v", a, r)
	}
}

func TestErrors(t *testing.T) {
	p := design.CompleteBlocks(3, 2, days(6), 0)
	slots, _ := design.Draw(p, 1)
	study := func(lost ...int) Data {
		return setting{problem: p, lost: lost}.study(slots, levels(6), make([]float64, 3))
	}
	var ofTwo, others []int // places of treatment 2, and all others
	for i, s := range slots {
		if s.Treatment == 2 {
			ofTwo = append(ofTwo, i)
		} else {
			others = append(others, i)
		}
	}
	if _, err := Question(study(ofTwo...), []float64{1, 0, -1}, 0.9, Effort{}); !errors.Is(err, ErrNotEstimable) {
		t.Errorf("a treatment without responses: %v", err)
	}
	if _, err := Question(study(ofTwo...), []float64{1, 1, -2}, 0.9, Effort{}); !errors.Is(err, ErrNotEstimable) {
		t.Errorf("a contrast with it: %v", err)
	}
	if _, err := Question(study(sequence(6)...), []float64{1, 0, -1}, 0.9, Effort{}); !errors.Is(err, ErrNotEstimable) {
		t.Errorf("no responses: %v", err)
	}
	if _, err := Global(study(others...), Effort{}); !errors.Is(err, ErrNotEstimable) {
		t.Errorf("one treatment: %v", err)
	}
	if _, err := Global(study(0, 1, 2), Effort{}); !errors.Is(err, ErrNoResidual) {
		t.Errorf("three responses: %v", err)
	}
	moved := study()
	moved.Parts[0].Slots[5].Day++
	for _, err := range []error{
		func() error { _, err := Global(moved, Effort{}); return err }(),
		func() error { _, err := Question(moved, []float64{1, -1, 0}, 0.9, Effort{}); return err }(),
		func() error { _, err := Question(moved, []float64{1, 1, -2}, 0.9, Effort{}); return err }()} {
		if !errors.Is(err, design.ErrNotDrawn) {
			t.Errorf("a schedule that was not drawn: %v", err)
		}
	}
}

func TestPanics(t *testing.T) {
	p := design.CompleteBlocks(3, 2, days(6), 0)
	slots, _ := design.Draw(p, 1)
	d := setting{problem: p}.study(slots, levels(6), make([]float64, 3))
	infinite := Data{d.Parts, slices.Clone(d.Response)}
	infinite.Response[2] = math.Inf(1)
	for name, f := range map[string]func(){
		"too few responses":      func() { Global(Data{d.Parts, d.Response[1:]}, Effort{}) },
		"an infinite response":   func() { Global(infinite, Effort{}) },
		"the same of a pair":     func() { Question(infinite, []float64{1, 0, -1}, 0.9, Effort{}) },
		"weights of another sum": func() { Question(d, []float64{1, 0, -0.9}, 0.9, Effort{}) },
		"no weights":             func() { Question(d, []float64{0, 0, 0}, 0.9, Effort{}) },
		"too few weights":        func() { Question(d, []float64{1, -1}, 0.9, Effort{}) },
		"weights not a number":   func() { Question(d, []float64{1, math.NaN(), 0}, 0.9, Effort{}) },
		"a level of 1":           func() { Question(d, []float64{1, 0, -1}, 1, Effort{}) },
		"negative draws":         func() { Global(d, Effort{Draws: -1}) },
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s: no panic", name)
				}
			}()
			f()
		}()
	}
}

func TestSmallestIsTheOrderStatistic(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		values := rapid.SliceOfN(rapid.Map(rapid.IntRange(0, 60), func(i int) float64 { return float64(i) }), 1, 300).Draw(t, "values")
		n := rapid.IntRange(1, len(values)).Draw(t, "n")
		want := slices.Sorted(slices.Values(values))[n-1]
		if got := smallest(values, n); got != want {
			t.Fatalf("%v, want %v", got, want)
		}
	})
}
