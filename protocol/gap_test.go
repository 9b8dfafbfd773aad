package protocol

import (
	"encoding/json"
	"math"
	"os"
	"testing"

	"mealtrial/stats"
)

func close9(got, want float64) bool {
	return math.Abs(got-want) <= 1e-9*math.Max(1, math.Abs(want))
}

type gapCase struct {
	A, B, SD, CV float64
	N1, N2       int
	DF           *float64
	Low, High    float64
	RatioLow     float64 `json:"ratio_low"`
	RatioHigh    float64 `json:"ratio_high"`
	SmallestGap  float64 `json:"smallest_gap"`
	FactorNeeded float64 `json:"factor_needed"`
	Significant  bool
}

func (c gapCase) df() float64 {
	if c.DF == nil {
		return math.Inf(1)
	}
	return *c.DF
}

func (c gapCase) gap(spread *GapSpread) *Gap {
	return NewGap(GapSide{Value: Number(c.A), Tests: c.N1}, GapSide{Value: Number(c.B), Tests: c.N2}, "", spread, "", 0, 0.95)
}

// Single and few tests with a known or estimated spread, against R:
// testdata/reference/single_tests.R.
func TestGapAgainstR(t *testing.T) {
	data, err := os.ReadFile("../testdata/reference/single_tests.json")
	if err != nil {
		t.Fatal(err)
	}
	var ref struct {
		Spread, CV  []gapCase
		ThresholdSD []gapCase `json:"threshold_sd"`
		ThresholdCV []gapCase `json:"threshold_cv"`
	}
	if err := json.Unmarshal(data, &ref); err != nil {
		t.Fatal(err)
	}
	if len(ref.Spread) < 50 || len(ref.CV) < 50 || len(ref.ThresholdSD) < 4 {
		t.Fatal("the reference is not complete")
	}
	for _, c := range ref.Spread {
		g := c.gap(&GapSpread{SD: Number(c.SD), DF: c.df()})
		if !close9(float64(*g.Low), c.Low) || !close9(float64(*g.High), c.High) || !close9(float64(*g.Smallest), c.SmallestGap) {
			t.Errorf("%+v: %v to %v, smallest %v", c, *g.Low, *g.High, *g.Smallest)
		}
		if (g.Verdict == stats.Different) != c.Significant {
			t.Errorf("%+v: verdict %s", c, g.Verdict)
		}
	}
	for _, c := range ref.CV {
		g := c.gap(&GapSpread{CV: Number(c.CV), DF: c.df()})
		if !close9(float64(*g.Low), c.RatioLow) || !close9(float64(*g.High), c.RatioHigh) || !close9(float64(*g.Smallest), c.FactorNeeded) {
			t.Errorf("%+v: %v to %v, factor %v", c, *g.Low, *g.High, *g.Smallest)
		}
	}
	for _, c := range ref.ThresholdSD {
		if g := c.gap(nil); c.DF == nil && !close9(float64(*g.RealBelowSD), c.SD) {
			t.Errorf("%+v: real below an SD of %v", c, *g.RealBelowSD)
		}
	}
	for _, c := range ref.ThresholdCV {
		if g := c.gap(nil); c.DF == nil && !close9(float64(*g.RealBelowCV), c.CV) {
			t.Errorf("%+v: real below a CV of %v", c, *g.RealBelowCV)
		}
	}
}

// A 12 against a 15 from single tests is within noise for any spread above the
// one that gap states, and real for any below it (common practice, no source).
func TestGapTurnsAtTheStatedSpread(t *testing.T) {
	c := gapCase{A: 12, B: 15, N1: 1, N2: 1}
	limit := *c.gap(nil).RealBelowSD
	if v := c.gap(&GapSpread{SD: limit * 1.0001, DF: math.Inf(1)}).Verdict; v != stats.Open {
		t.Errorf("just above the limit: %s", v)
	}
	if v := c.gap(&GapSpread{SD: limit * 0.9999, DF: math.Inf(1)}).Verdict; v != stats.Different {
		t.Errorf("just below the limit: %s", v)
	}
}

// 42 to 28 is a fall of one third of 42 (common practice, no source).
func TestShareOfTheBase(t *testing.T) {
	g := gapCase{A: 28, B: 42, N1: 1, N2: 1}.gap(nil)
	if !close9(float64(*g.ShareOfB), -1.0/3) || !close9(float64(*g.ShareOfA), 0.5) {
		t.Errorf("28 against 42: %v of 42, and back %v of 28", *g.ShareOfB, *g.ShareOfA)
	}
}
