// Package exact gives intervals and tests of counts that need no large sample:
// the binomial interval of Clopper and Pearson, the binomial and sign tests, and
// the conditional test of two-by-two tables, in strata or not.
//
// Arguments outside their domain are mistakes of the program and panic with
// "exact: …".
package exact

import (
	"math"

	"gonum.org/v1/gonum/mathext"

	"mealtrial/stats"
)

// ClopperPearson returns the two-sided interval of a rate after k events in n
// independent trials: the rates that neither one-sided binomial test at
// (1 − level)/2 rejects,
//
//	low = B⁻¹((1−level)/2; k, n−k+1),  high = B⁻¹((1+level)/2; k+1, n−k)
//
// with B⁻¹ the quantile of the beta distribution, low = 0 for k = 0 and high = 1
// for k = n. Its coverage is at least level whatever the rate. It panics unless
// 0 ≤ k ≤ n, n ≥ 1 and 0 < level < 1. Clopper and Pearson 1934, Biometrika
// 26:404 (from memory).
func ClopperPearson(k, n int, level float64) stats.Interval {
	checkCount(k, n)
	checkLevel(level)
	tail := (1 - level) / 2
	return stats.Interval{Low: lower(k, n, tail), High: upper(k, n, tail), Level: level}
}

// UpperBound returns the one-sided upper bound of a rate at level. After no event
// it is 1 − (1−level)^(1/n), of which 3/n is the approximation at 95 % known as
// the rule of three (Hanley and Lippman-Hand 1983, JAMA 249:1743; from memory).
// It panics as ClopperPearson does.
func UpperBound(k, n int, level float64) float64 {
	checkCount(k, n)
	checkLevel(level)
	return upper(k, n, 1-level)
}

// LowerBound is the mirror of UpperBound: after events in all n trials it is
// (1−level)^(1/n).
func LowerBound(k, n int, level float64) float64 {
	checkCount(k, n)
	checkLevel(level)
	return lower(k, n, 1-level)
}

func upper(k, n int, tail float64) float64 {
	switch k {
	case n:
		return 1
	case 0:
		return -math.Expm1(math.Log(tail) / float64(n))
	}
	// The complement is the lower bound of the n − k trials without an event.
	return 1 - lower(n-k, n, tail)
}

func lower(k, n int, tail float64) float64 {
	switch k {
	case 0:
		return 0
	case n:
		return math.Exp(math.Log(tail) / float64(n))
	}
	return mathext.InvRegIncBeta(float64(k), float64(n-k+1), tail)
}

// BinomialTest returns the two-sided p-value of k events in n trials against the
// rate p0: the probability of all counts that are no more likely than k. It
// panics unless 0 ≤ k ≤ n, n ≥ 1 and 0 ≤ p0 ≤ 1.
func BinomialTest(k, n int, p0 float64) float64 {
	checkCount(k, n)
	if !(p0 >= 0 && p0 <= 1) {
		panic("exact: a rate outside [0, 1]")
	}
	weights := make([]float64, n+1)
	for i := range weights {
		weights[i] = binomial(i, n, p0)
	}
	return noMoreLikely(weights, k)
}

// SignTest returns the two-sided p-value of the sign test: of two kinds of change,
// a against b in number, with those that did not change left out. It is McNemar's
// exact test when a and b count the pairs that disagree. It is 1 without changes.
func SignTest(a, b int) float64 {
	if a < 0 || b < 0 {
		panic("exact: a negative count")
	}
	if a+b == 0 {
		return 1
	}
	return BinomialTest(a, a+b, 0.5)
}

func binomial(k, n int, p float64) float64 {
	switch {
	case p == 0:
		return float64(map[bool]int{true: 1}[k == 0])
	case p == 1:
		return float64(map[bool]int{true: 1}[k == n])
	}
	return math.Exp(logChoose(n, k) + float64(k)*math.Log(p) + float64(n-k)*math.Log1p(-p))
}

func logChoose(n, k int) float64 {
	of := func(x int) float64 {
		v, _ := math.Lgamma(float64(x) + 1)
		return v
	}
	return of(n) - of(k) - of(n-k)
}

// slack is the relative difference up to which two probabilities count as equal,
// so that rounding does not decide; R takes the same.
const slack = 1e-7

// noMoreLikely adds up the weights that are at most that of one outcome, as a
// share of all.
func noMoreLikely(weights []float64, at int) float64 {
	sum, all := 0.0, 0.0
	for _, w := range weights {
		all += w
		if w <= weights[at]*(1+slack) {
			sum += w
		}
	}
	return math.Min(1, sum/all)
}

func checkCount(k, n int) {
	if n < 1 || k < 0 || k > n {
		panic("exact: events have to be 0 to the number of trials")
	}
}

func checkLevel(level float64) {
	if !(level > 0 && level < 1) {
		panic("exact: a level outside (0, 1)")
	}
}
