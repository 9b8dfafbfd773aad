package design

import (
	"math"
	"math/rand/v2"
	"testing"

	"mealtrial/stats"
)

// Exact power of two one-sided tests on the log scale, margin 0.80–1.25, true
// ratio 0.95, two-period cross-over with n people (Diletti et al. 1991, sample
// sizes from memory; values computed with R by numerical integration). Two
// one-sided 5 % tests are the 90 % interval inside the margin.
func TestEquivalencePowerAgainstR(t *testing.T) {
	for _, c := range []struct{ cv, n, want float64 }{
		{0.20, 20, 0.834680}, {0.25, 28, 0.807439}, {0.30, 40, 0.815845}, {0.35, 52, 0.807470}, {0.40, 66, 0.805252},
	} {
		se := stats.LogSD(c.cv) * math.Sqrt(2/c.n)
		got := VerdictChances(math.Log(0.95), se, c.n-2, 0.90, math.Log(1.25))
		if sum := got.NoDifference + got.TooSmall; math.Abs(sum-c.want) > 6e-7 {
			t.Errorf("CV %g, n %g: %.6f, want %.6f", c.cv, c.n, sum, c.want)
		}
	}
}

// One person, two arms of n tests, true ratio 1: computed with R. Showing that
// two foods are alike takes many tests.
func TestEquivalencePowerOfOnePersonAgainstR(t *testing.T) {
	ns := []float64{4, 6, 8, 10, 15, 20}
	for cv, wants := range map[float64][]float64{
		0.15: {0.2675, 0.5593, 0.7690, 0.8837, 0.9812, 0.9973},
		0.20: {0.0795, 0.2034, 0.3890, 0.5638, 0.8277, 0.9362},
		0.25: {0.0255, 0.0597, 0.1370, 0.2562, 0.5625, 0.7578},
		0.30: {0.0092, 0.0172, 0.0393, 0.0852, 0.3041, 0.5258},
	} {
		for i, want := range wants {
			got := VerdictChances(0, stats.LogSD(cv)*math.Sqrt(2/ns[i]), 2*ns[i]-2, 0.90, math.Log(1.25))
			if sum := got.NoDifference + got.TooSmall; math.Abs(sum-want) > 5.1e-5 {
				t.Errorf("CV %g, n %g: %.5f, want %.4f", cv, ns[i], sum, want)
			}
		}
	}
}

// The chance of an interval without zero is the power of the t test, in closed
// form by the noncentral t.
func TestChancesAgreeWithTheNoncentralT(t *testing.T) {
	for _, df := range []float64{2, 5, 12, 40, math.Inf(1)} {
		for _, difference := range []float64{0, 4, 8, 20} {
			for _, margin := range []float64{0, 8} {
				c := VerdictChances(difference, 5, df, 0.95, margin)
				if got, want := c.Different+c.TooSmall, Power(difference/5, df, 0.05); math.Abs(got-want) > 2e-7 {
					t.Errorf("df %g, difference %g, margin %g: %.9f, noncentral t %.9f", df, difference, margin, got, want)
				}
				if sum := c.Different + c.TooSmall + c.NoDifference + c.Open; math.Abs(sum-1) > 1e-7 {
					t.Errorf("the chances sum to %g", sum)
				}
				if margin == 0 && c.NoDifference+c.TooSmall != 0 {
					t.Errorf("without a margin: %+v", c)
				}
			}
		}
	}
}

// Simulation of the declared decision itself, within four standard errors.
func TestChancesAgreeWithSimulation(t *testing.T) {
	const studies, df, se, margin = 40000, 6, 3.0, 12.0
	random := rand.New(rand.NewPCG(3, 1))
	for _, difference := range []float64{0, 6, 12} {
		seen := map[stats.Verdict]float64{}
		for range studies {
			square := 0.0
			for range df {
				z := random.NormFloat64()
				square += z * z
			}
			s := se * math.Sqrt(square/df)
			seen[stats.Decide(stats.TInterval(difference+se*random.NormFloat64(), s, df, 0.95), margin)]++
		}
		c := VerdictChances(difference, se, df, 0.95, margin)
		for verdict, want := range map[stats.Verdict]float64{stats.Different: c.Different, stats.TooSmallToMatter: c.TooSmall,
			stats.NoDifferenceThatMatters: c.NoDifference, stats.Open: c.Open} {
			slack := 4*math.Sqrt(want*(1-want)/studies) + 1e-9
			if got := seen[verdict] / studies; math.Abs(got-want) > slack {
				t.Errorf("difference %g: %s in %.4f of studies, computed %.4f", difference, verdict, got, want)
			}
		}
	}
}

// A spread known on many degrees of freedom is as good as known; an uncertain
// one pulls a high power down.
func TestAverageChances(t *testing.T) {
	known := VerdictChances(12, 3, 10, 0.95, 5)
	nearly := AverageChances(12, 1, 3, 1e6, 10, 0.95, 5)
	vague := AverageChances(12, 1, 3, 3, 10, 0.95, 5)
	if math.Abs(known.Different-nearly.Different) > 1e-4 {
		t.Errorf("%+v and %+v", known, nearly)
	}
	if vague.Different >= known.Different {
		t.Errorf("an uncertain spread gives %+v, a known one %+v", vague, known)
	}
	if sum := vague.Different + vague.TooSmall + vague.NoDifference + vague.Open; math.Abs(sum-1) > 1e-4 {
		t.Errorf("the chances sum to %g", sum)
	}
}

// Attainable two-sided p of randomisation tests in blocks of two: 3 blocks
// 0.25, 4 0.125, 5 0.0625, 6 0.03125, 8 0.0078125 (by enumeration).
func TestSmallestP(t *testing.T) {
	for blocks, want := range map[int]float64{0: 1, 3: 0.25, 4: 0.125, 5: 0.0625, 6: 0.03125, 8: 0.0078125} {
		if got := SmallestP(blocks); got != want {
			t.Errorf("%d blocks: %g, want %g", blocks, got, want)
		}
	}
}

// The quadratures give probabilities over the whole range that may be asked for,
// from one degree of freedom up.
func TestChancesAreAlwaysProbabilities(t *testing.T) {
	for _, sdDF := range []float64{1, 2, 3, 5, 30, math.Inf(1)} {
		for _, df := range []float64{1, 2, 3, 9, 60} {
			for _, sd := range []float64{0.05, 1, 9, 200} {
				for _, margin := range []float64{0, 0.3, 8} {
					c := AverageChances(8, 0.7, sd, sdDF, df, 0.95, margin)
					sum := c.Different + c.TooSmall + c.NoDifference + c.Open
					for _, p := range []float64{c.Different, c.TooSmall, c.NoDifference, c.Open} {
						if !(p >= -1e-6 && p <= 1+1e-6) || math.Abs(sum-1) > 1e-4 {
							t.Fatalf("SD %g on %g, df %g, margin %g: %+v", sd, sdDF, df, margin, c)
						}
					}
				}
			}
		}
	}
}
