package additive

import (
	"math"
	"slices"
	"sync"

	"mealtrial/stats/linear"
)

// otherFits keeps fits of the same observations by other models, so that many
// questions cost one fit.
type otherFits struct {
	mutex      sync.Mutex
	covariates [][][]float64
	fits       []*linear.Fit
	correlate  *linear.Fit
}

// mostOtherFits are kept; an analysis takes two.
const mostOtherFits = 4

func (o *otherFits) with(covariates [][]float64, fit func() *linear.Fit) *linear.Fit {
	o.mutex.Lock()
	defer o.mutex.Unlock()
	for i, c := range o.covariates {
		if slices.EqualFunc(c, covariates, slices.Equal[[]float64]) {
			return o.fits[i]
		}
	}
	l := fit()
	if len(o.fits) < mostOtherFits {
		kept := make([][]float64, len(covariates))
		for i, c := range covariates {
			kept[i] = slices.Clone(c)
		}
		o.covariates, o.fits = append(o.covariates, kept), append(o.fits, l)
	}
	return l
}

func (o *otherFits) correlated(fit func() *linear.Fit) *linear.Fit {
	o.mutex.Lock()
	defer o.mutex.Unlock()
	if o.correlate == nil {
		o.correlate = fit()
	}
	return o.correlate
}

// WithoutEach returns Contrast without each observation in turn, all from the one
// fit: with the residual e, the leverage h and the weight a of the observation in
// the estimate,
//
//	value − a·e/(1 − h),   factor² + a²/(1 − h),   RSS − e²/(1 − h)
//
// (Cook and Weisberg 1982, Residuals and Influence in Regression, section 3.1; from
// memory). ok is false where the contrast cannot be estimated without it. A spread
// from elsewhere stays pooled. The error and panics are those of Contrast.
func (f *Fit) WithoutEach(weights []float64) (without []Estimate, ok []bool, err error) {
	whole, err := f.Contrast(weights)
	if err != nil {
		return nil, nil, err
	}
	c := make([]float64, f.Treatments+f.Blocks-1)
	copy(c, weights)
	a, err := f.linear.Weights(c)
	if err != nil {
		return nil, nil, err
	}
	// A leverage of 1 up to rounding: the observation alone carries a parameter.
	const alone = 1e-9
	without, ok = make([]Estimate, len(a)), make([]bool, len(a))
	for i, weight := range a {
		e, rss, df := whole, f.RSS, f.DF
		if rest := 1 - f.linear.Leverage[i]; rest > alone {
			residual := f.linear.Residual[i]
			e.Value -= weight * residual / rest
			e.Factor = math.Sqrt(whole.Factor*whole.Factor + weight*weight/rest)
			rss, df = math.Max(0, rss-residual*residual/rest), df-1
		} else if math.Abs(weight) > math.Sqrt(alone)*whole.Factor {
			continue
		}
		e.DF, e.SE = df+f.otherDF, 0
		if e.DF > 0 {
			e.SE = e.Factor * math.Sqrt((rss+f.otherSquares)/float64(e.DF))
		}
		without[i], ok[i] = e, true
	}
	return without, ok, nil
}

// Influence returns |e|/(1 − h) of each observation, its residual from a fit without
// it; 0 where it alone carries a parameter.
func (f *Fit) Influence() []float64 {
	out := make([]float64, len(f.values))
	for i := range out {
		if rest := 1 - f.linear.Leverage[i]; rest > 1e-9 {
			out[i] = math.Abs(f.linear.Residual[i]) / rest
		}
	}
	return out
}
