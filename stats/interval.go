// Package stats holds the numbers behind a verdict: intervals for a mean, a
// difference and a standard deviation, the repeatability limit, and the
// decision that an interval allows. It knows no files, foods or screens.
//
// Arguments outside their domain are mistakes of the program and panic with
// "stats: …"; what the data cannot give is for the caller to ask first.
package stats

import (
	"math"

	"mealtrial/stats/tails"
)

// An Interval is a confidence interval. Low ≤ High; both are finite.
type Interval struct {
	Low, High float64
	Level     float64 // confidence, in (0, 1), for example 0.95
}

// Contains tells whether x lies in the closed interval.
func (i Interval) Contains(x float64) bool { return i.Low <= x && x <= i.High }

// TInterval returns the interval
//
//	estimate ± t((1+level)/2; df) · se
//
// for an estimate that is normal with a standard error estimated on df degrees
// of freedom. df may be +Inf, where the standard error is known and the
// quantile is the normal one. It panics for se < 0, df ≤ 0 or a level
// outside (0, 1).
func TInterval(estimate, se, df, level float64) Interval {
	if !(se >= 0) {
		panic("stats: standard error must not be negative")
	}
	half := TQuantile((1+level)/2, df) * se
	return Interval{Low: estimate - half, High: estimate + half, Level: level}
}

// TQuantile returns the p quantile of Student's t distribution; df may be +Inf
// for the standard normal. It panics for df ≤ 0 or p outside (0, 1).
func TQuantile(p, df float64) float64 {
	if !(p > 0 && p < 1) {
		panic("stats: probability must lie between 0 and 1")
	}
	if !(df > 0) {
		panic("stats: degrees of freedom must be positive")
	}
	return tails.StudentQuantile(p, df)
}

// TwoSidedP returns P(|T| ≥ |t|) for Student's t with df degrees of freedom,
// from the small tail directly. df may be +Inf. It panics for df ≤ 0.
func TwoSidedP(t, df float64) float64 {
	if !(df > 0) {
		panic("stats: degrees of freedom must be positive")
	}
	return 2 * tails.StudentUpper(math.Abs(t), df)
}
