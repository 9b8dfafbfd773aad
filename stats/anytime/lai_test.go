package anytime

import (
	"math"
	"testing"

	"mealtrial/stats"
)

// Constants and half-widths in units of the standard deviation with divisor n
// at level 0.95, computed with R 4.2.2 from the formulas in NewSequence.
func TestSequenceTable(t *testing.T) {
	for _, c := range []struct {
		start                  int
		a, b, first, ten, more float64
	}{
		{2, 25.43859344, 210031.0868, 25.438593, 1.813212, 1.069443},
		{3, 7.582405712, 8773.717746, 5.361570, 1.456426, 0.910487},
		{5, 4.446813055, 1483.387784, 2.223407, 1.270006, 0.820644},
		{10, 3.404063024, 392.3210677, 1.134688, 1.134688, 0.752190},
	} {
		q := NewSequence(c.start, 0.95)
		if math.Abs(q.A/c.a-1) > 6e-10 || math.Abs(math.Exp(q.LogB)/c.b-1) > 6e-10 || q.Start != c.start || q.Level != 0.95 {
			t.Errorf("start %d: a %.9f, b %.6f, want %.9f and %.6f", c.start, q.A, math.Exp(q.LogB), c.a, c.b)
		}
		for n, want := range map[int]float64{c.start: c.first, 10: c.ten, 20: c.more} {
			if k, ok := q.Multiplier(n); !ok || math.Abs(k-want) > 6e-7 {
				t.Errorf("start %d, n = %d: %.6f (%t), want %.6f", c.start, n, k, ok, want)
			}
		}
		if k, ok := q.Multiplier(c.start - 1); ok || k != 0 {
			t.Errorf("start %d: an interval before the start", c.start)
		}
	}
}

// For Cauchy tails a is 4/(π·α) nearly, by expanding α = 2(1 − F + a·f); the
// relative error is of the order α².
func TestSequenceAtExtremeLevels(t *testing.T) {
	for _, alpha := range []float64{1e-3, 1e-6, 1e-9} {
		level := 1 - alpha
		if q := NewSequence(2, level); math.Abs(q.A*math.Pi*(1-level)/4-1) > 1e-5 {
			t.Errorf("α = %g: a = %g", alpha, q.A)
		}
	}
	for _, q := range []Sequence{NewSequence(2, 0.01), NewSequence(500, 1-1e-12)} {
		if k, ok := q.Multiplier(q.Start); !ok || math.IsNaN(k) || math.IsInf(k, 0) {
			t.Errorf("%+v: %g", q, k)
		}
	}
}

// At the start the half-width is a ordinary standard errors; a common level
// that is added to the values moves the limits and costs no digits.
func TestSequenceInterval(t *testing.T) {
	_, mean, se := oneSample(sleepDifferences)
	q := NewSequence(10, 0.95)
	i, ok := q.Interval(sleepDifferences)
	if !ok || math.Abs(i.Low-(mean-q.A*se)) > 1e-12 || math.Abs(i.High-(mean+q.A*se)) > 1e-12 || i.Level != 0.95 {
		t.Errorf("%+v, %t", i, ok)
	}
	moved := make([]float64, 10)
	for j, x := range sleepDifferences {
		moved[j] = x + 1e6
	}
	if j, _ := q.Interval(moved); math.Abs(j.High-j.Low-(i.High-i.Low)) > 1e-8 {
		t.Errorf("width %g after moving, %g before", j.High-j.Low, i.High-i.Low)
	}
	for _, short := range [][]float64{nil, sleepDifferences[:9]} {
		if i, ok := q.Interval(short); ok || i != (stats.Interval{}) {
			t.Errorf("an interval of %d values: %+v", len(short), i)
		}
	}
}
