// Package tails holds the distributions behind p-values and intervals: Student's
// t, F, chi-square and the noncentral t, each with both tails and quantiles that
// keep their digits far out, where 1 − P has none left.
//
// Lower is P(X ≤ x) and Upper is P(X > x); each is computed from the small side. Of
// x = NaN they are NaN. Arguments outside their domain are mistakes of the program and
// panic with "tails: …".
//
// Digits are kept for 0.5 degrees of freedom or more, and chi-square up to 1e10;
// a t beyond 1e150, which takes fewer, is not told from infinity.
package tails

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// normalDF is the number of degrees of freedom from which Student's t is taken
// through Wallace's transformation to the normal, whose error falls with the square
// of the degrees of freedom (Wallace 1959, Ann Math Stat 30:1124; from memory).
const normalDF = 1e8

// StudentUpper returns P(T > t) for Student's t with df degrees of freedom:
//
//	½·I_x(df/2, ½),  x = df/(df + t²),  for t ≥ 0
//
// (NIST Digital Library of Mathematical Functions, 8.17). df may be +Inf for the
// standard normal. It panics for df ≤ 0.
func StudentUpper(t, df float64) float64 {
	needDF(df)
	if t < 0 {
		return 1 - StudentUpper(-t, df)
	}
	if df >= normalDF {
		return normalUpper(wallace(t, df))
	}
	tail, _ := studentTail(math.Log(t), df)
	return tail
}

// StudentLower returns P(T ≤ t).
func StudentLower(t, df float64) float64 { return StudentUpper(-t, df) }

// StudentQuantile returns the t with P(T ≤ t) = p. It panics for df ≤ 0 or p
// outside (0, 1). For p near 1 use StudentQuantileUpper.
func StudentQuantile(p, df float64) float64 {
	if needP(p); p > 0.5 {
		return StudentQuantileUpper(1-p, df)
	}
	return -StudentQuantileUpper(p, df)
}

// StudentQuantileUpper returns the t with P(T > t) = q. It panics for df ≤ 0 or q
// outside (0, 1).
func StudentQuantileUpper(q, df float64) float64 {
	needDF(df)
	needP(q)
	switch {
	case q > 0.5:
		return -StudentQuantileUpper(1-q, df)
	case q == 0.5:
		return 0
	case math.IsInf(df, 1):
		return -distuv.UnitNormal.Quantile(q)
	}
	start := -distuv.UnitNormal.Quantile(q)
	if df == 1 {
		start = 1 / math.Tan(math.Pi*q)
	}
	if q > 0.4 && df < normalDF { // near the median t goes with what lies between −t and t
		return math.Exp(invert(1-2*q, math.Log(start), true, func(u float64) (float64, float64) {
			t := math.Exp(u)
			within, _, front := incompleteBeta(0.5, df/2, 1/(1+df/t/t), 1/(1+t/df*t))
			return within, 2 * front
		}))
	}
	return math.Exp(invert(q, math.Log(start), false, func(u float64) (float64, float64) {
		if df >= normalDF {
			t := math.Exp(u)
			w := wallace(t, df)
			return normalUpper(w), -w * math.Exp(-w*w/2) / math.Sqrt(2*math.Pi) // w is nearly t
		}
		return studentTail(u, df)
	}))
}

// studentTail is P(T > e^u) and its derivative by u.
func studentTail(u, df float64) (tail, slope float64) {
	t := math.Exp(u)
	x, y := 1/(1+t/df*t), 1/(1+df/t/t)
	lower, _, front := incompleteBeta(df/2, 0.5, x, y)
	return lower / 2, -front
}

// wallace turns t into a value of nearly the same tail of the standard normal.
func wallace(t, df float64) float64 {
	if math.IsInf(df, 1) {
		return t
	}
	return (8*df + 1) / (8*df + 3) * math.Sqrt(df*math.Log1p(t/df*t))
}

func normalUpper(x float64) float64 { return math.Erfc(x/math.Sqrt2) / 2 }

// FLower returns P(X ≤ x) for the F distribution with df1 and df2 degrees of
// freedom: I_z(df1/2, df2/2) with z = df1·x/(df1·x + df2). It panics for degrees
// of freedom that are not above 0 or infinite.
func FLower(x, df1, df2 float64) float64 { lower, _, _ := fTails(x, df1, df2); return lower }

// FUpper returns P(X > x).
func FUpper(x, df1, df2 float64) float64 { _, upper, _ := fTails(x, df1, df2); return upper }

func fTails(x, df1, df2 float64) (lower, upper, front float64) {
	needFiniteDF(df1)
	needFiniteDF(df2)
	if lower, upper, ok := edges(x); ok {
		return lower, upper, 0
	}
	return incompleteBeta(df1/2, df2/2, 1/(1+df2/df1/x), 1/(1+df1/df2*x))
}

// FQuantile returns the x with P(X ≤ x) = p, and FQuantileUpper that with
// P(X > x) = p. They panic for degrees of freedom not above 0 or infinite, or p
// outside (0, 1).
func FQuantile(p, df1, df2 float64) float64 {
	if needP(p); p > 0.5 {
		return FQuantileUpper(1-p, df1, df2)
	}
	return math.Exp(invert(p, 0, true, func(u float64) (float64, float64) {
		lower, _, front := fTails(math.Exp(u), df1, df2)
		return lower, front
	}))
}

// FQuantileUpper is described with FQuantile.
func FQuantileUpper(p, df1, df2 float64) float64 {
	if needP(p); p > 0.5 {
		return FQuantile(1-p, df1, df2)
	}
	return 1 / FQuantile(p, df2, df1)
}

// ChiSquaredLower returns P(X ≤ x) for chi-square with df degrees of freedom. It
// panics for df ≤ 0 or infinite.
func ChiSquaredLower(x, df float64) float64 { lower, _, _ := chiTails(x, df); return lower }

// ChiSquaredUpper returns P(X > x).
func ChiSquaredUpper(x, df float64) float64 { _, upper, _ := chiTails(x, df); return upper }

func chiTails(x, df float64) (lower, upper, front float64) {
	needFiniteDF(df)
	if lower, upper, ok := edges(x); ok {
		return lower, upper, 0
	}
	return incompleteGamma(df/2, x/2)
}

// ChiSquaredQuantile returns the x with P(X ≤ x) = p, and ChiSquaredQuantileUpper
// that with P(X > x) = p. They panic for df ≤ 0 or infinite, or p outside (0, 1).
func ChiSquaredQuantile(p, df float64) float64 {
	if needP(p); p > 0.5 {
		return ChiSquaredQuantileUpper(1-p, df)
	}
	return math.Exp(invert(p, math.Log(wilsonHilferty(p, df)), true, func(u float64) (float64, float64) {
		lower, _, front := chiTails(math.Exp(u), df)
		return lower, front
	}))
}

// ChiSquaredQuantileUpper is described with ChiSquaredQuantile.
func ChiSquaredQuantileUpper(p, df float64) float64 {
	if needP(p); p > 0.5 {
		return ChiSquaredQuantile(1-p, df)
	}
	return math.Exp(invert(p, math.Log(wilsonHilferty(1-p, df)), false, func(u float64) (float64, float64) {
		_, upper, front := chiTails(math.Exp(u), df)
		return upper, -front
	}))
}

// wilsonHilferty is near the quantile of chi-square, to begin with (Wilson and
// Hilferty 1931, Proc Natl Acad Sci 17:684).
func wilsonHilferty(p, df float64) float64 {
	needFiniteDF(df)
	z := distuv.UnitNormal.Quantile(math.Min(math.Max(p, 1e-16), 1-1e-16))
	c := 2 / (9 * df)
	if root := 1 - c + z*math.Sqrt(c); root > 0.1 {
		return df * root * root * root
	}
	return df * math.Exp(math.Log(p)*2/df) / 2
}

// invert finds the u at which the tail is p; tail gives its value and its
// derivative by u, u being a logarithm; it rises or falls. Newton's steps on log tail are kept within
// what is known to lie around the answer.
func invert(p, start float64, rises bool, tail func(u float64) (value, slope float64)) float64 {
	low, high := math.Inf(-1), math.Inf(1)
	u, target := start, math.Log(p)
	for range 400 {
		value, slope := tail(u)
		over := math.Log(value) - target
		if (over > 0) == rises {
			high = u
		} else {
			low = u
		}
		step := -over * value / slope
		if value == 0 || slope == 0 || math.IsNaN(step) { // beyond the numbers: back to where there are some
			step = 1
			if high == u {
				step = -1
			}
		}
		next := u + math.Max(-8, math.Min(8, step))
		if !(next > low && next < high) && !math.IsInf(low, -1) && !math.IsInf(high, 1) {
			next = low + (high-low)/2
		}
		if math.Abs(next-u) <= 2e-16*math.Max(1, math.Abs(u)) || next == low || next == high {
			return next
		}
		u = next
	}
	return u
}

// edges are the tails of a distribution of values above 0 where nothing is to be computed.
func edges(x float64) (lower, upper float64, ok bool) {
	switch {
	case math.IsNaN(x):
		return x, x, true
	case x <= 0:
		return 0, 1, true
	case math.IsInf(x, 1):
		return 1, 0, true
	}
	return 0, 0, false
}

func needFiniteDF(df float64) {
	if needDF(df); math.IsInf(df, 1) {
		panic("tails: degrees of freedom must be finite")
	}
}

func needDF(df float64) {
	if !(df > 0) {
		panic("tails: degrees of freedom must be above 0")
	}
}

func needP(p float64) {
	if !(p > 0 && p < 1) {
		panic("tails: a probability must lie between 0 and 1")
	}
}
