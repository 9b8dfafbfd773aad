package tails

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"
)

// NoncentralUpper returns P(T > t) for the noncentral t with df degrees of freedom
// and noncentrality ncp, T = (Z + ncp)/S with Z standard normal and df·S² chi-square:
//
//	P(T > t) = ∫ Φ(ncp − t·s) f(s) ds
//
// (Johnson, Kotz and Balakrishnan, Continuous Univariate Distributions 2, 2nd ed.
// 1995, chapter 31). The integral over log s has one peak and is taken by
// Gauss–Legendre between the points where nothing is left, in parts as small as
// need be, so that both tails keep their digits. df may be +Inf. It panics for df ≤ 0
// and for an infinite noncentrality.
func NoncentralUpper(t, df, ncp float64) float64 { return NoncentralLower(-t, df, -ncp) }

// NoncentralLower returns P(T ≤ t) = ∫ Φ(t·s − ncp) f(s) ds.
func NoncentralLower(t, df, ncp float64) float64 {
	needDF(df)
	switch {
	case math.IsInf(ncp, 0):
		panic("tails: noncentrality must be finite")
	case math.IsInf(t, 0):
		return normalUpper(-t)
	case math.IsInf(df, 1):
		return normalUpper(ncp - t)
	case t == 0:
		return normalUpper(ncp)
	}
	norm := math.Log(2) + 0.5*math.Log(df/2) - 0.5*math.Log(2*math.Pi) - stirlingError(df/2)
	g := func(u float64) float64 { // log of the integrand over u = log s
		return logNormal(t*math.Exp(u)-ncp) + df*(u-math.Expm1(2*u)/2)
	}
	peak := highest(g)
	const nothing = 42 // e⁻⁴² of the peak, 6e-19
	edge := func(step float64) float64 {
		far, floor := step, g(peak)-nothing
		for g(peak+far) > floor {
			far *= 2
		}
		near := 0.0
		for range 30 {
			if mid := (near + far) / 2; g(peak+mid) > floor {
				near = mid
			} else {
				far = mid
			}
		}
		return peak + far
	}
	width := 1 / math.Sqrt(2*df)
	top := g(peak)
	f := func(u float64) float64 { return math.Exp(g(u) - top) }
	low, high := edge(-width), edge(width)
	first := gauss(f, low, peak) + gauss(f, peak, high)
	sum := adaptive(f, low, peak, first*1e-14, 12) + adaptive(f, peak, high, first*1e-14, 12)
	return math.Min(1, sum*math.Exp(top+norm))
}

// gauss integrates by Gauss–Legendre.
func gauss(f func(float64) float64, low, high float64) (sum float64) {
	for k, x := range nodes {
		sum += weights[k] * f(low+(high-low)*x)
	}
	return sum * (high - low)
}

// adaptive halves an interval until the halves add to the same as the whole: for
// a large noncentrality and few degrees of freedom the normal part is a step.
func adaptive(f func(float64) float64, low, high, tolerance float64, depth int) float64 {
	mid := low + (high-low)/2
	whole, left, right := gauss(f, low, high), gauss(f, low, mid), gauss(f, mid, high)
	if depth == 0 || math.Abs(whole-left-right) <= tolerance {
		return left + right
	}
	return adaptive(f, low, mid, tolerance, depth-1) + adaptive(f, mid, high, tolerance, depth-1)
}

const points = 20

var nodes, weights = func() (x, w []float64) {
	x, w = make([]float64, points), make([]float64, points)
	quad.Legendre{}.FixedLocations(x, w, 0, 1)
	return x, w
}()

// highest finds the peak of a function with one, near 0 to begin with.
func highest(g func(float64) float64) float64 {
	step, at := 0.5, 0.0
	for g(at+step) > g(at) {
		at += step
		step *= 1.5
	}
	right := at + step
	step = 0.5
	for at = math.Min(at, 0); g(at-step) > g(at); {
		at -= step
		step *= 1.5
	}
	left := at - step
	const golden = 0.6180339887498949 // (√5 − 1)/2
	a, b := right-golden*(right-left), left+golden*(right-left)
	ga, gb := g(a), g(b)
	for range 60 {
		if ga < gb {
			left, a, ga = a, b, gb
			b = left + golden*(right-left)
			gb = g(b)
		} else {
			right, b, gb = b, a, ga
			a = right - golden*(right-left)
			ga = g(a)
		}
	}
	return (left + right) / 2
}

// logNormal is log Φ(x). Far below, by the asymptotic series of Mills' ratio (NIST
// Digital Library of Mathematical Functions, 7.12.1).
func logNormal(x float64) float64 {
	if x > 5 {
		return math.Log1p(-normalUpper(x))
	}
	if x > -30 {
		return math.Log(normalUpper(-x))
	}
	z := 1 / (x * x)
	return -x*x/2 - math.Log(-x) - 0.5*math.Log(2*math.Pi) + math.Log1p(z*(-1+z*(3+z*(-15+z*105))))
}
