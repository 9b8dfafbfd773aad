package tails

import (
	"encoding/json"
	"math"
	"os"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

func read(t *testing.T, name string, into any) {
	t.Helper()
	data, err := os.ReadFile("../../testdata/reference/" + name)
	if err == nil {
		err = json.Unmarshal(data, into)
	}
	if err != nil {
		t.Fatal(err)
	}
}

// worst keeps the largest relative error.
type worst struct {
	error float64
	at    []float64
}

func (w *worst) add(got, want float64, at ...float64) {
	if e := math.Abs(got-want) / math.Abs(want); !(e <= w.error) {
		w.error, w.at = e, append(slices.Clone(at), got, want)
	}
}

func (w *worst) check(t *testing.T, name string, limit float64) {
	t.Helper()
	t.Logf("%s: relative error at most %.1e (%v)", name, w.error, w.at)
	if !(w.error <= limit) {
		t.Errorf("%s: relative error %.2e at %v, want at most %.0e", name, w.error, w.at, limit)
	}
}

// Both tails and both quantiles from 1e-12 to 1 − 1e-12 against R:
// testdata/reference/tails_far.R.
func TestTailsAgainstR(t *testing.T) {
	var ref struct{ T, Chisq, F [][]float64 }
	read(t, "tails_far.json", &ref)
	for _, d := range []struct {
		name                           string
		rows                           [][]float64
		quantile, upperQ, lower, upper func(x, a, b float64) float64
	}{
		{"t", ref.T,
			func(p, a, _ float64) float64 { return StudentQuantile(p, a) }, func(p, a, _ float64) float64 { return StudentQuantileUpper(p, a) },
			func(x, a, _ float64) float64 { return StudentLower(x, a) }, func(x, a, _ float64) float64 { return StudentUpper(x, a) }},
		{"chi-square", ref.Chisq,
			func(p, a, _ float64) float64 { return ChiSquaredQuantile(p, a) }, func(p, a, _ float64) float64 { return ChiSquaredQuantileUpper(p, a) },
			func(x, a, _ float64) float64 { return ChiSquaredLower(x, a) }, func(x, a, _ float64) float64 { return ChiSquaredUpper(x, a) }},
		{"F", ref.F, FQuantile, FQuantileUpper, FLower, FUpper},
	} {
		if len(d.rows) < 200 {
			t.Fatalf("%s: %d rows", d.name, len(d.rows))
		}
		var quantile, tail worst
		for _, r := range d.rows {
			a, b, p, x := r[0], r[1], r[2], r[7]
			if p == 0.5 && d.name == "t" {
				if got := d.quantile(p, a, b); got != 0 {
					t.Errorf("median %g", got)
				}
			} else {
				quantile.add(d.quantile(p, a, b), r[3], a, b, p)
				quantile.add(d.upperQ(p, a, b), r[4], a, b, p)
			}
			tail.add(d.lower(x, a, b), r[5], a, b, x)
			tail.add(d.upper(x, a, b), r[6], a, b, x)
		}
		// R's quantiles lead back to 1e-10 of the tail or better, and where F has
		// one degree of freedom a small quantile goes with the square of its tail.
		quantile.check(t, d.name+" quantiles", map[string]float64{"t": 1e-12, "chi-square": 1e-11, "F": 1e-9}[d.name])
		tail.check(t, d.name+" tails", 1e-11)
	}
}

// The noncentral t in both tails, and t with very many degrees of freedom, against
// integration in 40 digits: testdata/reference/noncentral_t.py.
func TestNoncentralAgainstIntegration(t *testing.T) {
	var ref struct{ Noncentral, Many [][]float64 }
	read(t, "noncentral_t.json", &ref)
	if len(ref.Noncentral) < 300 || len(ref.Many) < 20 {
		t.Fatalf("%d and %d rows", len(ref.Noncentral), len(ref.Many))
	}
	var noncentral, many worst
	for _, r := range ref.Noncentral {
		noncentral.add(NoncentralLower(r[0], r[1], r[2]), r[3], r[:3]...)
		noncentral.add(NoncentralUpper(r[0], r[1], r[2]), r[4], r[:3]...)
	}
	for _, r := range ref.Many {
		many.add(StudentUpper(r[0], r[1]), r[2], r[:2]...)
	}
	noncentral.check(t, "noncentral t", 1e-10)
	many.check(t, "t with many degrees of freedom", 1e-9)
}

// A quantile leads back to its probability, and the two tails of it add to 1.
func TestQuantilesLeadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := math.Exp(rapid.Float64Range(math.Log(1e-150), math.Log(0.5)).Draw(t, "log p"))
		a := math.Exp(rapid.Float64Range(0, math.Log(1e6)).Draw(t, "log df"))
		b := math.Exp(rapid.Float64Range(0, math.Log(1e6)).Draw(t, "log df2"))
		for name, got := range map[string]float64{
			"t":                 StudentUpper(StudentQuantileUpper(p, a), a),
			"chi-square, upper": ChiSquaredUpper(ChiSquaredQuantileUpper(p, a), a),
			"chi-square, lower": ChiSquaredLower(ChiSquaredQuantile(math.Max(p, 1e-100), math.Max(2, a)), math.Max(2, a)) / math.Max(p, 1e-100) * p,
			"F, lower":          FLower(FQuantile(p, math.Max(2, a), b), math.Max(2, a), b),
			"F, upper":          FUpper(FQuantileUpper(p, a, math.Max(2, b)), a, math.Max(2, b)),
		} {
			if math.Abs(got/p-1) > 1e-8 {
				t.Fatalf("%s: %g leads back to %g (%g, %g)", name, p, got, a, b)
			}
		}
		x := rapid.Float64Range(0.01, 100).Draw(t, "x")
		if s := FLower(x, a, b) + FUpper(x, a, b); math.Abs(s-1) > 1e-12 {
			t.Fatalf("F tails add to %g", s)
		}
		if s := ChiSquaredLower(x, a) + ChiSquaredUpper(x, a); math.Abs(s-1) > 1e-12 {
			t.Fatalf("chi-square tails add to %g", s)
		}
		if s := NoncentralLower(x-50, a, 3) + NoncentralUpper(x-50, a, 3); math.Abs(s-1) > 1e-11 {
			t.Fatalf("noncentral tails add to %g", s)
		}
		if got, want := NoncentralUpper(x, a, 0), StudentUpper(x, a); math.Abs(got/want-1) > 1e-9 && want > 1e-290 {
			t.Fatalf("noncentral t at 0: %g, t %g", got, want)
		}
	})
}

// Near the median a quantile of t keeps its digits too. There it is (½ − q)/f(0) to
// twenty digits, f(0) by R's dt(0, df); R's own qt has no more than seven of them. For
// one degree of freedom it is tan(π(½ − q)).
func TestStudentNearTheMedian(t *testing.T) {
	var w worst
	const q = 0.4999999999
	for df, want := range map[float64]float64{0.5: 3.708149661416397e-10, 1.5: 2.934832458229769e-10, 3: 2.720699271462975e-10, 10.3: 2.56811649597484e-10, 1e5: 2.506634748609392e-10, 1e6: 2.506629108687553e-10} {
		w.add(StudentQuantileUpper(q, df), want, df)
		w.add(StudentQuantile(q, df), -want, df)
	}
	for _, q := range []float64{0.41, 0.45, 0.499, 0.4999999, 0.5 - 1e-15} {
		w.add(StudentQuantileUpper(q, 1), math.Tan(math.Pi*(0.5-q)), q)
	}
	w.check(t, "t near the median", 1e-12)
}

// What is no number is none in the answer: a p-value of 1 would pass for one. The
// limits are those of any distribution function.
func TestNotANumberAndInfinity(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	for name, c := range map[string]struct{ lower, upper func(x float64) float64 }{
		"t":            {func(x float64) float64 { return StudentLower(x, 3) }, func(x float64) float64 { return StudentUpper(x, 3) }},
		"F":            {func(x float64) float64 { return FLower(x, 3, 4) }, func(x float64) float64 { return FUpper(x, 3, 4) }},
		"chi-square":   {func(x float64) float64 { return ChiSquaredLower(x, 3) }, func(x float64) float64 { return ChiSquaredUpper(x, 3) }},
		"noncentral t": {func(x float64) float64 { return NoncentralLower(x, 3, 1) }, func(x float64) float64 { return NoncentralUpper(x, 3, 1) }},
	} {
		if l, u := c.lower(nan), c.upper(nan); !math.IsNaN(l) || !math.IsNaN(u) {
			t.Errorf("%s of NaN: %g and %g", name, l, u)
		}
		if l, u := c.lower(inf), c.upper(inf); l != 1 || u != 0 {
			t.Errorf("%s of +Inf: %g and %g", name, l, u)
		}
		if l, u := c.lower(-inf), c.upper(-inf); l != 0 || u != 1 {
			t.Errorf("%s of -Inf: %g and %g", name, l, u)
		}
	}
}

func TestOutOfDomain(t *testing.T) {
	inf := math.Inf(1)
	for name, f := range map[string]func(){
		"chi of infinite df": func() { ChiSquaredUpper(2, inf) }, "quantile of infinite df": func() { ChiSquaredQuantile(0.3, inf) },
		"F of infinite df": func() { FUpper(2, 3, inf) }, "infinite noncentrality": func() { NoncentralLower(1, 3, inf) },
		"df": func() { StudentUpper(1, 0) }, "p": func() { StudentQuantile(1, 3) }, "F": func() { FUpper(1, 2, -1) },
		"chi": func() { ChiSquaredQuantile(0, 2) }, "nan": func() { ChiSquaredLower(1, math.NaN()) }, "beta": func() { IncompleteBeta(1, 1, -0.1, 1.1) },
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

func BenchmarkStudentQuantile(b *testing.B) {
	for b.Loop() {
		StudentQuantileUpper(0.004, 37)
	}
}

func BenchmarkNoncentral(b *testing.B) {
	for b.Loop() {
		NoncentralUpper(2.1, 18, 2.8)
	}
}
