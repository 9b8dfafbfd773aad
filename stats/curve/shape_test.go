package curve

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// Curves that stay level and climb in a straight line from a known minute on.
func TestOnsetOfAKnownKnee(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		knee := float64(rapid.IntRange(-60, 30).Draw(t, "knee"))
		slope := rapid.Float64Range(0.8, 3).Draw(t, "slope")
		var ps []Point
		for m := -120.0; m <= 120; m += 5 {
			wiggle := 0.5 * math.Sin(m)
			ps = append(ps, Point{m, 90 + wiggle + slope*math.Max(0, math.Min(m, knee+40)-knee) - 0.3*math.Max(0, m-knee-40)})
		}
		got, ok := Onset(ps, 20)
		if !ok || math.Abs(got-knee) > 4 {
			t.Fatalf("onset %g, %v; the knee is at %g", got, ok, knee)
		}
	})
}

func TestNoOnsetWhereNothingRises(t *testing.T) {
	var flat, steady []Point
	for m := -60.0; m <= 120; m += 5 {
		flat = append(flat, Point{m, 90 + 3*math.Sin(m)})
		steady = append(steady, Point{m, 90 + 3*math.Sin(m*m)})
	}
	for _, ps := range [][]Point{flat, steady, flat[:3], nil} {
		if at, ok := Onset(ps, 20); ok {
			t.Errorf("an onset at %g", at)
		}
	}
}

// A V of 30 down in 10 min and 30 up in 15 min is found; a step down that stays, a slow
// fall and a small V are not.
func TestSharpDip(t *testing.T) {
	minutes := []float64{0, 5, 10, 15, 20, 25, 30, 35, 40}
	for name, c := range map[string]struct {
		glucose []float64
		at      float64
		found   bool
	}{
		"v":     {[]float64{100, 100, 85, 70, 82, 95, 100, 100, 100}, 15, true},
		"step":  {[]float64{100, 100, 85, 70, 70, 71, 70, 70, 71}, 0, false},
		"slow":  {[]float64{100, 96, 92, 88, 84, 80, 84, 88, 92}, 0, false},
		"small": {[]float64{100, 100, 92, 85, 92, 100, 100, 100, 100}, 0, false},
	} {
		dip, ok := SharpDip(points(minutes, c.glucose), 0, 40, 25)
		if ok != c.found || ok && (dip.Minute != c.at || dip.Fall != 30) {
			t.Errorf("%s: %+v, %v", name, dip, ok)
		}
	}
}
