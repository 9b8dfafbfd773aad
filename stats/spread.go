package stats

import (
	"math"

	"mealtrial/stats/tails"
)

// SDInterval returns the chi-square interval of a standard deviation that was
// estimated on df degrees of freedom from normal data:
//
//	sd·√(df/χ²((1+level)/2; df))  to  sd·√(df/χ²((1−level)/2; df))
//
// (Snedecor and Cochran, Statistical Methods, 8th ed. 1989, section 5.11;
// from memory). It panics for sd < 0, df ≤ 0 or a level outside (0, 1).
func SDInterval(sd, df, level float64) Interval {
	if !(sd >= 0 && df > 0 && level > 0 && level < 1) {
		panic("stats: standard deviation, degrees of freedom or level out of range")
	}
	return Interval{
		Low:   sd * math.Sqrt(df/tails.ChiSquaredQuantileUpper((1-level)/2, df)),
		High:  sd * math.Sqrt(df/tails.ChiSquaredQuantile((1-level)/2, df)),
		Level: level,
	}
}

// RepeatabilityLimit returns what two single tests under the same conditions
// differ by, at most, with probability level:
//
//	t((1+level)/2; df) · √2 · sd
//
// ISO 5725-6 gives 2.8·sd for a well-known sd; with few degrees of freedom
// the t quantile takes the place of 1.96. df may be +Inf.
// It panics where TQuantile does and for sd < 0.
func RepeatabilityLimit(sd, df, level float64) float64 {
	if !(sd >= 0) {
		panic("stats: standard deviation must not be negative")
	}
	return TQuantile((1+level)/2, df) * math.Sqrt2 * sd
}

// LogSD returns the standard deviation of the logarithm of a log-normal
// quantity with coefficient of variation cv (0.25 for 25 %):
//
//	√(log(1 + cv²))
//
// (Johnson, Kotz and Balakrishnan, Continuous Univariate Distributions 1,
// 2nd ed. 1994, chapter 14; from memory). It panics for cv < 0.
func LogSD(cv float64) float64 {
	if !(cv >= 0) {
		panic("stats: coefficient of variation must not be negative")
	}
	return math.Sqrt(math.Log1p(cv * cv))
}

// CVFromLogSD is the inverse of LogSD: √(exp(s²) − 1). It panics for s < 0.
func CVFromLogSD(s float64) float64 {
	if !(s >= 0) {
		panic("stats: standard deviation must not be negative")
	}
	return math.Sqrt(math.Expm1(s * s))
}
