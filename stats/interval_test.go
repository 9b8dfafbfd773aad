package stats

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func near(got, want, relative float64) bool {
	return math.Abs(got-want) <= relative*math.Max(math.Abs(want), 1e-300)
}

// Quantiles of Student's t, printed in every handbook and computed with R 4.2.2
// to seven digits.
func TestTQuantiles(t *testing.T) {
	for _, c := range []struct {
		df               float64
		q95, q975, q9950 float64
	}{
		{1, 6.313752, 12.706205, 63.656741}, {2, 2.919986, 4.302653, 9.924843}, {3, 2.353363, 3.182446, 5.840909},
		{4, 2.131847, 2.776445, 4.604095}, {5, 2.015048, 2.570582, 4.032143}, {9, 1.833113, 2.262157, 3.249836},
		{10, 1.812461, 2.228139, 3.169273}, {20, 1.724718, 2.085963, 2.845340}, {math.Inf(1), 1.644854, 1.959964, 2.575829},
	} {
		for p, want := range map[float64]float64{0.95: c.q95, 0.975: c.q975, 0.995: c.q9950} {
			if got := TQuantile(p, c.df); math.Abs(got-want) > 6e-7 {
				t.Errorf("t(%g; %g) = %.7f, want %.6f", p, c.df, got, want)
			}
		}
	}
}

// Student's sleep data (Cushny and Peebles 1905; Student 1908), paired: R's
// t.test gives these limits and this p-value.
func TestPairedIntervalOfTheSleepData(t *testing.T) {
	const mean, tValue = -1.58, -4.062127683382037
	i := TInterval(mean, mean/tValue, 9, 0.95)
	if !near(i.Low, -2.459885763276982, 1e-12) || !near(i.High, -0.7001142367230175, 1e-12) {
		t.Errorf("interval %.15g to %.15g", i.Low, i.High)
	}
	if p := TwoSidedP(tValue, 9); !near(p, 0.00283289019738, 1e-11) {
		t.Errorf("p %.15g, want 0.00283289019738", p)
	}
}

// Two-sided tails far out must not be 1 − (1 − p): R gives
// 2*pt(-40, 30) = 1.372604519e-27 and 2*pnorm(-10) = 1.523971e-23.
func TestSmallTailsKeepTheirDigits(t *testing.T) {
	if p := TwoSidedP(10, math.Inf(1)); !near(p, 1.523970604832105e-23, 1e-10) {
		t.Errorf("normal tail %g", p)
	}
	if p := TwoSidedP(-40, 30); !near(p, 1.372604519e-27, 1e-9) {
		t.Errorf("t tail %g", p)
	}
}

// Rail, six rails measured three times: Devore 2000, as shipped with R's nlme;
// limits from qchisq in R 4.2.2.
func TestSDIntervalOfRail(t *testing.T) {
	i := SDInterval(4.02077936, 12, 0.95)
	if !near(i.Low, 2.88324, 2e-6) || !near(i.High, 6.63724, 2e-6) {
		t.Errorf("interval %g to %g, want 2.88324 to 6.63724", i.Low, i.High)
	}
}

// Factors of the chi-square interval for n = 3, 5, 10 and 20 values, from R.
func TestSDIntervalFactors(t *testing.T) {
	for n, want := range map[float64][2]float64{
		3: {0.520658, 6.284735}, 5: {0.599133, 2.873556}, 10: {0.687835, 1.825610}, 20: {0.760490, 1.460572},
	} {
		i := SDInterval(1, n-1, 0.95)
		if math.Abs(i.Low-want[0]) > 6e-7 || math.Abs(i.High-want[1]) > 6e-7 {
			t.Errorf("n = %g: %.6f to %.6f, want %v", n, i.Low, i.High, want)
		}
	}
}

// Peak flow of 20 children, four readings each (Bland and Altman 1996, BMJ
// 313:744): within-subject SD 21.459749 on 60 degrees of freedom. ISO 5725-6:
// the limit is 1.96·√2 ≈ 2.77 times a well-known SD, published as 60 l/min.
func TestRepeatabilityLimitOfPeakFlow(t *testing.T) {
	const sw = 21.459749
	if r := RepeatabilityLimit(sw, math.Inf(1), 0.95); !near(r, 2.771807649*sw, 1e-9) || math.Abs(r-59.48) > 0.005 {
		t.Errorf("limit %.6f", r)
	}
	// On its 60 degrees of freedom t(0.975; 60) = 2.000298 takes the place of 1.96.
	if r := RepeatabilityLimit(sw, 60, 0.95); math.Abs(r-2.0002978*math.Sqrt2*sw) > 1e-4 {
		t.Errorf("limit on 60 degrees of freedom %.6f", r)
	}
}

// SD of the logarithm for a CV, computed with R: sqrt(log(1 + cv²)).
func TestLogSD(t *testing.T) {
	for cv, want := range map[float64]float64{0.15: 0.14916638, 0.20: 0.19804220, 0.25: 0.24622068, 0.30: 0.29356038, 0.40: 0.38525317} {
		if got := LogSD(cv); math.Abs(got-want) > 6e-9 {
			t.Errorf("CV %g: %.8f, want %.8f", cv, got, want)
		}
		if back := CVFromLogSD(LogSD(cv)); !near(back, cv, 1e-14) {
			t.Errorf("CV %g came back as %g", cv, back)
		}
	}
}

func TestDecide(t *testing.T) {
	for _, c := range []struct {
		low, high, margin float64
		want              Verdict
		beyond            bool
	}{
		{9, 20, 8, Different, true},
		{-20, -8, 8, Different, true},
		{1, 20, 8, Different, false},
		{-20, -1, 8, Different, false},
		{1, 7, 8, TooSmallToMatter, false},
		{-7, -1, 8, TooSmallToMatter, false},
		{-7, 7, 8, NoDifferenceThatMatters, false},
		{-7, 8, 8, Open, false}, // reaching the margin is not lying within it
		{-8, 7, 8, Open, false},
		{0, 7, 8, NoDifferenceThatMatters, false}, // zero on the edge is not excluded
		{-20, 20, 8, Open, false},
		{-1, 1, 0, Open, false}, // no margin declared
		{1, 2, 0, Different, false},
	} {
		i := Interval{c.low, c.high, 0.95}
		if got := Decide(i, c.margin); got != c.want {
			t.Errorf("%v with margin %g: %s, want %s", i, c.margin, got, c.want)
		}
		if got := Beyond(i, c.margin); got != c.beyond {
			t.Errorf("%v beyond margin %g: %v, want %v", i, c.margin, got, c.beyond)
		}
	}
}

// Swapping the foods mirrors the interval and must not change the verdict.
func TestDecideIsSymmetric(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := rapid.Float64Range(-50, 50).Draw(t, "a"), rapid.Float64Range(-50, 50).Draw(t, "b")
		i := Interval{Low: math.Min(a, b), High: math.Max(a, b)}
		margin := rapid.Float64Range(0, 30).Draw(t, "margin")
		if Decide(i, margin) != Decide(Interval{Low: -i.High, High: -i.Low}, margin) {
			t.Fatalf("%v and its mirror image are decided differently", i)
		}
	})
}

func TestMistakesOfTheProgramPanic(t *testing.T) {
	for name, f := range map[string]func(){
		"negative se":     func() { TInterval(0, -1, 5, 0.95) },
		"NaN se":          func() { TInterval(0, math.NaN(), 5, 0.95) },
		"no df":           func() { TQuantile(0.9, 0) },
		"p of 1":          func() { TQuantile(1, 5) },
		"negative sd":     func() { SDInterval(-1, 5, 0.95) },
		"negative margin": func() { Decide(Interval{}, -1) },
		"negative cv":     func() { LogSD(-1) },
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

// Of equal treatments a share α is called different by two one-sided tests as by one
// two-sided one, not 2α: the wide interval tells.
func TestDecideSame(t *testing.T) {
	for _, c := range []struct {
		narrow, wide Interval
		margin       float64
		want         Verdict
	}{
		{Interval{Low: 1, High: 9}, Interval{Low: -1, High: 11}, 5, Open},
		{Interval{Low: 1, High: 4}, Interval{Low: -1, High: 6}, 5, NoDifferenceThatMatters},
		{Interval{Low: 1, High: 4}, Interval{Low: 0.5, High: 6}, 5, TooSmallToMatter},
		{Interval{Low: 2, High: 9}, Interval{Low: 1, High: 10}, 5, Different},
		{Interval{Low: -9, High: 1}, Interval{Low: -10, High: 2}, 5, Open},
		{Interval{Low: -4, High: 1}, Interval{Low: -6, High: 2}, 5, NoDifferenceThatMatters},
	} {
		if got := DecideSame(c.narrow, c.wide, c.margin); got != c.want {
			t.Errorf("%+v: %s", c, got)
		}
	}
}
