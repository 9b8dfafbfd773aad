package protocol

import (
	"math"
	"math/rand/v2"
	"testing"

	"mealtrial/stats"
	"mealtrial/stats/anytime"
	"mealtrial/stats/ratio"
)

// With the t quantile for its critical value the set is Fieller's of the pairs: each
// ratio in it is one that the paired t test of a − θb does not reject.
func TestAnytimeRatioSetIsWhatItsTestLeaves(t *testing.T) {
	first, second := []float64{31, 36, 28, 40, 33, 37}, []float64{52, 47, 60, 55, 49, 58}
	n := float64(len(first))
	k, ok := anytime.Multiplier(n-1, n, mixtureVariance, 0.95)
	if !ok {
		t.Fatal("no multiplier")
	}
	set, ok := anytimeSet(first, second, k, 0.95, false)
	if !ok || set.Shape != ratio.Bounded {
		t.Fatalf("%+v", set)
	}
	rejected := func(theta float64) bool {
		var d []float64
		for i := range first {
			d = append(d, first[i]-theta*second[i])
		}
		limits, ok := anytimeInterval(d, 0.95)
		return ok && (limits.Low > 0 || limits.High < 0)
	}
	for _, x := range []struct {
		theta    float64
		rejected bool
	}{{set.Low - 1e-6, true}, {set.Low + 1e-6, false}, {set.High - 1e-6, false}, {set.High + 1e-6, true}} {
		if rejected(x.theta) != x.rejected {
			t.Errorf("ratio %v: rejected %t", x.theta, !x.rejected)
		}
	}
}

// The truth is left out at any of many looks with a chance of at most 5 %.
func TestAnytimeRatiosAndLimitsKeepTheirPromise(t *testing.T) {
	const studies, blocks = 4000, 25
	random := rand.New(rand.NewPCG(1, 27))
	missed := map[string]int{}
	for range studies {
		var first, second []float64
		out := map[string]bool{}
		for n := 1; n <= blocks; n++ {
			shift := 3 * random.NormFloat64()
			first = append(first, 30+shift+6*random.NormFloat64())
			second = append(second, 40+shift+6*random.NormFloat64())
			if n < 2 {
				continue
			}
			if k, ok := anytime.Multiplier(float64(n-1), float64(n), mixtureVariance, 0.95); ok {
				if set, ok := anytimeSet(first, second, k, 0.95, false); ok && !set.Contains(0.75) {
					out["ratio"] = true
				}
			}
			if limits, ok := anytimeInterval(first, 0.95); ok && limitVerdict(limits, 30) != stats.Open {
				out["limit"] = true
			}
		}
		for what := range out {
			missed[what]++
		}
	}
	for what, n := range missed {
		if share := float64(n) / studies; share > 0.05+3*math.Sqrt(0.05*0.95/studies) {
			t.Errorf("%s: missed in %.4f", what, share)
		} else {
			t.Logf("%s: missed in %.4f", what, share)
		}
	}
}
