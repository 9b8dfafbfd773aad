package anytime

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"mealtrial/stats"
)

// Hours of sleep gained, drug 1 minus drug 2 (Student 1908; R's data set sleep).
var sleepDifferences = []float64{-1.2, -2.4, -1.3, -1.3, 0.0, -1.0, -1.8, -0.8, -4.6, -1.4}

// oneSample returns the coefficient of one mean with its estimate and error.
func oneSample(values []float64) (c Coefficient, mean, se float64) {
	n := float64(len(values))
	for _, x := range values {
		mean += x / n
	}
	squares := 0.0
	for _, x := range values {
		squares += (x - mean) * (x - mean)
	}
	se = math.Sqrt(squares / (n - 1) / n)
	return Coefficient{T: mean / se, DF: n - 1, Information: n}, mean, se
}

// Multipliers of the standard error for one mean at level 0.95, computed with
// R 4.2.2 from the formulas of Lindon et al.; 0 stands for no finite interval.
func TestMultiplierTable(t *testing.T) {
	for _, c := range []struct{ n, one, half, tenth, known, fixed float64 }{
		{3, 0, 0, 13.221902, 3.136401, 4.302653},
		{4, 0, 12.051731, 6.538232, 3.082390, 3.182446},
		{5, 8.453187, 5.825234, 5.411513, 3.056120, 2.776445},
		{6, 5.449820, 4.822687, 4.904211, 3.043069, 2.570582},
		{8, 4.250893, 4.138932, 4.418451, 3.035173, 2.364624},
		{10, 3.869787, 3.869972, 4.182672, 3.037811, 2.262157},
		{20, 3.424781, 3.515213, 3.814194, 3.080225, 2.093024},
		{30, 3.346589, 3.447300, 3.728083, 3.120839, 2.045230},
		{100, 3.346778, 3.450227, 3.694195, 3.273019, 1.984217},
	} {
		for _, g := range []struct{ df, g, want float64 }{
			{c.n - 1, 1, c.one}, {c.n - 1, 0.5, c.half}, {c.n - 1, 0.1, c.tenth}, {math.Inf(1), 1, c.known},
		} {
			k, ok := Multiplier(g.df, c.n, g.g, 0.95)
			if ok != (g.want > 0) || math.Abs(k-g.want) > 6e-7 {
				t.Errorf("n = %g, df %g, g = %g: %.6f (%t), want %.6f", c.n, g.df, g.g, k, ok, g.want)
			}
			if ok && !math.IsInf(g.df, 1) && k <= c.fixed {
				t.Errorf("n = %g, g = %g: %.6f is not above the fixed-sample %.6f", c.n, g.g, k, c.fixed)
			}
		}
	}
}

// Computed with R 4.2.2 from the formulas of Lindon et al., g = 1.
func TestSleepData(t *testing.T) {
	for n, want := range map[int]float64{6: 8.069194, 7: 19.756005, 8: 36.205759, 9: 13.564790, 10: 25.475138} {
		c, _, _ := oneSample(sleepDifferences[:n])
		if e := math.Exp(LogE(c, 1)); math.Abs(e-want) > 6e-7 {
			t.Errorf("E after %d pairs: %.6f, want %.6f", n, e, want)
		}
	}
	c, mean, se := oneSample(sleepDifferences)
	logE := LogE(c, 1)
	if math.Abs(c.T+4.06212768) > 6e-9 || math.Abs(logE-3.23770299) > 6e-9 || math.Abs(math.Exp(logE)-25.47513786) > 6e-9 {
		t.Errorf("t %.8f, log E %.8f, E %.8f", c.T, logE, math.Exp(logE))
	}
	if p := P(logE); math.Abs(p-0.03925395833) > 6e-12 {
		t.Errorf("p %.11f", p)
	}
	i, ok := Interval(mean, se, c.DF, c.Information, 1, 0.95)
	if !ok || math.Abs(i.Low+3.08518731) > 6e-9 || math.Abs(i.High+0.07481269) > 6e-9 || i.Level != 0.95 {
		t.Errorf("%+v, %t", i, ok)
	}
	if i, ok := Interval(mean, se, 3, 4, 1, 0.95); ok || i != (stats.Interval{}) {
		t.Errorf("four values have no finite interval with g = 1: %+v, %t", i, ok)
	}
}

// The definition itself, by quadrature over log σ and δ/σ with the prior
// N(0, 1/g) of δ/σ and 1/σ of σ, against the closed form.
func TestLogEIsTheAveragedLikelihoodRatio(t *testing.T) {
	for _, g := range []float64{0.3, 1, 4} {
		values := sleepDifferences[:5]
		n, sum, squares := float64(len(values)), 0.0, 0.0
		for _, x := range values {
			sum += x
			squares += x * x
		}
		above, below := 0.0, 0.0
		const step = 0.02
		for logSD := -4.0; logSD <= 8; logSD += step {
			sd := math.Exp(logSD)
			null := math.Exp(-n*logSD - squares/(2*sd*sd))
			below += null
			for d := -8 / math.Sqrt(g); d <= 8/math.Sqrt(g); d += step / math.Sqrt(g) {
				prior := math.Sqrt(g/(2*math.Pi)) * math.Exp(-g*d*d/2) * step / math.Sqrt(g)
				above += null * math.Exp(d*sum/sd-n*d*d/2) * prior
			}
		}
		c, _, _ := oneSample(values)
		if got, want := LogE(c, g), math.Log(above/below); math.Abs(got-want) > 1e-6 {
			t.Errorf("g = %g: log E %.9f, by quadrature %.9f", g, got, want)
		}
	}
}

// The Gaussian-mixture martingale of Wang and Ramdas 2023, arXiv 2310.03722
// (formula from memory), is the same number with c² = g:
// √(g/(n+g))·[(n+g)V/((n+g)V − S²)]^(n/2) for the sums S of x and V of x².
func TestAgreesWithTheTMartingale(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		values := rapid.SliceOfN(rapid.Float64Range(-3, 5), 3, 30).Draw(t, "values")
		g := rapid.Float64Range(0.01, 10).Draw(t, "g")
		c, _, se := oneSample(values)
		if se < 1e-6 {
			t.Skip("no spread")
		}
		n, s, v := float64(len(values)), 0.0, 0.0
		for _, x := range values {
			s += x
			v += x * x
		}
		want := math.Log(g/(n+g))/2 + n/2*math.Log((n+g)*v/((n+g)*v-s*s))
		if got := LogE(c, g); math.Abs(got-want) > 1e-8*math.Max(1, math.Abs(want)) {
			t.Fatalf("log E %.12g, martingale %.12g", got, want)
		}
	})
}

// An interval holds what E does not reject: at T = k, E = 1/α; and where there
// is no k, no T reaches 1/α.
func TestMultiplierInvertsLogE(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		df := float64(rapid.IntRange(1, 200).Draw(t, "df"))
		if rapid.Bool().Draw(t, "sigma known") {
			df = math.Inf(1)
		}
		information := rapid.Float64Range(0.1, 300).Draw(t, "information")
		g := rapid.Float64Range(0.01, 20).Draw(t, "g")
		level := rapid.Float64Range(0.5, 0.999).Draw(t, "level")
		bound := -math.Log1p(-level)
		k, ok := Multiplier(df, information, g, level)
		if !ok {
			if e := LogE(Coefficient{T: math.Inf(-1), DF: df, Information: information}, g); e > bound+1e-9 {
				t.Fatalf("no interval, but log E reaches %g > %g", e, bound)
			}
			return
		}
		if e := LogE(Coefficient{T: k, DF: df, Information: information}, g); math.Abs(e-bound) > 1e-7 {
			t.Fatalf("log E at the limit %g, want %g", e, bound)
		}
	})
}

// Edges by hand: T = 0 leaves ½·log r; T = ∞ gives −(ν/2)·log r, or ½ log r
// and a huge number for known σ. With r = 1/2: ν = 4 gives 2·log 2.
func TestLogEAtTheEdges(t *testing.T) {
	for _, c := range []struct{ t, df, want float64 }{
		{0, 4, -math.Ln2 / 2}, {math.Inf(1), 4, 2 * math.Ln2}, {math.Inf(-1), 4, 2 * math.Ln2},
		{1e200, 4, 2 * math.Ln2}, {0, math.Inf(1), -math.Ln2 / 2}, {2, math.Inf(1), 1 - math.Ln2/2},
	} {
		if got := LogE(Coefficient{c.t, c.df, 3}, 3); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("T = %g, df %g: %g, want %g", c.t, c.df, got, c.want)
		}
	}
	if got := LogE(Coefficient{math.Inf(1), math.Inf(1), 3}, 3); math.IsInf(got, 0) || got < 1e200 {
		t.Errorf("infinite T, known σ: %g", got)
	}
	if P(-5) != 1 || P(0) != 1 || math.Abs(P(math.Log(20))-0.05) > 1e-15 || P(1e300) != 0 {
		t.Error("p is not min(1, 1/E)")
	}
}

func TestPanics(t *testing.T) {
	for text, calls := range map[string][]func(){
		"anytime: degrees of freedom must be positive": {
			func() { LogE(Coefficient{1, 0, 1}, 1) }, func() { Multiplier(-1, 1, 1, 0.95) }},
		"anytime: information and g must be positive and comparable": {
			func() { LogE(Coefficient{1, 1, 0}, 1) }, func() { Multiplier(1, 1, math.Inf(1), 0.95) }, func() { Multiplier(1, math.NaN(), 1, 0.95) }},
		"anytime: the t statistic is not a number": {func() { LogE(Coefficient{math.NaN(), 1, 1}, 1) }},
		"anytime: log E is not a number":           {func() { P(math.NaN()) }},
		"anytime: level must lie between 0 and 1": {
			func() { Multiplier(1, 1, 1, 1) }, func() { NewSequence(3, 0) }},
		"anytime: standard error must not be negative":         {func() { Interval(0, -1, 1, 1, 1, 0.95) }},
		"anytime: a sequence starts at 2 observations or more": {func() { NewSequence(1, 0.95) }, func() { Sequence{}.Multiplier(0) }},
		"anytime: values must be finite":                       {func() { NewSequence(2, 0.95).Interval([]float64{1, math.NaN()}) }},
	} {
		for _, call := range calls {
			func() {
				defer func() {
					if got := recover(); got != text {
						t.Errorf("panic %v, want %q", got, text)
					}
				}()
				call()
			}()
		}
	}
}
