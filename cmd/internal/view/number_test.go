package view

import "testing"

// A chance is never written as 0 or 100 % where it is not, and rounded limits stay on
// their side of zero and the margin. Roundings by hand.
func TestNumbersAreNotRoundedAcross(t *testing.T) {
	for x, want := range map[float64]string{0: "0 %", 0.001: "<1 %", 0.005: "<1 %", 0.0051: "1 %", 0.5: "50 %", 0.9949: "99 %", 0.995: ">99 %", 0.9999: ">99 %", 1: "100 %"} {
		if got := chance(x); got != want {
			t.Errorf("chance(%v) = %s, want %s", x, got, want)
		}
	}
	for _, c := range []struct {
		d             int
		limits, marks []float64
		want          int
	}{
		{1, []float64{0.3, 12}, []float64{0}, 1},
		{1, []float64{0.04, 12}, []float64{0}, 2},             // 0.0 would touch zero
		{0, []float64{-7.6, 8.4}, []float64{0, 8, -8}, 1},     // 8 would touch the margin
		{1, []float64{8.02, 12}, []float64{0, 8, -8}, 2},      // beyond it, not at it
		{1, []float64{8, 12}, []float64{0, 8, -8}, 1},         // at it
		{0, []float64{0.000001, 12}, []float64{0}, 4},         // no more than mostExtra
		{2, []float64{0.41, 0.998}, []float64{1}, 3},          // a ratio below 1
		{1, []float64{-12.34, -0.06}, []float64{0, 8, -8}, 1}, // -0.1
	} {
		if got := guarded(c.d, c.limits, c.marks); got != c.want {
			t.Errorf("guarded(%d, %v, %v) = %d, want %d", c.d, c.limits, c.marks, got, c.want)
		}
	}
	for _, c := range []struct {
		uncertainty float64
		want        int
	}{{6.4, 1}, {0.64, 2}, {64, 0}, {640, 0}, {1e-9, 6}, {0, 1}} { // two significant digits
		if got := decimalsFor(c.uncertainty, 2); got != c.want {
			t.Errorf("decimals for %v: %d, want %d", c.uncertainty, got, c.want)
		}
	}
	for x, want := range map[float64]string{0: "0", 140: "140", 140.6: "141", 12.34: "12.3", 5: "5", 5.26: "5.3", 0.123: "0.12", -5.26: "−5.3"} {
		if got := value(x); got != want {
			t.Errorf("value(%v) = %s, want %s", x, got, want)
		}
	}
	if got := fixed(-0.04, 1); got != "0.0" {
		t.Errorf("a rounded zero is written %s", got)
	}
}
