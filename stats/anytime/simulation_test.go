package anytime

import (
	"math"
	"math/rand/v2"
	"testing"

	"mealtrial/stats"
)

// running holds the mean and the sum of squares about it.
type running struct{ n, mean, squares float64 }

func (r *running) add(x float64) {
	r.n++
	step := x - r.mean
	r.mean += step / r.n
	r.squares += step * (x - r.mean)
}

// shares of null studies in which a rule raised a false alarm at any look.
type shares struct{ mixture, lai, arms, naive float64 }

// falseAlarms looks at null data after each of the observations up to last.
func falseAlarms(studies, last int, random *rand.Rand) shares {
	const g, level = 1, 0.95
	bound, lai := -math.Log1p(-level), NewSequence(3, level)
	var wide, naive []float64
	for n := range last + 1 {
		k, _ := lai.Multiplier(n)
		wide = append(wide, k)
		naive = append(naive, stats.TQuantile((1+level)/2, math.Max(1, float64(n-1))))
	}
	var count shares
	for range studies {
		var one running
		var arm [2]running
		var seen shares
		for n := 1; n <= last; n++ {
			x := 5 * random.NormFloat64()
			one.add(x)
			arm[random.IntN(2)].add(x + 3) // a common level is no difference
			if n >= 2 {
				tValue := one.mean / math.Sqrt(one.squares/(one.n-1)/one.n)
				mark(&seen.mixture, LogE(Coefficient{tValue, one.n - 1, one.n}, g) >= bound)
				mark(&seen.lai, n >= lai.Start && math.Abs(one.mean) > wide[n]*math.Sqrt(one.squares/one.n))
				mark(&seen.naive, n >= 3 && math.Abs(tValue) > naive[n])
			}
			if n >= 3 && arm[0].n > 0 && arm[1].n > 0 {
				information := arm[0].n * arm[1].n / one.n
				sd := math.Sqrt((arm[0].squares + arm[1].squares) / (one.n - 2))
				tValue := (arm[1].mean - arm[0].mean) * math.Sqrt(information) / sd
				mark(&seen.arms, LogE(Coefficient{tValue, one.n - 2, information}, g) >= bound)
			}
		}
		count.mixture += seen.mixture
		count.lai += seen.lai
		count.arms += seen.arms
		count.naive += seen.naive
	}
	s := float64(studies)
	return shares{count.mixture / s, count.lai / s, count.arms / s, count.naive / s}
}

func mark(seen *float64, yes bool) {
	if yes {
		*seen = 1
	}
}

// With a look after each of 2 to 200 observations, at most 5 % of null studies
// raise an alarm; the true shares are near 3 %, so the limit is some seven
// standard errors away. A plain t test at each look fails by far.
func TestFalseAlarmsOverAllLooks(t *testing.T) {
	got := falseAlarms(4000, 200, rand.New(rand.NewPCG(5, 1)))
	t.Logf("%+v", got)
	for name, share := range map[string]float64{"mixture": got.mixture, "Lai": got.lai, "difference of two arms": got.arms} {
		if share > 0.05 || share < 0.01 {
			t.Errorf("%s: false alarms in %.4f of the studies", name, share)
		}
	}
	if got.naive < 0.3 {
		t.Errorf("repeated t tests: only %.4f", got.naive)
	}
}

// A true mean lies in all intervals at once as often as the level says; here
// with the interval of Interval itself, an estimate at a time.
func TestAllIntervalsHoldTheMean(t *testing.T) {
	const studies, truth = 1500, 2.5
	random, held := rand.New(rand.NewPCG(6, 1)), 0
	for range studies {
		var one running
		all := true
		for n := 1; n <= 60; n++ {
			one.add(truth + 4*random.NormFloat64())
			if n >= 2 {
				i, ok := Interval(one.mean, math.Sqrt(one.squares/(one.n-1)/one.n), one.n-1, one.n, 0.2, 0.9)
				all = all && (!ok || i.Contains(truth))
			}
		}
		if all {
			held++
		}
	}
	if share := float64(held) / studies; share < 0.9 || share > 0.98 {
		t.Errorf("all intervals held the mean in %.4f of the studies, want 0.9 or more", share)
	}
}
