package design

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/stat/distuv"

	"mealtrial/stats"
	"mealtrial/stats/tails"
)

// Chances are the probabilities of the four verdicts of stats.Decide; they sum
// to 1.
type Chances struct {
	Different, TooSmall, NoDifference, Open float64
}

// Points of the quadratures over the estimated and the true spread.
const (
	pointsEstimate = 40
	pointsTruth    = 40
)

// VerdictChances returns the chances of each verdict on a difference whose
// estimate is normal about the true difference with standard error se, when se
// is estimated on df degrees of freedom and the interval is the t interval at
// this level. margin is the smallest difference that matters, 0 for none.
//
// With h = t((1+level)/2; df)·s the half-width that an estimated standard error
// s gives, the verdict depends on where |estimate| lies against h and margin − h;
// that chance is a difference of normal probabilities, and is integrated over
// the distribution of s, s²·df/se² being chi-square. Different and TooSmall
// together are the power of the t test; with no margin NoDifference and TooSmall
// are 0. This is the exact power of two one-sided tests (Owen 1965, Biometrika
// 52:437) and of the t test in one. It panics for se ≤ 0, df ≤ 0 or margin < 0.
func VerdictChances(difference, se, df, level, margin float64) Chances {
	if !(se > 0 && margin >= 0) {
		panic("design: standard error or margin out of range")
	}
	t := stats.TQuantile((1+level)/2, df)
	if math.IsInf(df, 1) {
		return chancesAt(difference, se, t*se, margin)
	}
	// at(p) holds the chances when s is at its p quantile. They have kinks where
	// the half-width passes half the margin and the margin.
	at := func(p float64) Chances {
		return chancesAt(difference, se, t*se*math.Sqrt(chiQuantile(p, df)/df), margin)
	}
	kink := func(half float64) float64 { return tails.ChiSquaredLower(df*half*half/(t*t*se*se), df) }
	breaks := []float64{0, kink(margin / 2), kink(margin), 1}
	var c Chances
	for i := 1; i < len(breaks); i++ {
		if low, high := breaks[i-1], breaks[i]; high-low > rareChance {
			c.add(integrate(at, low, high))
		}
	}
	c.Open = math.Max(0, 1-c.Different-c.TooSmall-c.NoDifference)
	return c
}

// rareChance is a probability too small to matter to a chance that is printed in
// percent.
const rareChance = 1e-8

// chiQuantile returns a quantile that is finite and above zero.
func chiQuantile(p, df float64) float64 {
	return tails.ChiSquaredQuantile(math.Min(math.Max(p, rareChance), 1-rareChance), df)
}

// integrate integrates the chances over p from low to high.
func integrate(at func(p float64) Chances, low, high float64) (sum Chances) {
	nodes, weights := make([]float64, pointsEstimate), make([]float64, pointsEstimate)
	quad.Legendre{}.FixedLocations(nodes, weights, 0, 1)
	for i, u := range nodes {
		c := at(low + (high-low)*warp(u))
		c.scale(weights[i] * warpSlope(u) * (high - low))
		sum.add(c)
	}
	return sum
}

func (c *Chances) add(o Chances) {
	c.Different += o.Different
	c.TooSmall += o.TooSmall
	c.NoDifference += o.NoDifference
	c.Open += o.Open
}

func (c *Chances) scale(w float64) {
	c.Different, c.TooSmall, c.NoDifference, c.Open = w*c.Different, w*c.TooSmall, w*c.NoDifference, w*c.Open
}

// warp maps (0, 1) onto itself with more points near the ends, where the
// quantiles of chi-square change fast: u³(10 − 15u + 6u²).
func warp(u float64) float64 { return u * u * u * (10 - 15*u + 6*u*u) }

func warpSlope(u float64) float64 { return 30 * u * u * (1 - u) * (1 - u) }

// chancesAt returns the chances of the verdicts when the interval is the
// estimate ± half.
func chancesAt(difference, se, half, margin float64) Chances {
	// within(x) is the chance that the estimate lies in [−x, x].
	within := func(x float64) float64 {
		if x <= 0 {
			return 0
		}
		return distuv.UnitNormal.CDF((x-difference)/se) - distuv.UnitNormal.CDF((-x-difference)/se)
	}
	zero := within(half)            // the interval holds zero
	inside := within(margin - half) // it lies within the margin
	both := within(math.Min(half, margin-half))
	c := Chances{TooSmall: inside - both, NoDifference: both}
	c.Different = 1 - zero - c.TooSmall
	c.Open = zero - both
	return c
}

// AverageChances averages VerdictChances over what is known of the spread. sd
// is an estimate of the SD of single tests on sdDF degrees of freedom, and
// factor·SD is the standard error of the difference. The true SD is taken to be
// sd·√(sdDF/χ²), the fiducial distribution behind the chi-square interval, so
// that an uncertain spread gives a less certain answer (Julious and Owen 2006,
// Pharmaceutical Statistics 5:29; from memory). sdDF may be +Inf.
func AverageChances(difference, factor, sd, sdDF, df, level, margin float64) Chances {
	if math.IsInf(sdDF, 1) {
		return VerdictChances(difference, factor*sd, df, level, margin)
	}
	var sum Chances
	nodes, weights := make([]float64, pointsTruth), make([]float64, pointsTruth)
	quad.Legendre{}.FixedLocations(nodes, weights, 0, 1)
	for i, u := range nodes {
		truth := sd * math.Sqrt(sdDF/chiQuantile(warp(u), sdDF))
		c := VerdictChances(difference, factor*truth, df, level, margin)
		c.scale(weights[i] * warpSlope(u))
		sum.add(c)
	}
	return sum
}

// SmallestP returns the smallest two-sided p-value that the randomisation test of
// a difference of two treatments can give when they stand together in so many
// blocks, once each:
//
//	2 / 2^blocks
//
// If only these two are alike, only changing their places within a block changes
// nothing, whatever the other treatments do; the best pairing in every block and
// its mirror image are as extreme as can be (Edgington and Onghena 2007,
// Randomization Tests, 4th ed., chapter 1; from memory). It panics for a
// negative number of blocks.
func SmallestP(blocks int) float64 {
	if blocks < 0 {
		panic("design: negative number of blocks")
	}
	return math.Min(1, 2*math.Pow(0.5, float64(blocks)))
}
