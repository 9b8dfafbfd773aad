package null

import (
	"math"
	"testing"

	"mealtrial/stats"

	"gonum.org/v1/gonum/mathext"
)

// The direct evaluation is the reference of its interpolation.
func TestRatioTable(t *testing.T) {
	for _, free := range []int{1, 2, 5, 30, 400, 60000} {
		for _, normals := range []int{1, 2, 9, 60, 400} {
			table := newRatioTable(free, normals)
			if n := len(table.value); n > 20000 {
				t.Errorf("%d, %d: %d nodes", free, normals, n)
			}
			a, b := float64(free)/2, float64(normals)/2
			for theta := -40.0; theta < 80; theta += 0.0137 {
				at := math.Log(a/b) + theta
				want := 1 - mathext.RegIncBeta(b, a, 1/(1+math.Exp(at)))
				if at < 0 {
					want = mathext.RegIncBeta(a, b, 1/(1+math.Exp(-at)))
				}
				if got := table.below(at); math.Abs(got-want) > 1e-7 || want > 1e-4 && math.Abs(got/want-1) > 1e-4 {
					t.Fatalf("free %d, normals %d, at %.3f: %.10g, want %.10g", free, normals, theta, got, want)
				}
			}
		}
	}
}

// The round trip through the p-value is the reference; it holds where the
// quantile of the library does not.
func TestUpperT(t *testing.T) {
	for _, df := range []float64{1, 2, 3, 10, 100, 600, 20000, 1e6} {
		before := 0.0
		for _, level := range []float64{0.9, 0.05, 1e-3, 1e-8, 1e-12, 1e-15, 1e-20, 1e-40, 1e-100, 1e-149} {
			got := upperT(level, df)
			if p := stats.TwoSidedP(got, df); math.Abs(p/level-1) > 1e-8 || got <= before {
				t.Errorf("df %g, level %g: t = %g has p = %g", df, level, got, p)
			}
			before = got
		}
	}
	if !math.IsInf(upperT(0, 5), 1) || !math.IsInf(upperT(1e-151, 20000), 1) {
		t.Error("a level of 0 can be passed")
	}
}
