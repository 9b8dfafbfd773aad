// Package predict says where the next response to a treatment will lie, and
// whether its mean or its next response is shown to be below a limit.
//
// Arguments outside their domain are mistakes of the program and panic with
// "predict: …"; what the data cannot give is an error.
package predict

import (
	"errors"
	"math"

	"mealtrial/stats"
	"mealtrial/stats/additive"
)

// ErrNoSpread says that the responses leave no spread to judge by: no residual
// degrees of freedom, or residuals that vanish.
var ErrNoSpread = errors.New("no spread of repeated responses to judge by")

// A Mean is the estimated mean response to a treatment, normal with standard
// error Factor·SD, and the spread of single responses about it. SD is an
// estimate on DF degrees of freedom, independent of Value.
type Mean struct {
	Value  float64
	Factor float64 // u: standard error of Value in units of SD
	SD     float64 // of a single response, in the unit of Value
	DF     float64 // +Inf where the spread is known
}

// FromFit returns the marginal mean of a treatment and the residual spread.
//
// For the next response that means: a block like the average of the blocks
// observed. What the next block adds of its own is not in the spread. Where
// blocks differ (days, say) and the next response falls into a new one, the
// interval is too short; FromResponses is right there.
//
// The errors are ErrNoSpread and linear.ErrNotEstimable.
func FromFit(f *additive.Fit, treatment int) (Mean, error) {
	e, err := f.Mean(treatment)
	if err != nil {
		return Mean{}, err
	}
	sd, ok := f.SD()
	if !ok {
		return Mean{}, ErrNoSpread
	}
	return Mean{Value: e.Value, Factor: e.Factor, SD: sd, DF: float64(e.DF)}, nil
}

// FromResponses returns the mean of the responses to one treatment and their
// own spread: the factor is 1/√n, on n − 1 degrees of freedom.
//
// Where each response comes from a block of its own, and the blocks are a
// random sample that the next block belongs to, the spread holds both the
// blocks and the error, and intervals for the next response in a new block are
// exact. No other treatment is used, so that the degrees of freedom are few.
//
// The error is ErrNoSpread, with fewer than two responses or where they are all
// alike. It panics for responses that are not finite.
func FromResponses(responses []float64) (Mean, error) {
	mean, squares, n := 0.0, 0.0, float64(len(responses))
	for i, x := range responses {
		if !finite(x) {
			panic("predict: responses must be finite")
		}
		step := x - mean
		mean += step / float64(i+1)
		squares += step * (x - mean)
	}
	if n < 2 || squares == 0 {
		return Mean{}, ErrNoSpread
	}
	return Mean{Value: mean, Factor: 1 / math.Sqrt(n), SD: math.Sqrt(squares / (n - 1)), DF: n - 1}, nil
}

// Next returns the interval that holds the next response to the treatment with
// probability level, before any of the data are seen:
//
//	Value ± t((1+level)/2; DF)·SD·√(1 + Factor²)
//
// for a response that is independent of the data, with mean and spread as in m;
// FromFit and FromResponses say what that assumes of its block. It holds for
// one response. It panics for a Mean that is not finite, a negative Factor or
// SD, DF ≤ 0 or a level outside (0, 1).
//
// Snedecor and Cochran, Statistical Methods, 8th ed. 1989, sections 6.11 and
// 9.11 (from memory); R's predict.lm with interval = "prediction".
func Next(m Mean, level float64) stats.Interval {
	return stats.TInterval(m.Value, m.nextError(), m.DF, between(level, 0))
}

// nextError is the standard deviation of the next response minus Value.
func (m Mean) nextError() float64 {
	m.check()
	return m.SD * math.Hypot(1, m.Factor)
}

// meanError is the standard error of Value.
func (m Mean) meanError() float64 {
	m.check()
	return m.SD * m.Factor
}

func (m Mean) check() {
	if !finite(m.Value) || !finite(m.Factor) || !finite(m.SD) {
		panic("predict: mean, factor and spread must be finite")
	}
	if m.Factor < 0 || m.SD < 0 {
		panic("predict: factor and spread must not be negative")
	}
}

// between returns a level that lies in [lowest, 1), above 0, and panics for others.
func between(level, lowest float64) float64 {
	if !(level > 0 && level >= lowest && level < 1) {
		panic("predict: level out of range")
	}
	return level
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
