package design

import (
	"math"
	"testing"
)

// Examples of R's help page of power.t.test (R 4.2.2), two-sided at 0.05, with
// strict = TRUE, as both tails count here.
func TestPowerExamplesOfR(t *testing.T) {
	for _, c := range []struct {
		name      string
		ncp, df   float64
		want, tol float64
	}{
		{"two samples of 20, delta 1", 1 / math.Sqrt(2.0/20), 38, 0.86895303, 6e-9},
		{"10 pairs, delta 1", math.Sqrt(10), 9, 0.8030968566, 6e-10},
		{"one sample of 15, delta 0.8", 0.8 * math.Sqrt(15), 14, 0.8213105387, 6e-10},
	} {
		if got := Power(c.ncp, c.df, 0.05); math.Abs(got-c.want) > c.tol {
			t.Errorf("%s: power %.8f, want %.8f", c.name, got, c.want)
		}
	}
}

// Without a difference the power is the level.
func TestPowerWithoutADifferenceIsTheLevel(t *testing.T) {
	for _, df := range []float64{1, 2, 7, 100, math.Inf(1)} {
		if got := Power(0, df, 0.05); math.Abs(got-0.05) > 1e-9 {
			t.Errorf("df %g: %g", df, got)
		}
	}
}

// R: power.t.test(power = .90, delta = 1) needs n = 22.02110, and
// power.t.test(power = .80, delta = .5) needs 63.765764 in each group.
func TestTestsEachExamplesOfR(t *testing.T) {
	for _, c := range []struct {
		delta, power float64
		want         int
	}{{1, 0.90, 23}, {0.5, 0.80, 64}} {
		n, ok := TestsEach(c.delta, 1, 0.05, c.power)
		if !ok || n != c.want {
			t.Errorf("delta %g, power %g: %d tests each, want %d", c.delta, c.power, n, c.want)
		}
		if n2, _ := TestsEach(-c.delta, 1, 0.05, c.power); n2 != n {
			t.Errorf("the sign of the difference changes the number of tests: %d and %d", n, n2)
		}
	}
}

func TestTestsEachOutOfReach(t *testing.T) {
	if n, ok := TestsEach(0.01, 1, 0.05, 0.8); ok {
		t.Errorf("a hundredth of an SD was to be shown with %d tests", n)
	}
	if _, ok := TestsEach(0, 1, 0.05, 0.8); ok {
		t.Error("no difference can be shown by any number of tests")
	}
	if n, ok := TestsEach(1e6, 1, 0.05, 0.8); !ok || n != 2 {
		t.Errorf("an enormous difference needs %d, want the smallest number, 2", n)
	}
}
