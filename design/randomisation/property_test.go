package randomisation

import (
	"errors"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"mealtrial/design"
	"mealtrial/stats/additive"
)

// randomStudy is a study in blocks of any kind, with lost tests.
func randomStudy(t *rapid.T) Data {
	k := rapid.IntRange(2, 4).Draw(t, "treatments")
	p := design.Problem{Treatments: k, NoRepeat: rapid.Bool().Draw(t, "no repeats")}
	shared := days(60)
	for range rapid.IntRange(1, 4).Draw(t, "blocks") {
		contents := rapid.SliceOfN(rapid.IntRange(0, k-1), 1, 4).Draw(t, "contents")
		p.Blocks = append(p.Blocks, design.Block{Contents: contents, Days: shared})
	}
	if rapid.Bool().Draw(t, "washout") {
		p.After = rapid.SliceOfN(rapid.IntRange(0, 2), k, k).Draw(t, "after")
	}
	slots, err := design.Draw(p, rapid.Uint64().Draw(t, "seed"))
	if err != nil {
		t.Skip("nothing fits")
	}
	d := Data{Parts: []design.Part{{Problem: p, Slots: slots}}}
	for range slots {
		y := float64(rapid.IntRange(-400, 900).Draw(t, "response")) / 64
		if rapid.IntRange(0, 7).Draw(t, "lost") == 0 {
			y = math.NaN()
		}
		d.Response = append(d.Response, y)
	}
	return d
}

// fit is the fit of package additive to the tests that count.
func fit(d Data, order []int) *additive.Fit {
	var obs []additive.Observation
	for i, p := range design.Places(d.Parts) {
		if p.Kept && !math.IsNaN(d.Response[i]) {
			obs = append(obs, additive.Observation{Treatment: order[i], Block: p.Block, Value: d.Response[i]})
		}
	}
	if len(obs) == 0 {
		return nil
	}
	return additive.NewFit(obs)
}

// The statistics are those of the additive model: F/(F + 1), t²/(t² + 1), and of a
// pair t²/(t² + df), for other orders too.
func TestStatisticsAreThoseOfTheAdditiveModel(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := randomStudy(t)
		places, k := design.Places(d.Parts), d.treatments()
		drawn := treatmentsOf(places)
		order := rapid.Permutation(drawn).Draw(t, "order")
		f := fit(d, order)
		if f == nil || f.Treatments < k {
			t.Skip("too little")
		}
		m := newModel(places, d.Response, k, true, nil)
		if test, ok := f.TreatmentTest(); ok && f.RSS > 1e-6 {
			if got, want := m.statistic(order), test.F/(test.F+1); math.Abs(got-want) > 1e-9 {
				t.Fatalf("F ratio: %v, want %v", got, want)
			}
		}
		weights := make([]float64, k)
		weights[0], weights[k-1] = 2, -2
		e, err := f.Contrast(weights)
		m = newModel(places, d.Response, k, true, weights)
		got := m.statistic(order)
		if err != nil && got != 0 {
			t.Fatalf("a contrast that cannot be estimated: %v", got)
		}
		if err == nil && f.DF > 0 && f.RSS > 1e-6 {
			if x := e.Value * e.Value / (e.SE * e.SE); math.Abs(got-x/(x+1)) > 1e-9 {
				t.Fatalf("contrast: %v, want %v", got, x/(x+1))
			}
		}
	})
}

// A pair is judged by |t| of the additive model, order by order.
func TestPairIsJudgedByT(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := randomStudy(t)
		k := d.treatments()
		weights := make([]float64, k)
		weights[0], weights[k-1] = 1, -1
		places := design.Places(d.Parts)
		f := fit(d, treatmentsOf(places))
		p, err := newPair(places, d.Response, 0, k-1)
		if f == nil || f.Treatments < k {
			if err == nil {
				t.Fatal("an estimate of a treatment without responses")
			}
			t.Skip("too little")
		}
		e, wrong := f.Contrast(weights)
		if (err != nil) != (wrong != nil) {
			t.Fatalf("%v and %v", err, wrong)
		}
		if err != nil {
			if !errors.Is(err, ErrNotEstimable) {
				t.Fatal(err)
			}
			return
		}
		if math.Abs(p.estimate-e.Value) > 1e-8*(1+math.Abs(e.Value)) {
			t.Fatalf("estimate %v, want %v", p.estimate, e.Value)
		}
		x, err := design.NewExchange(d.Parts, []int{0, k - 1})
		if err != nil {
			t.Fatal(err)
		}
		x.Each(func(order []int) {
			f := fit(d, order)
			if f.Treatments < k || f.DF == 0 || f.RSS < 1e-6 {
				return
			}
			want := 0.0
			if e, err := f.Contrast(weights); err == nil {
				t2 := e.Value * e.Value / (e.SE * e.SE)
				want = t2 / (t2 + float64(f.DF))
			}
			if got := p.look(order); math.Abs(got*got-want) > 1e-8 {
				t.Fatalf("%v, want %v", got, want)
			}
		})
	})
}

// reject tells the p-value of a difference of delta: what the interval is to invert.
func reject(t *rapid.T, d Data, a int, delta float64, weights []float64) float64 {
	shifted := Data{Parts: d.Parts, Response: slices.Clone(d.Response)}
	for i, p := range design.Places(d.Parts) {
		if p.Treatment == a {
			shifted.Response[i] -= delta
		}
	}
	answer, err := Question(shifted, weights, 0.9, Effort{})
	if err != nil {
		t.Fatal(err)
	}
	return answer.P
}

// The interval holds exactly the differences that the test does not reject: just
// within and just beyond its limits, and far away.
func TestIntervalInvertsTheTest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := randomStudy(t)
		weights := make([]float64, d.treatments())
		weights[0], weights[1] = 1, -1
		level := rapid.SampledFrom([]float64{0.3, 0.5, 0.75, 0.9}).Draw(t, "level")
		a, err := Question(d, weights, level, Effort{})
		if err != nil {
			t.Skip(err.Error())
		}
		i := *a.Interval
		if !i.Bounded {
			for _, far := range []float64{-1e4, 0, 1e4} {
				if p := reject(t, d, 0, far, weights); p <= 1-level-1e-9 {
					t.Fatalf("no limits, but p = %v at %v", p, far)
				}
			}
			return
		}
		step := 1e-6 * (1 + i.High - i.Low)
		for _, c := range []struct {
			at   float64
			kept bool
		}{{i.Low + step, true}, {i.High - step, true}, {i.Low - step, false}, {i.High + step, false}, {i.Low - 1e3, false}, {i.High + 1e3, false}} {
			if i.High-i.Low < 4*step && c.kept {
				continue
			}
			if p := reject(t, d, 0, c.at, weights); (p > 1-level+1e-9) != c.kept {
				t.Fatalf("%v to %v at level %v, but p = %v at %v", i.Low, i.High, level, p, c.at)
			}
		}
		if a.P <= 1-level && i.Low < -step && i.High > step || a.P > 1-level+1e-9 && (i.Low > step || i.High < -step) {
			t.Fatalf("p = %v and %+v", a.P, i)
		}
	})
}

// Another unit, another level and the other sign change nothing but the numbers.
func TestShiftScaleAndSign(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := randomStudy(t)
		weights := make([]float64, d.treatments())
		weights[0], weights[1] = 1, -1
		a, err := Question(d, weights, 0.6, Effort{})
		if err != nil {
			t.Skip(err.Error())
		}
		other := Data{Parts: d.Parts}
		for _, y := range d.Response {
			other.Response = append(other.Response, 1000-8*y)
		}
		b, err := Question(other, []float64{-0.5, 0.5, 0, 0}[:len(weights)], 0.6, Effort{})
		if err != nil {
			t.Fatal(err)
		}
		i, j := *a.Interval, *b.Interval
		if a.P != b.P || !near(4*a.Estimate, b.Estimate, 1e-8) || i.Bounded != j.Bounded || !near(4*i.Low, j.Low, 1e-7) || !near(4*i.High, j.High, 1e-7) {
			t.Fatalf("%+v %+v\n%+v %+v", a, i, b, j)
		}
		g, err := Global(d, Effort{})
		h, err2 := Global(other, Effort{})
		if (err == nil) != (err2 == nil) || g.P != h.P {
			t.Fatalf("%+v %v, %+v %v", g, err, h, err2)
		}
	})
}
