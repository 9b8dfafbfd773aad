package protocol

import (
	"fmt"
	"math"

	"mealtrial/design"
	"mealtrial/stats"
)

// GapSide is one of two foods compared by their results alone.
type GapSide struct {
	Name  string `json:"name"`
	Value Number `json:"value"` // mean of its tests
	Tests int    `json:"tests"`
}

// A GapSpread is what is known of the spread between single tests of one food.
type GapSpread struct {
	SD Number  // in the unit of the values, or of their logarithm where CV is set
	CV Number  // 0: the spread does not grow with the value
	DF float64 // degrees of freedom behind it; +Inf where it is taken as known
}

// A Gap says whether the difference of two results is real or within the noise
// of single tests. As JSON it is a contract like Analysis.
type Gap struct {
	A          GapSide `json:"a"`
	B          GapSide `json:"b"`
	Unit       string  `json:"unit,omitempty"`
	Difference Number  `json:"difference"` // A − B
	// Change of A against B, as a share of B, and of B against A, as a share of
	// A; nil unless both values are above zero.
	ShareOfB *Number       `json:"share_of_b"`
	ShareOfA *Number       `json:"share_of_a"`
	Scale    string        `json:"scale"` // difference, or ratio (A/B, where a CV was given)
	Spread   *GapSD        `json:"spread"`
	Low      *Number       `json:"low"` // limits of the difference or the ratio
	High     *Number       `json:"high"`
	Level    Number        `json:"level"`
	Method   string        `json:"method"`
	Margin   *Number       `json:"margin"`
	Verdict  stats.Verdict `json:"verdict"`
	// Chance is the probability that two such results differ by this much or more
	// when both foods do the same.
	Chance *Number `json:"chance_if_the_same"`
	Beyond bool    `json:"beyond_margin"` // the whole interval lies at or beyond the margin
	// Smallest is the smallest gap that such tests would show as real: a
	// difference, or a factor above 1 on the ratio scale.
	Smallest *Number `json:"smallest_real_gap"`
	// RealBelowSD and RealBelowCV are the spreads below which this gap would be
	// real if they were known exactly.
	RealBelowSD *Number `json:"real_below_sd"`
	RealBelowCV *Number `json:"real_below_cv"`
	// TestsEach is how many tests of each food would show a true gap of this
	// size with probability Power; TestsEachHigh the same at the upper limit of
	// the spread, TestsEachLow at its lower one.
	Power         Number   `json:"power"`
	TestsEach     *int     `json:"tests_each"`
	TestsEachLow  *int     `json:"tests_each_low"`
	TestsEachHigh *int     `json:"tests_each_high"`
	Warnings      []string `json:"warnings"`
	Caution       string   `json:"caution"`
}

// GapSD is the spread that was used, as it is reported.
type GapSD struct {
	SD   *Number `json:"sd"` // in the unit of the values; nil where a CV was given
	CV   *Number `json:"cv"`
	Low  *Number `json:"low"` // interval of the SD or the CV; nil where it is taken as known
	High *Number `json:"high"`
	DF   *Number `json:"df"` // nil: taken as known
	From string  `json:"from"`
}

// Scales of a gap.
const (
	ScaleDifference = "difference"
	ScaleRatio      = "ratio"
)

const gapPower = 0.80 // customary power of a planned trial; common practice, no source

// NewGap compares two results. Level is a confidence in (0, 1); margin is the
// smallest difference that matters or 0; spread is nil where nothing is known of
// it. With a spread, single results x̄ of n tests are compared by
//
//	x̄A − x̄B ± t((1+level)/2; df) · s · √(1/nA + 1/nB)
//
// on the logarithms where the spread is a CV (ISO 5725-6, comparison of two
// means within one laboratory, with the t quantile for the normal one).
// Values must be above zero with a CV; tests at least 1.
func NewGap(a, b GapSide, unit string, spread *GapSpread, from string, margin, level float64) *Gap {
	g := &Gap{A: a, B: b, Unit: unit, Difference: a.Value - b.Value, Scale: ScaleDifference, Level: Number(level),
		Method: methodNone, Verdict: stats.Open, Power: gapPower, Warnings: []string{}, Caution: ShortCaution}
	factor := math.Sqrt(1/float64(a.Tests) + 1/float64(b.Tests))
	positive := a.Value > 0 && b.Value > 0
	z := stats.TQuantile((1+level)/2, math.Inf(1))
	g.RealBelowSD = some(math.Abs(float64(g.Difference)) / (z * factor))
	if positive {
		g.ShareOfB, g.ShareOfA = some(float64(a.Value/b.Value)-1), some(float64(b.Value/a.Value)-1)
		g.RealBelowCV = some(stats.CVFromLogSD(math.Abs(math.Log(float64(a.Value/b.Value))) / (z * factor)))
	}
	if margin > 0 {
		g.Margin = some(margin)
	}
	if spread != nil {
		g.judge(*spread, from, factor, margin)
	}
	return g
}

// judge fills in what the spread allows to be said.
func (g *Gap) judge(spread GapSpread, from string, factor, margin float64) {
	level, sd := float64(g.Level), float64(spread.SD)
	gap := float64(g.Difference)
	out := func(x float64) float64 { return x } // from the scale of the model to that of the result
	if spread.CV > 0 {
		g.Scale, margin = ScaleRatio, 0
		sd = stats.LogSD(float64(spread.CV))
		gap = math.Log(float64(g.A.Value / g.B.Value))
		out = math.Exp
	}
	limits := stats.TInterval(gap, sd*factor, spread.DF, level)
	g.Low, g.High = finite(out(limits.Low)), finite(out(limits.High))
	g.Verdict, g.Beyond = stats.Decide(limits, margin), stats.Beyond(limits, margin)
	g.Chance = some(stats.TwoSidedP(gap/(sd*factor), spread.DF))
	g.Smallest = finite(out(stats.TQuantile((1+level)/2, spread.DF) * sd * factor))
	g.Method = fmt.Sprintf("t interval of the %s, spread on %s degrees of freedom", g.Scale, plain(spread.DF))
	if math.IsInf(spread.DF, 1) {
		g.Method = fmt.Sprintf("normal interval of the %s, spread taken as known", g.Scale)
		g.Warnings = append(g.Warnings, "The spread is taken as known exactly; give --sd-df with the degrees of freedom behind it for an honest width.")
	}
	g.Spread = reportSpread(spread, from, sd, level)
	if g.Scale == ScaleRatio && g.A.Tests+g.B.Tests > 2 {
		g.Warnings = append(g.Warnings, "With --cv a result of several tests should be their geometric mean; an arithmetic one lies above it.")
	}
	g.TestsEach = testsEach(gap, sd, level)
	if g.Spread.High != nil {
		limits := stats.SDInterval(sd, spread.DF, level)
		g.TestsEachLow, g.TestsEachHigh = testsEach(gap, limits.Low, level), testsEach(gap, limits.High, level)
	}
	if g.A.Tests == 1 || g.B.Tests == 1 {
		g.Warnings = append(g.Warnings, "A single test says nothing about its own spread: the answer rests on the earlier repeats having been eaten and measured in the same way.")
	}
}

func reportSpread(spread GapSpread, from string, sd, level float64) *GapSD {
	r := &GapSD{From: from}
	out := func(s float64) float64 { return s }
	if spread.CV > 0 {
		r.CV, out = some(float64(spread.CV)), stats.CVFromLogSD
	} else {
		r.SD = some(sd)
	}
	if !math.IsInf(spread.DF, 1) {
		limits := stats.SDInterval(sd, spread.DF, level)
		r.DF, r.Low, r.High = some(spread.DF), finite(out(limits.Low)), finite(out(limits.High))
	}
	return r
}

// finite returns nil for a limit that is of no use to anybody: with hardly any
// degrees of freedom and a spread in proportion limits run off.
func finite(x float64) *Number {
	const useless = 1e9
	if math.IsInf(x, 0) || math.Abs(x) > useless {
		return nil
	}
	return some(x)
}

// testsEach returns nil where no number within reason would do.
func testsEach(gap, sd, level float64) *int {
	n, ok := design.TestsEach(gap, sd, 1-level, gapPower)
	if !ok {
		return nil
	}
	return &n
}
