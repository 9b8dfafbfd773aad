package additive

import (
	"math"
	"math/rand/v2"

	"mealtrial/stats"
	"mealtrial/stats/linear"
)

// An Outlier is the observation that fits the others worst.
type Outlier struct {
	Index int     // of the observation
	T     float64 // externally studentized residual
	DF    int     // its degrees of freedom, residual DF − 1
	P     float64 // two-sided, times the number of observations, at most 1
}

// WorstOutlier returns the observation with the largest externally studentized
// residual
//
//	tᵢ = eᵢ / (s₋ᵢ √(1 − hᵢ)),   s₋ᵢ² = (RSS − eᵢ²/(1 − hᵢ)) / (DF − 1)
//
// and its Bonferroni p-value over the observations that have one (Cook and
// Weisberg 1982, Residuals and Influence in Regression, section 2.2.2).
// Observations that alone determine a coefficient (hᵢ = 1) have none, nor those
// without which the others fit exactly: there rounding decides, not the data.
// ok is false with fewer than three residual degrees of freedom or no spread.
func (f *Fit) WorstOutlier() (worst Outlier, ok bool) {
	if _, spread := f.SD(); !spread || f.DF < 3 {
		return Outlier{}, false
	}
	df, tested := f.DF-1, 0
	for i, e := range f.linear.Residual {
		free := 1 - f.linear.Leverage[i]
		if free < 1e-8 {
			continue
		}
		rest := f.RSS - e*e/free
		if rest < 1e-6*f.RSS {
			continue
		}
		tested++
		if t := e / math.Sqrt(free*rest/float64(df)); math.Abs(t) > math.Abs(worst.T) {
			worst = Outlier{Index: i, T: t, DF: df}
		}
	}
	worst.P = math.Min(1, float64(tested)*stats.TwoSidedP(worst.T, float64(df)))
	return worst, tested > 0
}

// Trend estimates the slope of a covariate, one value an observation, added to
// the model: the analysis of covariance of a drift over the study (Cochran
// and Cox 1957, section 3.8). The error is linear.ErrNotEstimable; the
// estimate has no standard error when its DF is 0. It panics when at has not
// one value an observation.
func (f *Fit) Trend(at []float64) (Estimate, error) {
	if len(at) != len(f.obs) {
		panic("additive: the covariate needs one value an observation")
	}
	mean := 0.0
	for _, a := range at {
		mean += a / float64(len(at))
	}
	centred := make([]float64, len(at))
	for i, a := range at {
		centred[i] = a - mean
	}
	x := f.design(centred)
	_, p := x.Dims()
	c := make([]float64, p)
	c[p-1] = 1
	return f.combine(linear.NewFit(x, f.values), c)
}

// UnequalSpread tests whether the spread grows with the response. The statistic
// is the slope of the squared residuals on the fitted values,
//
//	Σ (f̂ᵢ − f̄) eᵢ² / RSS
//
// that of the score test of Cook and Weisberg (1983, Biometrika 70:1), and its
// one-sided p-value comes from simulated normal errors put through the same
// design, so that it is right for few tests; the fitted values are taken as
// given. p is (1 + number as large) / (1 + simulations). ok is false with fewer
// than three residual degrees of freedom, no spread or no difference in the
// fitted values. It panics for fewer than one simulation.
func (f *Fit) UnequalSpread(simulations int, seed uint64) (p float64, ok bool) {
	if simulations < 1 {
		panic("additive: no simulations")
	}
	if _, spread := f.SD(); !spread || f.DF < 3 {
		return 1, false
	}
	fitted := f.treatmentLevels()
	score := func(residual []float64) float64 {
		sum, rss := 0.0, 0.0
		for i, e := range residual {
			sum += fitted[i] * e * e
			rss += e * e
		}
		return sum / rss
	}
	width := 0.0
	for _, x := range fitted {
		width = math.Max(width, math.Abs(x))
	}
	if width < 1e-9*math.Sqrt(f.RSS) {
		return 1, false
	}
	const stream = 0x7370726561 // apart from other uses of the seed
	random := rand.New(rand.NewPCG(seed, stream))
	observed, larger := score(f.linear.Residual), 0
	noise := make([]float64, len(fitted))
	for range simulations {
		for i := range noise {
			noise[i] = random.NormFloat64()
		}
		f.linear.Residuals(noise)
		if score(noise) >= observed {
			larger++
		}
	}
	return float64(1+larger) / float64(1+simulations), true
}

// treatmentLevels returns the fitted level of each observation's treatment, about
// the mean: block differences are not what the spread should grow with.
func (f *Fit) treatmentLevels() []float64 {
	levels, mean := make([]float64, len(f.obs)), 0.0
	for i, o := range f.obs {
		levels[i] = f.values[i] - f.linear.Residual[i]
		if e, err := f.Mean(o.Treatment); err == nil {
			levels[i] = e.Value
		}
		mean += levels[i] / float64(len(levels))
	}
	for i := range levels {
		levels[i] -= mean
	}
	return levels
}
