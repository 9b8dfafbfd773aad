package anytime

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"mealtrial/stats"
)

// A Sequence is Lai's confidence sequence of a normal mean, from the first
// Start observations on:
//
//	x̄ ± s·√((b·n)^(1/n) − 1),  n ≥ Start
//
// with s² of divisor n. All its intervals hold the mean together with
// probability Level or more. It is finite from n = Start ≥ 2, earlier than that
// of Multiplier, but it gives no e-value and so no anytime p-value.
type Sequence struct {
	Start int
	Level float64

	A    float64 // half-width at n = Start in ordinary standard errors of the mean
	LogB float64 // log b
}

// NewSequence solves for the constants of a sequence that starts at m
// observations, F and f being the distribution and density of t on m − 1
// degrees of freedom:
//
//	α = 2(1 − F(a) + a·f(a)),  b = (1/m)(1 + a²/(m−1))^m,  α = 1 − level
//
// The right side falls from 1 to 0, as its derivative 2a·f′(a) is negative;
// a is found by bisection to the last digits. The start must be fixed before
// the data. It panics for a start below 2 or a level outside (0, 1).
//
// Lai 1976, Annals of Statistics 4:265, as restated by Wang and Ramdas 2023,
// arXiv 2310.03722 (both formulas from memory).
func NewSequence(start int, level float64) Sequence {
	if start < 2 {
		panic("anytime: a sequence starts at 2 observations or more")
	}
	if !(level > 0 && level < 1) {
		panic("anytime: level must lie between 0 and 1")
	}
	m := float64(start)
	density := distuv.StudentsT{Sigma: 1, Nu: m - 1}
	excess := func(a float64) float64 {
		return stats.TwoSidedP(a, m-1) + 2*a*density.Prob(a) - (1 - level)
	}
	low, high := 0.0, 1.0
	for excess(high) > 0 {
		low, high = high, 2*high
	}
	for middle := (low + high) / 2; low < middle && middle < high; middle = (low + high) / 2 {
		if excess(middle) > 0 {
			low = middle
		} else {
			high = middle
		}
	}
	// The upper end errs towards the wider interval.
	return Sequence{Start: start, Level: level, A: high, LogB: m*math.Log1p(high/(m-1)*high) - math.Log(m)}
}

// Multiplier returns √((b·n)^(1/n) − 1), the half-width in units of the
// standard deviation with divisor n, and false before the start.
func (q Sequence) Multiplier(n int) (k float64, ok bool) {
	if q.Start < 2 {
		panic("anytime: a sequence starts at 2 observations or more")
	}
	if n < q.Start {
		return 0, false
	}
	return math.Sqrt(math.Expm1((q.LogB + math.Log(float64(n))) / float64(n))), true
}

// Interval returns the interval after the values seen so far, and false before
// the start. It panics for values that are not finite.
func (q Sequence) Interval(values []float64) (i stats.Interval, ok bool) {
	n := float64(len(values))
	mean, squares := 0.0, 0.0
	// Welford 1962, Technometrics 4:419: a large common level costs no digits.
	for j, x := range values {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			panic("anytime: values must be finite")
		}
		step := x - mean
		mean += step / float64(j+1)
		squares += step * (x - mean)
	}
	k, ok := q.Multiplier(len(values))
	if !ok {
		return stats.Interval{}, false
	}
	half := k * math.Sqrt(squares/n)
	return stats.Interval{Low: mean - half, High: mean + half, Level: q.Level}, true
}
