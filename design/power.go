package design

import (
	"math"

	"mealtrial/stats"
	"mealtrial/stats/tails"
)

// Power returns the probability that a two-sided t test at level alpha finds a
// true difference:
//
//	P(|T| > t(1 − alpha/2; df)),   T noncentral t with df and ncp
//
// where ncp is the true difference in units of its standard error. df may be
// +Inf. It panics for df ≤ 0 or alpha outside (0, 1).
// Johnson, Kotz and Balakrishnan, Continuous Univariate Distributions 2,
// 2nd ed. 1995, chapter 31.
func Power(ncp, df, alpha float64) float64 {
	critical := stats.TQuantile(1-alpha/2, df)
	ncp = math.Abs(ncp)
	return tails.NoncentralUpper(critical, df, ncp) + tails.NoncentralLower(-critical, df, ncp)
}

// mostTests bounds the search for the number of tests; a person with so many
// mornings to spare does not need this program.
const mostTests = 1000

// TestsEach returns the smallest number n ≥ 2 of tests of each of two treatments
// with which the two-sided t test at level alpha, on the 2n − 2 degrees of
// freedom of these tests, finds a true difference with the wanted power, when
// single tests of one treatment spread with standard deviation sd. ok is false when
// 1000 tests each do not suffice or the difference is 0.
// It panics for sd ≤ 0, or alpha or power outside (0, 1).
func TestsEach(difference, sd, alpha, power float64) (n int, ok bool) {
	if !(sd > 0 && power > 0 && power < 1) {
		panic("design: standard deviation or power out of range")
	}
	reached := func(n int) bool {
		ncp := difference / (sd * math.Sqrt(2/float64(n)))
		return Power(ncp, float64(2*n-2), alpha) >= power
	}
	if difference == 0 || !reached(mostTests) {
		return 0, false
	}
	lo, hi := 1, mostTests // power grows with n: reached(hi), not reached(lo)
	for hi-lo > 1 {
		if mid := (lo + hi) / 2; reached(mid) {
			hi = mid
		} else {
			lo = mid
		}
	}
	return hi, true
}
