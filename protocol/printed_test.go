package protocol

import (
	"fmt"
	"strings"
	"testing"

	"mealtrial/protocol/readings"
)

// A floor is written with two significant digits, a chance never as none or certain.
// Roundings by hand.
func TestNumbersInSentences(t *testing.T) {
	for x, want := range map[float64]string{0: "0", 0.0123: "0.012", 4.75: "4.8", 5.24: "5.2", -1.84: "−1.8", 9.96: "10", 12.4: "12", 123: "120", 996: "1000", 0.996: "1"} {
		if got := rough(x); got != want {
			t.Errorf("rough(%v) = %s, want %s", x, got, want)
		}
	}
	for p, want := range map[float64]string{0: "below 1 %", 0.0049: "below 1 %", 0.005: "below 1 %", 0.0051: "1 %", 0.42: "42 %", 0.994: "99 %", 0.995: "above 99 %", 1: "above 99 %"} {
		if got := chance(p); got != want {
			t.Errorf("chance(%v) = %s, want %s", p, got, want)
		}
	}
	for p, want := range map[float64]string{0.0009: "below 0.001", 0.001: "0.001", 0.0234: "0.0234", 1: "1"} {
		if got := PValue(p); got != want {
			t.Errorf("PValue(%v) = %s, want %s", p, got, want)
		}
	}
	for share, want := range map[float64]string{0.95: "95 %", 0.9875: "98.8 %", 0.001: "0.1 %", 0.999: "99.9 %", 1: "100 %", 0: "0 %"} {
		if got := Percent(share); got != want {
			t.Errorf("Percent(%v) = %s, want %s", share, got, want)
		}
	}
}

// Claims about the data of testdata/reference/robustness.R: a less b is -14.867 with 95 %
// limits -19.108 and -10.625 and 90 % limits -18.304 and -11.430, a over b 0.699 with
// Fieller's limits 0.6291 and 0.7744, and so b over a from 1.2913 to 1.5895.
func TestClaimsAgainstIntervals(t *testing.T) {
	var ref struct{ Rows []row }
	readReference(t, "robustness.json", &ref)
	var log strings.Builder
	for i, r := range ref.Rows {
		fmt.Fprintf(&log, "---\n{date: %s, food: %s, block: %d, value: %v}\n", Date(20000+2*i), r.Food, r.Block, r.Y)
	}
	for _, c := range []struct {
		margin  float64
		text    string
		value   float64
		finding Finding
		outside bool
	}{
		{0, "a 20 % lower than b", 0.8, Supported, false},
		{0, "a 25 % less than b", 0.75, NotShown, false},
		{0, "a half the rise of b", 0.5, Contradicted, false},
		{0, "a a third of the rise of b", 1.0 / 3, Contradicted, false},
		{0, "a a quarter of the rise of b", 0.25, Contradicted, false},
		{0, "a two thirds of the rise of b", 2.0 / 3, NotShown, false},
		{0, "a three quarters of the rise of b", 0.75, NotShown, false},
		{0, "b 20 % higher than a", 1.2, Supported, false},
		{0, "b 30 % more than a", 1.3, NotShown, false},
		{0, "b twice the rise of a", 2, Contradicted, false},
		{0, "b three times the rise of a", 3, Contradicted, false},
		{0, "a 30 against b 40", -10, Supported, true},
		{0, "a 30 against b 45", -15, Supported, false},
		{0, "a 40 against b 30", 10, Contradicted, true},
		{18.7, "a same as b", 18.7, Supported, false},
		{18.2, "a same as b", 18.2, NotShown, false},
		{11.5, "a same as b", 11.5, NotShown, false},
		{11.4, "a same as b", 11.4, Contradicted, false},
	} {
		header := "foods: [a, b, c]\n"
		if c.margin > 0 {
			header += fmt.Sprintf("margin: %v\n", c.margin)
		}
		s := study(t, header)
		parsed, err := ParseLog([]byte(log.String()), s)
		if err != nil {
			t.Fatal(err)
		}
		got, _, err := (&Folder{Study: s, Log: parsed}).Claim(c.text)
		if err != nil {
			t.Fatalf("%s: %v", c.text, err)
		}
		near(t, c.text, float64(got.Value), c.value, 1e-12)
		if got.Finding != c.finding || strings.Contains(got.Why, "lies outside") != c.outside {
			t.Errorf("%s (margin %v): %s, want %s (%s)", c.text, c.margin, got.Finding, c.finding, got.Why)
		}
	}
}

// The weights of a contrast, by hand.
func TestWeightsOfContrasts(t *testing.T) {
	for text, want := range map[string][3]float64{
		"3 a - 2 b vs c": {3, -2, -1}, "a + b vs 2 c": {1, 1, -2}, "a - 0.5 b vs 0.5 c": {1, -0.5, -0.5}, "2* a vs b + c": {2, -1, -1}, "a - b vs c - b": {1, 0, -1}, "b vs 2 a - 1 c": {-2, 1, 1},
	} {
		s := study(t, "foods: [a, b, c]\nquestions: ["+text+"]\n")
		for i, w := range s.Weights(s.Questions[0]) {
			near(t, fmt.Sprintf("%s, food %d", text, i+1), w, want[i], 1e-15)
		}
	}
}

// Glucose limits at which a test has a safety line, by unit: below 70 mg/dL or 3.9
// mmol/L, above 250 or 13.9 (Danne et al. 2017, Diabetes Care 40:1631, table 1).
func TestLimitsOfSafetyLines(t *testing.T) {
	for _, c := range []struct {
		unit  readings.Unit
		x     float64
		found string
	}{
		{readings.MgdL, 69, "glucose below 70"}, {readings.MgdL, 70, ""}, {readings.MgdL, 250, ""}, {readings.MgdL, 251, "glucose above 250"},
		{readings.MmolL, 3.8, "glucose below 3.9"}, {readings.MmolL, 3.9, ""}, {readings.MmolL, 13.9, ""}, {readings.MmolL, 14, "glucose above 13.9"},
	} {
		got := ""
		for _, x := range crossed([]readings.Reading{{Glucose: 100 * map[bool]float64{true: 1, false: 0.055}[c.unit == readings.MgdL]}, {Glucose: c.x}}, c.unit) {
			got += x.text
			if x.worst.Glucose != c.x {
				t.Errorf("%v %s: worst %v", c.x, c.unit, x.worst.Glucose)
			}
		}
		if got != c.found {
			t.Errorf("%v %s: %q, want %q", c.x, c.unit, got, c.found)
		}
	}
}

// Thresholds are kept in mg/dL. A mole of glucose weighs 180.156 g (IUPAC's atomic weights
// for C6H12O6), so 1 mg/dL is 10/180.156 mmol/L.
func TestThresholdsInTheUnitOfTheStudy(t *testing.T) {
	near(t, "mg/dL", study(t, "foods: [a, b]\n").perUnit(), 1, 0)
	near(t, "mmol/L", study(t, "endpoint: {name: peak_rise, unit: mmol/L}\nfoods: [a, b]\n").perUnit(), 10/180.156, 2e-5)
}
