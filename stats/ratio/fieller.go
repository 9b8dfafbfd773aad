// Package ratio gives confidence sets for the ratio of two means.
//
// Arguments outside their domain are mistakes of the program and panic with
// "ratio: …"; what the data cannot give is a shape of the set or an error.
package ratio

import (
	"errors"
	"math"

	"mealtrial/stats"
)

// ErrZeroDenominator says that the denominator is zero without any
// uncertainty, so that no ratio exists.
var ErrZeroDenominator = errors.New("the denominator is exactly zero")

// ErrTooLarge says that a limit of the ratio cannot be told from infinity or,
// for a ratio of logs, from zero in double precision.
var ErrTooLarge = errors.New("the ratio is beyond the range of numbers")

// A Shape is the form of a confidence set of a ratio. The texts are part of
// the JSON contract.
type Shape string

// The shapes.
const (
	// Bounded: Low ≤ θ ≤ High.
	Bounded Shape = "bounded"
	// Complement: θ ≤ Low or θ ≥ High. The data cannot tell the sign of the
	// denominator, but rule out the ratios strictly between the limits.
	Complement Shape = "complement"
	// AtLeast: θ ≥ Low; High has no meaning. The denominator lies exactly on
	// the border of what could be zero.
	AtLeast Shape = "at_least"
	// AtMost: θ ≤ High; Low has no meaning. The mirror of AtLeast.
	AtMost Shape = "at_most"
	// Unbounded: every number; Low and High have no meaning.
	Unbounded Shape = "unbounded"
)

// A Set is a confidence set of a ratio. Low and High are finite, and 0 where
// the shape gives them no meaning. Low ≤ High for Bounded and Complement.
type Set struct {
	Shape     Shape
	Low, High float64
	Level     float64 // confidence, in (0, 1), for example 0.95
}

// Contains tells whether the set holds the ratio theta.
func (s Set) Contains(theta float64) bool {
	switch s.Shape {
	case Bounded:
		return s.Low <= theta && theta <= s.High
	case Complement:
		return theta <= s.Low || theta >= s.High
	case AtLeast:
		return theta >= s.Low
	case AtMost:
		return theta <= s.High
	default:
		return true
	}
}

// A Pair holds two jointly normal estimates, A of the numerator and B of the
// denominator, with one error variance σ² behind both:
//
//	Var(A) = σ²·VAA,  Var(B) = σ²·VBB,  Cov(A, B) = σ²·VAB
//
// SD² is an estimate of σ² on DF degrees of freedom, independent of A and B.
// DF may be +Inf, where σ is known.
//
// For the means of n pairs of measurements, where each column has a spread of
// its own, take SD = 1, DF = n − 1 and the estimated variances and covariance
// of the two means: the set is exact there too.
type Pair struct {
	A, B          float64
	VAA, VBB, VAB float64
	SD, DF        float64
}

// Covariance returns the covariance of two estimates, as a multiple of σ²,
// from the factors of their standard errors and of that of their difference:
//
//	(ua² + ub² − ud²) / 2
//
// The result is held within ±ua·ub, which rounding could leave. It panics for
// factors below 0 or a ud that no two such estimates could have.
func Covariance(ua, ub, ud float64) float64 {
	if !(ua >= 0 && ub >= 0 && ud >= 0 && finite(ua, ub, ud)) {
		panic("ratio: factors of standard errors must not be negative")
	}
	slack := 1e-9 * (ua + ub)
	if ud > ua+ub+slack || ud < math.Abs(ua-ub)-slack {
		panic("ratio: the difference contradicts its two estimates")
	}
	limit := ua * ub
	return math.Max(-limit, math.Min(limit, (ua*ua+ub*ub-ud*ud)/2))
}

// G returns Fieller's g, the squared critical value as a share of the squared
// t statistic of the denominator:
//
//	g = t²·SD²·VBB / B²,  t = t((1+level)/2; DF)
//
// The set of Fieller is bounded where g < 1. ok is false when B is so close to
// 0 that g is no number. It panics where Fieller does.
func G(p Pair, level float64) (g float64, ok bool) {
	t := p.critical(level)
	g = square(t * p.SD * math.Sqrt(p.VBB) / p.B)
	if p.B == 0 || !finite(g) {
		return 0, false
	}
	return g, true
}

// Fieller returns the set of ratios θ = E(A)/E(B) that a t test at level does
// not reject,
//
//	{θ : (A − θB)² ≤ t²·SD²·(VAA − 2θ·VAB + θ²·VBB)},  t = t((1+level)/2; DF)
//
// Its coverage is exactly level, whatever the true ratio and however close to
// zero E(B), as long as it is not zero. With g as in G the set is Bounded for
// g < 1. For g > 1 the denominator could be zero, and the set is a Complement
// or Unbounded: A and B could both be zero, so nothing is ruled out. At g = 1
// one limit has moved to infinity: AtLeast or AtMost. Except for Unbounded a
// set always says something, but the shape must be reported with the limits.
//
// The errors are ErrZeroDenominator and ErrTooLarge. It panics for numbers that
// are not finite, a negative variance or SD, |VAB| > √(VAA·VBB) by more than
// rounding, DF ≤ 0 or a level outside (0, 1).
//
// Fieller 1954, Journal of the Royal Statistical Society B 16:175 (from
// memory); the shapes as in von Luxburg and Franz 2009, Statistica Sinica
// 19:1095, arXiv 0711.0198.
func Fieller(p Pair, level float64) (Set, error) {
	return p.set(p.critical(level), level)
}

// FiellerAt is Fieller with another critical value, one that a test of A − θB at
// level has for every θ, such as that of a confidence sequence. Level is only
// written into the set. It panics where Fieller does, and for a critical value
// below 0.
func FiellerAt(p Pair, critical, level float64) (Set, error) {
	if p.critical(level); !(critical >= 0) {
		panic("ratio: a critical value must not be negative")
	}
	return p.set(critical, level)
}

func (p Pair) set(t, level float64) (Set, error) {
	// Each estimate in units of its size or its uncertainty, whichever is
	// larger: then no square below leaves the range of numbers.
	ha, hb := t*p.SD*math.Sqrt(p.VAA), t*p.SD*math.Sqrt(p.VBB)
	ka, kb := math.Max(math.Abs(p.A), ha), math.Max(math.Abs(p.B), hb)
	if !finite(ka, kb) {
		return Set{}, ErrTooLarge
	}
	if kb == 0 {
		return Set{}, ErrZeroDenominator
	}
	if ka == 0 {
		ka = 1
	}
	a, b, ha, hb := p.A/ka, p.B/kb, ha/ka, hb/kb
	rho := p.correlation()
	set := solve(quadratic{
		second: (b - hb) * (b + hb),
		half:   a*b - rho*ha*hb,
		zero:   (a - ha) * (a + ha),
		// half² − second·zero, written without differences where second > 0.
		discriminant: square(a*hb-rho*b*ha) + (1-rho*rho)*(b-hb)*(b+hb)*ha*ha,
	})
	set.Level = level
	set.Low *= ka / kb
	set.High *= ka / kb
	if !finite(set.Low, set.High) {
		return Set{}, ErrTooLarge
	}
	return set, nil
}

// quadratic is second·θ² − 2·half·θ + zero ≤ 0.
type quadratic struct{ second, half, zero, discriminant float64 }

func solve(q quadratic) Set {
	if q.second < 0 && q.discriminant <= 0 {
		return Set{Shape: Unbounded}
	}
	// One root by the sum that cannot cancel, the other from the product of
	// the roots (Golub and Van Loan 2013, section 2.7; from memory).
	sum := q.half + math.Copysign(math.Sqrt(math.Max(0, q.discriminant)), q.half)
	far, near := sum/q.second, 0.0
	if sum != 0 {
		near = q.zero / sum
	}
	switch {
	case q.second == 0 && sum == 0:
		return Set{Shape: Unbounded}
	case q.second == 0 && q.half > 0:
		return Set{Shape: AtLeast, Low: near}
	case q.second == 0:
		return Set{Shape: AtMost, High: near}
	case q.second > 0:
		return Set{Shape: Bounded, Low: math.Min(near, far), High: math.Max(near, far)}
	default:
		return Set{Shape: Complement, Low: math.Min(near, far), High: math.Max(near, far)}
	}
}

// critical returns the two-sided critical value of t, and panics for a pair
// that no two estimates could have or a level outside (0, 1).
func (p Pair) critical(level float64) float64 {
	if !(level > 0 && level < 1) {
		panic("ratio: level must lie between 0 and 1")
	}
	if !finite(p.A, p.B, p.VAA, p.VBB, p.VAB, p.SD) {
		panic("ratio: estimates and their variances must be finite")
	}
	if p.VAA < 0 || p.VBB < 0 || p.SD < 0 {
		panic("ratio: variances and standard deviation must not be negative")
	}
	if math.Abs(p.VAB) > math.Sqrt(p.VAA)*math.Sqrt(p.VBB)*(1+1e-9) {
		panic("ratio: the covariance is larger than the variances allow")
	}
	return stats.TQuantile((1+level)/2, p.DF)
}

// correlation of the two estimates; 0 where one of them is certain.
func (p Pair) correlation() float64 {
	size := math.Sqrt(p.VAA) * math.Sqrt(p.VBB)
	if size == 0 {
		return 0
	}
	return math.Max(-1, math.Min(1, p.VAB/size))
}

// FromLogs returns the interval of a ratio from that of a difference of
// natural logarithms,
//
//	exp(Low) to exp(High)
//
// For responses that are analysed as logs this is the ratio of the geometric
// means, and its coverage is that of the difference. The error is ErrTooLarge.
// It panics for limits that are NaN or in the wrong order.
func FromLogs(difference stats.Interval) (Set, error) {
	if !(difference.Low <= difference.High) {
		panic("ratio: the limits of a difference must be in order")
	}
	low, high := math.Exp(difference.Low), math.Exp(difference.High)
	if low == 0 || math.IsInf(high, 0) {
		return Set{}, ErrTooLarge
	}
	return Set{Shape: Bounded, Low: low, High: high, Level: difference.Level}, nil
}

func square(x float64) float64 { return x * x }

func finite(xs ...float64) bool {
	for _, x := range xs {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return false
		}
	}
	return true
}
