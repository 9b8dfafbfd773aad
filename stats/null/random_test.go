package null

import (
	"math"
	"sort"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// distance is Kolmogorov's, times √n: above 1.95 once in a thousand times
// (Smirnov 1948, Ann Math Stat 19:279; from memory).
func distance(sample []float64, cdf func(float64) float64) float64 {
	sort.Float64s(sample)
	n, worst := float64(len(sample)), 0.0
	for i, v := range sample {
		p := cdf(v)
		worst = max(worst, p-float64(i)/n, float64(i+1)/n-p)
	}
	return worst * math.Sqrt(n)
}

func TestNormalsAndChiSquares(t *testing.T) {
	const n = 100_000
	s := newSource(3)
	sample := make([]float64, n)
	for i := range sample {
		sample[i] = s.normal()
	}
	if d := distance(sample, distuv.UnitNormal.CDF); d > 1.95 {
		t.Errorf("normals are %.2f away", d)
	}
	for _, df := range []int{1, 2, 3, 7, 40, 5000} {
		for i := range sample {
			sample[i] = s.chiSquared(df)
		}
		if d := distance(sample, distuv.ChiSquared{K: float64(df)}.CDF); d > 1.95 {
			t.Errorf("chi-squares with %d degrees of freedom are %.2f away", df, d)
		}
	}
	if s.chiSquared(0) != 0 {
		t.Error("no degrees of freedom, but not 0")
	}
}

func TestNormalsAreUncorrelatedInARow(t *testing.T) {
	const n = 100_000
	s := newSource(4)
	for _, lag := range []int{1, 2, 3} {
		values, sum, squares := make([]float64, n), 0.0, 0.0
		for i := range values {
			values[i] = s.normal()
		}
		for i := lag; i < n; i++ {
			sum += values[i] * values[i-lag]
			squares += (values[i]*values[i] - 1) * (values[i-lag]*values[i-lag] - 1) / 2
		}
		if limit := 4 * math.Sqrt(n); math.Abs(sum) > limit || math.Abs(squares) > limit {
			t.Errorf("lag %d: %.0f and %.0f, limit %.0f", lag, sum, squares, limit)
		}
	}
}

func TestSameSeedSameAnswer(t *testing.T) {
	d := crippled()
	a, _ := Find(d, Constant, 0.05, 1000, 9)
	b, _ := Find(d, Constant, 0.05, 1000, 9)
	c, _ := Find(d, Constant, 0.05, 1000, 10)
	if a.Level[3] != b.Level[3] || a.Level[3] == c.Level[3] || a.Seed != 9 || a.Studies != 1000 {
		t.Error(a.Level, b.Level, c.Level)
	}
}
