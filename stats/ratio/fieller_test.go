package ratio

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"

	"mealtrial/stats"
)

// statistic is the t statistic of the hypothesis that the ratio is theta.
func (p Pair) statistic(theta float64) float64 {
	return (p.A - theta*p.B) / (p.SD * math.Sqrt(p.VAA-2*theta*p.VAB+theta*theta*p.VBB))
}

// crossing finds theta in (low, high) where |t(theta)| passes the critical
// value, by bisection: no formula of Fieller's.
func crossing(t testing.TB, p Pair, critical, low, high float64) float64 {
	t.Helper()
	excess := func(theta float64) float64 { return math.Abs(p.statistic(theta)) - critical }
	rising := excess(high) > 0
	if rising == (excess(low) > 0) {
		t.Fatalf("no crossing between %g and %g", low, high)
	}
	for range 200 {
		middle := (low + high) / 2
		if (excess(middle) > 0) == rising {
			high = middle
		} else {
			low = middle
		}
	}
	return (low + high) / 2
}

// paired returns the pair of the means of two columns measured together.
func paired(a, b []float64) Pair {
	n := float64(len(a))
	p := Pair{SD: 1, DF: n - 1}
	for i := range a {
		p.A += a[i] / n
		p.B += b[i] / n
	}
	for i := range a {
		da, db := a[i]-p.A, b[i]-p.B
		p.VAA += da * da / (n - 1) / n
		p.VBB += db * db / (n - 1) / n
		p.VAB += da * db / (n - 1) / n
	}
	return p
}

var (
	// Shoe wear, Box, Hunter and Hunter 1978; the data set shoes of R's MASS.
	shoesA = []float64{13.2, 8.2, 10.9, 14.3, 10.7, 6.6, 9.5, 10.8, 8.8, 13.3}
	shoesB = []float64{14.0, 8.8, 11.2, 14.2, 11.8, 6.4, 9.8, 11.3, 9.3, 13.6}
	// Hours of sleep gained, Student 1908; the data set sleep of R.
	sleep1 = []float64{0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0}
	sleep2 = []float64{1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4}
)

// The expected digits were computed with R 4.2.2 by solving |t(θ)| = t with
// uniroot; the test solves it once more by bisection. The last case is one test
// food over the mean of three standards, incremental areas of FAO Food and
// Nutrition Paper 66 (areas from memory), the spread from the standards alone.
func TestFiellerOfKnownData(t *testing.T) {
	for _, c := range []struct {
		name           string
		pair           Pair
		ratio, g       float64
		shape          Shape
		low, high      float64
		around, beyond float64 // brackets for the bisection
	}{
		{"shoes B/A", paired(shoesB, shoesA), 1.03857008467, 0.02721330, Bounded, 1.01263480205, 1.06580776352, 1.03, 10},
		{"sleep 1/2", paired(sleep1, sleep2), 0.32188841, 0.37789380, Bounded, -0.48491978, 0.65659669, 0.3, 10},
		// The ratio inside the excluded gap that the data contradict most lies near 0.
		{"sleep 2/1", paired(sleep2, sleep1), 3.10666667, 2.91171183, Complement, -2.06219678, 1.52300495, 0, 3},
		{"one test over three standards", Pair{A: 93, B: (113.95 + 155.25 + 179.0 + 1.0/6) / 3, VAA: 1, VBB: 1.0 / 3,
			SD: 32.9921975, DF: 2}, 0.62225857, 0.30071126, Bounded, -0.34635234, 2.12604229, 0.6, 10},
	} {
		set, err := Fieller(c.pair, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		if set.Shape != c.shape || set.Level != 0.95 {
			t.Errorf("%s: %+v", c.name, set)
		}
		if g, ok := G(c.pair, 0.95); !ok || math.Abs(g-c.g) > 6e-9 {
			t.Errorf("%s: g %.8f, want %.8f", c.name, g, c.g)
		}
		if r := c.pair.A / c.pair.B; math.Abs(r-c.ratio) > 6e-9 || !set.Contains(r) {
			t.Errorf("%s: ratio %.8f, want %.8f inside the set", c.name, r, c.ratio)
		}
		if math.Abs(set.Low-c.low) > 6e-9 || math.Abs(set.High-c.high) > 6e-9 {
			t.Errorf("%s: %.8f and %.8f, want %.8f and %.8f", c.name, set.Low, set.High, c.low, c.high)
		}
		critical := stats.TQuantile(0.975, c.pair.DF)
		low, high := crossing(t, c.pair, critical, -c.beyond, c.around), crossing(t, c.pair, critical, c.around, c.beyond)
		if math.Abs(set.Low-low) > 1e-10 || math.Abs(set.High-high) > 1e-10 {
			t.Errorf("%s: %.12f and %.12f, solving for t gives %.12f and %.12f", c.name, set.Low, set.High, low, high)
		}
	}
}

// With variance 0 of the numerator and independent estimates, by hand: the
// critical value for level and df = ∞ is z, and θ·(b ± z) = a on the border.
func TestShapes(t *testing.T) {
	z := stats.TQuantile(0.975, math.Inf(1))
	certain := Pair{A: 1, VBB: 1, SD: 1, DF: math.Inf(1)}
	noisy := Pair{A: 1, VAA: 1, VBB: 1, SD: 1, DF: math.Inf(1)}
	for _, c := range []struct {
		name string
		pair Pair
		b    float64
		want Set
	}{
		{"denominator clear", certain, 2 * z, Set{Bounded, 1 / (3 * z), 1 / z, 0.95}},
		{"denominator clear, negative", certain, -2 * z, Set{Bounded, -1 / z, -1 / (3 * z), 0.95}},
		{"denominator on the border", certain, z, Set{AtLeast, 1 / (2 * z), 0, 0.95}},
		{"denominator on the border, negative", certain, -z, Set{AtMost, 0, -1 / (2 * z), 0.95}},
		{"denominator of unclear sign", certain, 0, Set{Complement, -1 / z, 1 / z, 0.95}},
		{"denominator and numerator could be zero", noisy, 0, Set{Unbounded, 0, 0, 0.95}},
		{"no spread", Pair{A: 3, VAA: 1, VBB: 1, DF: 2}, 4, Set{Bounded, 0.75, 0.75, 0.95}},
		{"numerator certainly zero", Pair{VBB: 1, SD: 1, DF: 2}, 9, Set{Bounded, 0, 0, 0.95}},
		{"tiny and huge", Pair{A: 1e-200, SD: 1, DF: 2}, 1e-205, Set{Bounded, 1e5, 1e5, 0.95}},
		// A = B with correlation 1 on the border: every ratio gives the same t.
		{"ratio certain, size unknown", Pair{A: z, VAA: 1, VBB: 1, VAB: 1, SD: 1, DF: math.Inf(1)}, z, Set{Unbounded, 0, 0, 0.95}},
	} {
		c.pair.B = c.b
		got, err := Fieller(c.pair, 0.95)
		if err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		if got.Shape != c.want.Shape || math.Abs(got.Low-c.want.Low) > 1e-12*math.Abs(c.want.Low) ||
			math.Abs(got.High-c.want.High) > 1e-12*math.Abs(c.want.High) || got.Level != 0.95 {
			t.Errorf("%s: %+v, want %+v", c.name, got, c.want)
		}
	}
}

func TestContainsAtTheLimits(t *testing.T) {
	for _, c := range []struct {
		shape Shape
		want  [5]bool // at 0, 1, 2, 3 and 4
	}{
		{Bounded, [5]bool{false, true, true, true, false}},
		{Complement, [5]bool{true, true, false, true, true}},
		{AtLeast, [5]bool{false, true, true, true, true}},
		{AtMost, [5]bool{true, true, true, true, false}},
		{Unbounded, [5]bool{true, true, true, true, true}},
	} {
		for theta, want := range c.want {
			if got := (Set{Shape: c.shape, Low: 1, High: 3}).Contains(float64(theta)); got != want {
				t.Errorf("%s with limits 1 and 3 holds %d: %t", c.shape, theta, got)
			}
		}
	}
}

func TestWhatTheDataCannotGive(t *testing.T) {
	if _, err := Fieller(Pair{A: 1, VAA: 1, SD: 1, DF: 3}, 0.95); !errors.Is(err, ErrZeroDenominator) {
		t.Errorf("certain zero below: %v", err)
	}
	if got := ErrZeroDenominator.Error(); got != "the denominator is exactly zero" {
		t.Error(got)
	}
	if _, err := Fieller(Pair{A: 1e300, B: 1e-300, DF: 3}, 0.95); !errors.Is(err, ErrTooLarge) {
		t.Errorf("overflow: %v", err)
	}
	if got := ErrTooLarge.Error(); got != "the ratio is beyond the range of numbers" {
		t.Error(got)
	}
	if g, ok := G(Pair{A: 1, VBB: 1, SD: 1, DF: 3}, 0.95); ok || g != 0 {
		t.Errorf("g of a zero denominator: %g, %t", g, ok)
	}
}

func TestPanics(t *testing.T) {
	good := Pair{A: 1, B: 1, VAA: 1, VBB: 1, SD: 1, DF: 3}
	with := func(change func(*Pair)) func() {
		return func() { p := good; change(&p); _, _ = Fieller(p, 0.95) }
	}
	for text, calls := range map[string][]func(){
		"ratio: estimates and their variances must be finite": {
			with(func(p *Pair) { p.A = math.NaN() }), with(func(p *Pair) { p.VBB = math.Inf(1) })},
		"ratio: variances and standard deviation must not be negative": {
			with(func(p *Pair) { p.VAA = -1 }), with(func(p *Pair) { p.SD = -1 })},
		"ratio: the covariance is larger than the variances allow": {with(func(p *Pair) { p.VAB = 1.001 })},
		"ratio: level must lie between 0 and 1": {
			func() { _, _ = Fieller(good, 1) }, func() { _, _ = G(good, 0) }, func() { _, _ = G(good, math.NaN()) }},
		"stats: degrees of freedom must be positive":             {with(func(p *Pair) { p.DF = 0 })},
		"ratio: factors of standard errors must not be negative": {func() { Covariance(-1, 1, 1) }},
		"ratio: the difference contradicts its two estimates":    {func() { Covariance(1, 1, 2.1) }, func() { Covariance(1, 3, 1) }},
		"ratio: the limits of a difference must be in order":     {func() { _, _ = FromLogs(stats.Interval{Low: 1}) }},
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

func TestCovariance(t *testing.T) {
	for _, c := range []struct{ ua, ub, ud, want float64 }{
		{1, 1, math.Sqrt2, 0},       // independent
		{0.5, 0.5, 0, 0.25},         // one and the same
		{3, 4, 5, 0}, {1, 2, 3, -2}, // opposite
	} {
		if got := Covariance(c.ua, c.ub, c.ud); math.Abs(got-c.want) > 1e-15 {
			t.Errorf("%+v: %g", c, got)
		}
	}
}

// exp of the limits, by hand; the log-scale row of the bioequivalence data
// "clinic" of the statsmodels test suite: 90 % limits of the log difference and
// of the ratio, R 4.2.2.
func TestFromLogs(t *testing.T) {
	set, err := FromLogs(stats.Interval{Low: -0.0241522532, High: 0.1103969168, Level: 0.9})
	if err != nil || set.Shape != Bounded || set.Level != 0.9 ||
		math.Abs(set.Low-0.976137) > 6e-7 || math.Abs(set.High-1.116721) > 6e-7 {
		t.Errorf("%+v, %v", set, err)
	}
	for _, i := range []stats.Interval{{Low: 0, High: 800}, {Low: -800, High: 0}} {
		if _, err := FromLogs(i); !errors.Is(err, ErrTooLarge) {
			t.Errorf("%+v: %v", i, err)
		}
	}
}

// drawPair draws a pair with any sign and precision of the denominator.
func drawPair(t *rapid.T) Pair {
	p := Pair{
		A:   rapid.Float64Range(-10, 10).Draw(t, "a"),
		B:   rapid.Float64Range(-10, 10).Draw(t, "b"),
		VAA: rapid.Float64Range(0.01, 4).Draw(t, "vaa"),
		VBB: rapid.Float64Range(0.01, 4).Draw(t, "vbb"),
		SD:  rapid.Float64Range(0.1, 5).Draw(t, "sd"),
		DF:  float64(rapid.IntRange(1, 30).Draw(t, "df")),
	}
	p.VAB = rapid.Float64Range(-0.99, 0.99).Draw(t, "correlation") * math.Sqrt(p.VAA*p.VBB)
	return p
}

// The set is what the t test does not reject, and its shape is what g says.
func TestSetIsWhatTheTestAccepts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := drawPair(t)
		level := rapid.Float64Range(0.5, 0.99).Draw(t, "level")
		set, err := Fieller(p, level)
		if err != nil {
			t.Fatal(err)
		}
		if g, ok := G(p, level); ok && math.Abs(g-1) > 1e-9 && (g < 1) != (set.Shape == Bounded) {
			t.Fatalf("g %g and %+v", g, set)
		}
		critical := stats.TQuantile((1+level)/2, p.DF)
		for _, theta := range []float64{-1e3, -3, -1, -0.3, 0, 0.3, 1, 3, 1e3} {
			excess := math.Abs(p.statistic(theta)) - critical
			if math.Abs(excess) > 1e-7*critical && set.Contains(theta) != (excess < 0) {
				t.Fatalf("θ = %g with |t| − critical = %g, but %+v", theta, excess, set)
			}
		}
	})
}

// Changing units multiplies the limits; the set of b/a holds 1/θ.
func TestEquivariance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := drawPair(t)
		set, _ := Fieller(p, 0.9)
		const ka, kb = 18.0, -0.5
		scaled, _ := Fieller(Pair{A: ka * p.A, B: kb * p.B, VAA: ka * ka * p.VAA, VBB: kb * kb * p.VBB, VAB: ka * kb * p.VAB, SD: p.SD, DF: p.DF}, 0.9)
		swapped, _ := Fieller(Pair{A: p.B, B: p.A, VAA: p.VBB, VBB: p.VAA, VAB: p.VAB, SD: p.SD, DF: p.DF}, 0.9)
		critical := stats.TQuantile(0.95, p.DF)
		for _, theta := range []float64{-20, -2, -0.5, 0.1, 0.5, 1, 2, 20} {
			if math.Abs(math.Abs(p.statistic(theta))-critical) < 1e-7*critical {
				continue // on a limit
			}
			if set.Contains(theta) != scaled.Contains(theta*ka/kb) || set.Contains(theta) != swapped.Contains(1/theta) {
				t.Fatalf("θ = %g: %+v, other units %+v, swapped %+v", theta, set, scaled, swapped)
			}
		}
	})
}
