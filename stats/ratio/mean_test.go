package ratio

import (
	"encoding/json"
	"errors"
	"math"
	"os"
	"testing"
)

// Areas of the worked example of FAO Food and Nutrition Paper 66 (attribution from
// memory): three tests of the standard, one of the food: 62.2258568 %.
func TestRatioOfTheWorkedExample(t *testing.T) {
	m, err := RatiosToMean([]float64{93}, []float64{113.95, 155.25, 179.166666667}, 0.95)
	if err != nil || math.Abs(100*m.Mean-62.2258568) > 1e-6 || m.HasLimits {
		t.Errorf("%+v, %v", m, err)
	}
}

// R's t.test of the shares: testdata/reference/relative.R.
func TestRatiosToMeanAgainstR(t *testing.T) {
	data, err := os.ReadFile("../../testdata/reference/relative.json")
	if err != nil {
		t.Fatal(err)
	}
	var ref struct {
		Cases []struct {
			Values, Reference []float64
			Mean, Low, High   float64
		}
	}
	if err := json.Unmarshal(data, &ref); err != nil {
		t.Fatal(err)
	}
	if len(ref.Cases) != 3 {
		t.Fatalf("%d cases", len(ref.Cases))
	}
	for i, c := range ref.Cases {
		m, err := RatiosToMean(c.Values, c.Reference, 0.95)
		if err != nil || !m.HasLimits || math.Abs(m.Mean-c.Mean) > 1e-12 || math.Abs(m.Limits.Low-c.Low) > 1e-9 || math.Abs(m.Limits.High-c.High) > 1e-9 {
			t.Errorf("case %d: %+v, %v; R has %g, %g to %g", i, m, err, c.Mean, c.Low, c.High)
		}
	}
	if _, err := RatiosToMean([]float64{1}, []float64{0, 0}, 0.95); !errors.Is(err, ErrZeroDenominator) {
		t.Errorf("a reference of zero: %v", err)
	}
	if m, _ := RatiosToMean([]float64{5, 5}, []float64{10}, 0.95); m.HasLimits {
		t.Error("values that agree have limits")
	}
}
