package additive

import (
	"math"

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
// Observations that alone determine a coefficient (hᵢ = 1) have none.
// ok is false with fewer than two residual degrees of freedom or no spread.
func (f *Fit) WorstOutlier() (worst Outlier, ok bool) {
	if _, spread := f.SD(); !spread || f.DF < 2 {
		return Outlier{}, false
	}
	df, tested := f.DF-1, 0
	for i, e := range f.linear.Residual {
		free := 1 - f.linear.Leverage[i]
		if free < 1e-8 {
			continue
		}
		tested++
		// Without observation i nothing may be left to judge it by.
		rest := math.Max(f.RSS-e*e/free, 1e-12*f.RSS)
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
