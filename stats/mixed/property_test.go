package mixed

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"mealtrial/stats/additive"
)

// anyStudy draws 6 to 60 tests in blocks, with tests lost at random; a third of
// the studies have equal blocks.
func anyStudy(t *rapid.T) (all []additive.Observation, treatments int) {
	treatments = rapid.IntRange(2, 12).Draw(t, "treatments")
	blocks := rapid.IntRange(1, 12).Draw(t, "blocks")
	size := rapid.IntRange(1, 6).Draw(t, "block size")
	random := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
	spread := rapid.SampledFrom([]float64{0, 0, 0.5, 1, 3, 1000}).Draw(t, "block SD")
	for b := range blocks {
		shift := spread * random.NormFloat64()
		for range size {
			i := random.IntN(treatments)
			all = append(all, additive.Observation{Treatment: i, Block: b, Value: float64(i%3) + shift + random.NormFloat64()})
		}
	}
	return all, treatments
}

// drawFit draws a study and skips it when it has no fit.
func drawFit(t *rapid.T) (all []additive.Observation, treatments int, f *Fit) {
	all, treatments = anyStudy(t)
	f, err := NewFit(all, treatments)
	if err != nil {
		t.Skip(err)
	}
	return all, treatments, f
}

// answers returns the estimates of all pairs and means of tested treatments.
func answers(f *Fit, treatments int) (means, differences []Estimate) {
	for i := range treatments {
		if e, err := f.Mean(i); err == nil {
			means = append(means, e)
		}
	}
	for _, w := range pairs(treatments) {
		if e, err := f.Contrast(w); err == nil {
			differences = append(differences, e)
		}
	}
	return means, differences
}

func same(t *rapid.T, what string, want, got any, size float64) {
	if diff := cmp.Diff(want, got, cmpopts.EquateApprox(1e-8, 1e-9*size)); diff != "" {
		t.Errorf("%s (-before +after):\n%s", what, diff)
	}
}

func TestShiftAndScale(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		all, treatments, f := drawFit(t)
		shift := rapid.Float64Range(-1e3, 1e3).Draw(t, "shift")
		scale := rapid.SampledFrom([]float64{-1, 0.001, 18.0182, 1e4}).Draw(t, "scale")
		moved := append([]additive.Observation(nil), all...)
		for k := range moved {
			moved[k].Value = scale * (moved[k].Value + shift)
		}
		g, err := NewFit(moved, treatments)
		if err != nil {
			t.Fatal(err)
		}
		size := math.Abs(scale) * math.Sqrt(f.ErrorVariance+f.BlockVariance)
		want := [][]Estimate{nil, nil}
		want[0], want[1] = answers(f, treatments)
		for k := range want {
			for j := range want[k] {
				e := &want[k][j]
				if k == 0 {
					e.Value += shift
				}
				e.Value, e.SE = e.Value*scale, e.SE*math.Abs(scale)
			}
		}
		got := [][]Estimate{nil, nil}
		got[0], got[1] = answers(g, treatments)
		same(t, "estimates", want, got, size+math.Abs(scale*shift))
		same(t, "variances", []float64{f.BlockVariance * scale * scale, f.ErrorVariance * scale * scale}, []float64{g.BlockVariance, g.ErrorVariance}, size*size)
		same(t, "criterion", f.Criterion+2*float64(f.BlockDF+f.ErrorDF)*math.Log(math.Abs(scale)), g.Criterion, 1)
		if f.Boundary != g.Boundary || f.End != g.End {
			t.Errorf("ended %s, then %s", f.End, g.End)
		}
	})
}

func TestLabelsAndOrderDoNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		all, treatments, f := drawFit(t)
		numbers := make([]int, treatments)
		for i := range numbers {
			numbers[i] = i
		}
		label := rapid.Permutation(numbers).Draw(t, "labels")
		moved := rapid.Permutation(all).Draw(t, "order")
		moved = append([]additive.Observation(nil), moved...)
		for k := range moved {
			moved[k].Treatment = label[moved[k].Treatment]
			moved[k].Block = 100 - 7*moved[k].Block
		}
		g, err := NewFit(moved, treatments)
		if err != nil {
			t.Fatal(err)
		}
		size := math.Sqrt(f.ErrorVariance + f.BlockVariance)
		for _, w := range pairs(treatments) {
			turned := make([]float64, treatments)
			for i := range w {
				turned[label[i]] = w[i]
			}
			before, err := f.Contrast(w)
			after, err2 := g.Contrast(turned)
			if err != err2 {
				t.Errorf("%v, then %v", err, err2)
			}
			same(t, "contrast", before, after, size)
		}
		same(t, "ratio", f.VarianceRatio(), g.VarianceRatio(), 1e-3)
	})
}

// What the docstrings promise of the numbers, the unadjusted variance included.
func TestRanges(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		all, treatments, f := drawFit(t)
		df := len(all) - f.Treatments
		if f.BlockDF+f.ErrorDF != df || f.ErrorDF < 1 || !(f.ErrorVariance > 0) || !(f.BlockVariance >= 0) ||
			math.IsInf(f.Criterion, 0) || math.IsNaN(f.Criterion) || f.Evaluations > 300 || f.Boundary != (f.End == AtZero) {
			t.Errorf("%+v", f)
		}
		if fixed := additive.NewFit(all); fixed.DF != f.ErrorDF {
			t.Errorf("%d residual degrees of freedom, %d with fixed blocks", f.ErrorDF, fixed.DF)
		}
		means, differences := answers(f, treatments)
		for _, e := range append(means, differences...) {
			if !(e.SE > 0) || math.IsInf(e.SE, 1) || !(e.DF > 0 && e.DF <= float64(df)*(1+1e-12)) || math.IsNaN(e.Value) || math.IsInf(e.Value, 0) {
				t.Errorf("%+v with %d tests of %d treatments", e, len(all), f.Treatments)
			}
		}
		for _, w := range pairs(treatments) {
			if _, err := f.Contrast(w); err != nil {
				continue
			}
			plain, m := f.layout.coordinates(w)
			v, adjusted, _ := f.layout.kenwardRoger(f.VarianceRatio(), plain, m)
			if adjusted < v {
				t.Errorf("adjusted variance %g, unadjusted %g", adjusted, v)
			}
		}
	})
}

func TestTheCriterionIsNowhereLower(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		_, _, f := drawFit(t)
		checkLowest(t, f.layout)
	})
}

// The slope is the derivative of the criterion, and its derivative that of the
// slope: central differences, error of order h².
func TestDerivatives(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		_, _, f := drawFit(t)
		c := f.layout
		at := math.Exp(rapid.Float64Range(-4, 3).Draw(t, "log ratio"))
		h := 1e-4 * at
		first, second := c.slope(at)
		up, _ := c.slope(at + h)
		down, _ := c.slope(at - h)
		numeric := (c.criterion(at+h) - c.criterion(at-h)) / (2 * h)
		if math.Abs(numeric-first)*at > 1e-6*float64(c.df()) || math.Abs((up-down)/(2*h)-second)*at*at > 1e-6*float64(c.df()) {
			t.Errorf("slope %g, numerically %g; its slope %g, numerically %g", first, numeric, second, (up-down)/(2*h))
		}
	})
}
