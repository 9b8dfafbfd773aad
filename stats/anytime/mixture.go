// Package anytime gives tests and intervals of normal means that stay valid
// however often one looks at the data and whenever one stops. The price is a
// wider interval than that of a t test planned for a fixed number of data.
//
// Arguments outside their domain are mistakes of the program and panic with
// "anytime: …"; an interval that the data cannot give yet is an ok of false.
package anytime

import (
	"math"

	"mealtrial/stats"
)

// A Coefficient is what least squares says about one coefficient δ so far.
//
// The guarantee is for independent normal errors with one variance and for a
// number of nuisance coefficients that does not grow with the data. Where each
// new block brings an effect of its own, take the differences within blocks as
// one sample instead, with the number of blocks as Information.
type Coefficient struct {
	T  float64 // the ordinary t statistic of δ = 0; ±Inf where the residuals vanish
	DF float64 // residual degrees of freedom; +Inf where σ is known

	// Information is the sum of squares of the regressor after the others are
	// partialled out, 1/u² for a standard error u·σ: n for one mean.
	Information float64
}

// LogE returns the logarithm of the e-value against δ = 0, the ratio of the
// likelihood averaged over δ ~ N(0, σ²/g) to that of δ = 0, freed of the
// nuisance coefficients and of σ by invariance:
//
//	log E = ½·log r + ½(ν+1)·[log(1 + T²/ν) − log(1 + r·T²/ν)],  r = g/(g + z²)
//
// with ν = DF and z² = Information. While δ = 0, P(E ever reaches 1/α) ≤ α.
// The constant g > 0 must be fixed before the data; the test is sharpest for
// effects of about σ/√g. It panics for T NaN, DF ≤ 0, or an Information or g
// that is not positive and finite or too unlike the other to divide by it.
//
// Lindon, Ham, Tingley and Bojinov 2022, arXiv 2210.08589, univariate case.
func LogE(c Coefficient, g float64) float64 {
	r, rest := weights(c.DF, c.Information, g)
	if math.IsNaN(c.T) {
		panic("anytime: the t statistic is not a number")
	}
	if math.IsInf(c.DF, 1) {
		// Beyond 1e150 the square would overflow, and E with it.
		t := math.Min(math.Abs(c.T), 1e150)
		return math.Log(r)/2 + rest*t*t/2
	}
	// x/(1 + r·x) for x = T²/ν, finite also where x is not.
	grown := 1 / (1/(c.T/c.DF*c.T) + r)
	return math.Log(r)/2 + (c.DF+1)/2*math.Log1p(rest*grown)
}

// P returns the anytime p-value min(1, 1/E). It may be read after every look;
// the smallest one so far is valid as well.
// It panics for NaN.
func P(logE float64) float64 {
	if math.IsNaN(logE) {
		panic("anytime: log E is not a number")
	}
	return math.Exp(-math.Max(0, logE))
}

// Multiplier returns the factor k of the confidence sequence
//
//	estimate ± k·SE,  k² = ν(1 − c)/(c − r),  c = (r·α²)^(1/(ν+1)),  α = 1 − level
//
// with r as in LogE: the values of δ against which E stays below 1/α. For a
// known σ it is k² = log(1/(r·α²))/(1 − r). All intervals of the sequence hold
// δ together with probability level or more.
//
// ok is false where c ≤ r: then E stays below 1/α whatever the data say, and the
// interval is the whole line. Its domain is that of LogE, and level in
// (0, 1).
func Multiplier(df, information, g, level float64) (k float64, ok bool) {
	r, rest := weights(df, information, g)
	if !(level > 0 && level < 1) {
		panic("anytime: level must lie between 0 and 1")
	}
	logBound := math.Log(r) + 2*math.Log1p(-level)
	if math.IsInf(df, 1) {
		return math.Sqrt(-logBound / rest), true
	}
	lack := -math.Expm1(logBound / (df + 1)) // 1 − c
	k = math.Sqrt(df * lack / (rest - lack))
	if !(lack < rest) || math.IsInf(k, 0) {
		return 0, false
	}
	return k, true
}

// Interval returns estimate ± k·SE with the k of Multiplier, and false where
// there is no finite one yet. It panics for se < 0 and where Multiplier does.
func Interval(estimate, se, df, information, g, level float64) (i stats.Interval, ok bool) {
	if !(se >= 0) {
		panic("anytime: standard error must not be negative")
	}
	k, ok := Multiplier(df, information, g, level)
	if !ok {
		return stats.Interval{}, false
	}
	return stats.Interval{Low: estimate - k*se, High: estimate + k*se, Level: level}, true
}

// weights returns r = g/(g + z²) and 1 − r, each without cancellation.
func weights(df, information, g float64) (r, rest float64) {
	if !(df > 0) {
		panic("anytime: degrees of freedom must be positive")
	}
	ratio := information / g
	if !(information > 0 && g > 0 && ratio >= 1e-300 && ratio <= 1e300) {
		panic("anytime: information and g must be positive and comparable")
	}
	return 1 / (1 + ratio), 1 / (1 + g/information)
}
