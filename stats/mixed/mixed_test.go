package mixed

import (
	"errors"
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"mealtrial/stats/additive"
	"mealtrial/stats/linear"
)

// study makes observations of treatment, block and value, three numbers each.
func study(numbers ...float64) (all []additive.Observation) {
	for k := 0; k < len(numbers); k += 3 {
		all = append(all, additive.Observation{Treatment: int(numbers[k]), Block: int(numbers[k+1]), Value: numbers[k+2]})
	}
	return all
}

// Complete blocks, each treatment equally often: no difference between blocks
// tells anything about treatments (Yates 1940), so the contrasts are those of
// fixed blocks, whatever the positive ratio. The means have other errors.
func TestBalancedCompleteLayoutsAsWithFixedBlocks(t *testing.T) {
	compared := 0
	ref := readReference(t)
	for _, name := range []string{"complete_4x4", "complete_6x3", "complete_12x2", "complete_3x8", "complete_12x5", "near_zero_complete", "ergoStool", "sleep"} {
		c := ref.named(t, name)
		f, fixed := mustFit(t, c.observations(), c.Foods), additive.NewFit(c.observations())
		if f.Boundary {
			t.Fatalf("%s is at the boundary", name)
		}
		for _, w := range pairs(c.Foods) {
			compared++
			sameAsFixed(t, f, fixed, w, 1e-10)
		}
	}
	if compared < 100 {
		t.Errorf("only %d contrasts were compared", compared)
	}
}

func sameAsFixed(t *testing.T, f *Fit, fixed *additive.Fit, weights []float64, digits float64) {
	t.Helper()
	got, err := f.Contrast(weights)
	want, err2 := fixed.Contrast(weights)
	if err != nil || err2 != nil {
		t.Fatal(err, err2)
	}
	if diff := cmp.Diff(Estimate{want.Value, want.SE, float64(want.DF)}, got, cmpopts.EquateApprox(digits, digits*want.SE)); diff != "" {
		t.Errorf("weights %v (-fixed +random):\n%s", weights, diff)
	}
}

// Where blocks differ by ever more than the error, incomplete layouts too
// approach fixed blocks: by 1/λ in the variance, here 1e-12.
func TestHugeBlockVarianceAsWithFixedBlocks(t *testing.T) {
	for _, name := range []string{"incomplete_7x7x3", "lost_six", "chain", "uneven", "single_test"} {
		c := readReference(t).named(t, name)
		o := c.observations()
		for k := range o {
			b := float64(o[k].Block)
			o[k].Value += 1e7 * b * (7 - b)
		}
		f, fixed := mustFit(t, o, c.Foods), additive.NewFit(o)
		if f.Theta < 1e5 {
			t.Errorf("%s: theta %g", name, f.Theta)
		}
		for _, w := range pairs(c.Foods) {
			sameAsFixed(t, f, fixed, w, 1e-6)
		}
	}
}

// Numbers that a float holds exactly: a common level takes no digits; differences
// between blocks take from the error what they are larger by, no more: 1e9 of 16.
func TestLargeLevelsCostNoDigits(t *testing.T) {
	c := readReference(t).named(t, "incomplete_6x10x3")
	o := c.observations()
	for k := range o {
		o[k].Value = math.Round(8*o[k].Value) / 8
	}
	before := mustFit(t, o, c.Foods)
	level := append([]additive.Observation(nil), o...)
	blocks := append([]additive.Observation(nil), o...)
	for k := range o {
		level[k].Value += 1 << 40
		blocks[k].Value += float64(o[k].Block * (1 << 27))
	}
	after := mustFit(t, level, c.Foods)
	for _, w := range pairs(c.Foods) {
		want, _ := before.Contrast(w)
		if got, err := after.Contrast(w); err != nil || !cmp.Equal(want, got, cmpopts.EquateApprox(1e-13, 1e-13)) {
			t.Errorf("at a high level %v, %v, before %v", got, err, want)
		}
	}
	apart, fixed := mustFit(t, blocks, c.Foods), additive.NewFit(o)
	if sd, _ := fixed.SD(); math.Abs(math.Sqrt(apart.layout.errorSS/float64(apart.ErrorDF))/sd-1) > 1e-9 {
		t.Errorf("residual sum of squares %.15g, of equal blocks %.15g", apart.layout.errorSS, fixed.RSS)
	}
}

// One block: contrasts as in the one-way layout, and no mean over blocks. Blocks
// that share no treatment say no more.
func TestWhereTheBlockVarianceIsNotIdentified(t *testing.T) {
	one := study(0, 5, 1, 0, 5, 2.5, 1, 5, 4, 1, 5, 4.5, 2, 5, 9)
	f := mustFit(t, one, 3)
	if f.End != NotIdentified || f.Boundary || f.BlockVariance != 0 || f.BlockDF != 0 || f.ErrorDF != 2 || f.Blocks != 1 {
		t.Errorf("%+v", f)
	}
	one[0].Block, one[1].Block, one[2].Block, one[3].Block, one[4].Block = 0, 0, 0, 0, 0
	for _, w := range append(pairs(3), []float64{0.1, 0.2, -0.3}) { // the last sum to 5.6e-17
		sameAsFixed(t, f, additive.NewFit(one), w, 1e-12)
	}
	if _, err := f.Mean(0); !errors.Is(err, linear.ErrNotEstimable) {
		t.Errorf("mean: %v", err)
	}

	nested := study(0, 0, 1, 0, 0, 2, 1, 0, 4, 2, 1, 30, 2, 1, 31, 3, 1, 33)
	f = mustFit(t, nested, 4)
	sameAsFixed(t, f, additive.NewFit(nested), []float64{1, -1, 0, 0}, 1e-12)
	if _, err := f.Contrast([]float64{1, 0, -1, 0}); !errors.Is(err, linear.ErrNotEstimable) {
		t.Errorf("contrast between blocks that share nothing: %v", err)
	}
}

func TestWhatTheDataCannotGive(t *testing.T) {
	for name, c := range map[string]struct {
		obs  []additive.Observation
		want error
	}{
		"each treatment once":   {study(0, 0, 1, 1, 0, 2, 2, 1, 3), ErrNoResidual},
		"blocks of one":         {study(0, 0, 1, 1, 1, 2, 0, 2, 3, 1, 3, 5), ErrNoResidual},
		"4 treatments, 3 pairs": {study(0, 0, 1, 1, 0, 2, 1, 1, 3, 2, 1, 5, 2, 2, 9, 3, 2, 7), ErrNoResidual},
		"equal values":          {study(0, 0, 7, 1, 0, 7, 0, 1, 7, 1, 1, 7), ErrNoSpread},
		"treatment plus block":  {study(0, 0, 7.1, 1, 0, 9.4, 0, 1, 6.3, 1, 1, 8.6), ErrNoSpread},
	} {
		if _, err := NewFit(c.obs, 4); !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", name, err, c.want)
		}
	}
	f := mustFit(t, study(0, 0, 7, 2, 0, 9, 0, 9, 6, 2, 9, 9), 4)
	if f.Treatments != 2 || f.Blocks != 2 || f.Tests != 4 {
		t.Errorf("%+v", f)
	}
	if _, err := f.Mean(1); !errors.Is(err, ErrNotTested) {
		t.Errorf("mean of an untested treatment: %v", err)
	}
	if _, err := f.Contrast([]float64{1, 0, 0, -1}); !errors.Is(err, ErrNotTested) {
		t.Errorf("contrast with an untested treatment: %v", err)
	}
	if e, err := f.Contrast([]float64{1, 0, -1, 0}); err != nil || e.Value != -2.5 {
		t.Errorf("contrast past an untested treatment: %v, %v", e, err)
	}
}

func TestMistakesPanic(t *testing.T) {
	good := study(0, 0, 7, 1, 0, 9, 0, 1, 6, 1, 1, 9)
	f := mustFit(t, good, 2)
	for name, mistake := range map[string]func(){
		"no observations":   func() { NewFit(nil, 2) },
		"treatment":         func() { NewFit(good, 1) },
		"block":             func() { NewFit(study(0, -1, 7), 2) },
		"not a number":      func() { NewFit(append(good[:3:3], study(1, 1, math.NaN())...), 2) },
		"infinite":          func() { NewFit(append(good[:3:3], study(1, 1, math.Inf(1))...), 2) },
		"sum of weights":    func() { f.Contrast([]float64{1, -0.9}) },
		"number of weights": func() { f.Contrast([]float64{1, -1, 0}) },
		"weights all zero":  func() { f.Contrast([]float64{0, 0}) },
		"weight infinite":   func() { f.Contrast([]float64{math.Inf(1), math.Inf(-1)}) },
		"mean":              func() { f.Mean(2) },
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s: no panic", name)
				}
			}()
			mistake()
		}()
	}
}

// The block variance that is zero is a result, with a warning: the estimates are
// the plain differences of means, with fewer degrees of freedom than without
// blocks in the model.
func TestBoundary(t *testing.T) {
	c := readReference(t).named(t, "zero_7x7x3")
	f := mustFit(t, c.observations(), c.Foods)
	if !f.Boundary || f.End != AtZero || f.Theta != 0 || f.BlockVariance != 0 || f.VarianceRatio() != 0 {
		t.Errorf("%+v", f)
	}
	oneWay := c.observations()
	for k := range oneWay {
		oneWay[k].Block = 0
	}
	plain := additive.NewFit(oneWay)
	for _, w := range pairs(c.Foods) {
		got, err := f.Contrast(w)
		want, _ := plain.Contrast(w)
		if err != nil || math.Abs(got.Value-want.Value) > 1e-12*want.SE || !(got.SE > want.SE) || !(got.DF < float64(want.DF)) {
			t.Errorf("%v, %v, without blocks %v", got, err, want)
		}
	}
}

// Two local minima, from directions that ask for ratios far apart (found by
// trial; no layout of tests has eigenvalues so far apart): once the upper and
// once the lower is the lowest.
func TestLowestOfSeveralMinima(t *testing.T) {
	for _, c := range []*canonical{
		{eigen: []float64{0, 0.01, 89.72, 0.04}, effect: []float64{0, 1.09, 1.65, 32.86}, errorSS: 1, blockDF: 3, errorDF: 2},
		{eigen: []float64{88.4, 0.06, 0.03, 0.47}, effect: []float64{0.64, 32.46, 0.34, 0.92}, errorSS: 1, blockDF: 4, errorDF: 1},
	} {
		minima := 0
		before, _ := c.slope(1e-9)
		for x := -20.0; x < 20; x += 0.01 {
			now, _ := c.slope(math.Exp(x))
			if before < 0 && now >= 0 {
				minima++
			}
			before = now
		}
		if minima < 2 {
			t.Errorf("the example has %d minima", minima)
		}
		checkLowest(t, c)
	}
}

// checkLowest compares with a dense grid.
func checkLowest(t interface {
	Helper()
	Errorf(string, ...any)
}, c *canonical) {
	t.Helper()
	ratio, _, _ := c.minimise()
	found := c.criterion(ratio)
	for x := -20.0; x < 25; x += 0.02 {
		if at := c.criterion(math.Exp(x)); at < found-1e-10 {
			t.Errorf("criterion %.12g at ratio %g, but %.12g at %g", found, ratio, at, math.Exp(x))
			return
		}
	}
}
