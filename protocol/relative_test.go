package protocol

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"mealtrial/stats/ratio"
)

// Fieller's sets by root finding in R: testdata/reference/ratio.R. Every food of a
// layout is held against every other one as its reference.
func TestPercentOfTheReferenceAgainstR(t *testing.T) {
	data, err := os.ReadFile("../testdata/reference/ratio.json")
	if err != nil {
		t.Fatal(err)
	}
	var ref struct {
		Layouts []struct {
			Name string
			Rows []row
			Sets []struct {
				A, B             string
				Ratio, Low, High float64
			}
		}
	}
	if err := json.Unmarshal(data, &ref); err != nil {
		t.Fatal(err)
	}
	compared := 0
	for _, l := range ref.Layouts[:min(6, len(ref.Layouts))] {
		reference := l.Sets[0].B
		var foods []string
		for _, r := range l.Rows {
			entry := "{id: " + r.Food + "}"
			if r.Food == reference {
				entry = "{id: " + r.Food + ", role: reference}"
			}
			if !strings.Contains(strings.Join(foods, " "), entry) {
				foods = append(foods, entry)
			}
		}
		a := analyseRows(t, fmt.Sprintf("foods: [%s]\nquestions: []\n", strings.Join(foods, ", ")), l.Rows)
		for _, set := range l.Sets {
			for _, r := range a.Relative {
				if set.B != reference || set.A != r.Food || r.Percent == nil {
					continue
				}
				compared++
				if r.Shape != ratio.Bounded || !close12(r.Percent, 100*set.Ratio) || !close12(r.Low, 100*set.Low) || !close12(r.High, 100*set.High) {
					t.Errorf("%s, %s: %v, %v to %v; R has %v", l.Name, r.Food, *r.Percent, *r.Low, *r.High, set)
				}
			}
		}
	}
	if compared < 6 {
		t.Errorf("only %d were compared", compared)
	}
}

// The worked example of FAO Food and Nutrition Paper 66 (attribution from memory):
// areas of 113.95, 155.25 and 179.17 after the standard and 93 after the food, 62.2 %,
// an index of 62. The word is allowed where the labels show equal doses and the
// standard was repeated, and nowhere else.
func TestIndexOfTheWorkedExample(t *testing.T) {
	rows := []row{{"bread", 1, 113.95}, {"bread", 2, 155.25}, {"bread", 3, 179.166666667}, {"food", 1, 93}}
	const dose = "label: {jurisdiction: eu, carbohydrate: 50 g}"
	for name, c := range map[string]struct {
		endpoint, bread, food string
		rows                  []row
		why                   string
	}{
		"an index":      {"iauc, unit: mmol/L", dose, dose, rows, ""},
		"peak rise":     {"peak_rise, unit: mg/dL", dose, dose, rows, "an index is of the incremental area over 120 min"},
		"short window":  {"iauc, unit: mmol/L, window: 90m", dose, dose, rows, "over 90 min"},
		"no label":      {"iauc, unit: mmol/L", dose, "", rows, "food has no label in the study file"},
		"other dose":    {"iauc, unit: mmol/L", dose, "label: {jurisdiction: eu, carbohydrate: 30 g}", rows, "the portions differ in available carbohydrate"},
		"one reference": {"iauc, unit: mmol/L", dose, dose, []row{rows[0], rows[3]}, "tested at least twice, better three times, and bread counts 1 test"},
		"polyols":       {"iauc, unit: mmol/L", dose, "label: {jurisdiction: eu, carbohydrate: 55 g, polyols: 10 g}", rows, "do not show that the portions hold equal"},
	} {
		join := func(id, role, label string) string {
			if label != "" {
				label = ", " + label
			}
			return fmt.Sprintf("{id: %s, role: %s%s}", id, role, label)
		}
		blocks := append([]row(nil), c.rows...)
		for i := range blocks {
			blocks[i].Block = 0
		}
		a := analyseRows(t, fmt.Sprintf("endpoint: {name: %s}\nfoods: [%s, %s]\nquestions: []\n", c.endpoint, join("bread", "reference", c.bread), join("food", "test", c.food)), blocks)
		r := a.Relative[0]
		if c.why == "" {
			if !r.IndexAllowed || r.Index == nil || *r.Index != 62 || math.Abs(float64(*r.ByRatios)-62.2258568) > 1e-6 {
				t.Errorf("%s: %+v", name, r)
			}
			if !strings.Contains(strings.Join(a.Warnings, " "), "asks for ten people at least") {
				t.Errorf("%s: nobody says that it is one person's: %v", name, a.Warnings)
			}
			continue
		}
		if r.IndexAllowed || r.Index != nil || !strings.Contains(r.WhyNotIndex, c.why) {
			t.Errorf("%s: %q, want %q", name, r.WhyNotIndex, c.why)
		}
	}
}

// A mean of 28 to 36 over a dose of 49.5 to 50.5 g lies from 28/50.5 to 36/49.5; a dose
// that may be zero has no response per gram.
func TestResponsePerGramCarriesTheDose(t *testing.T) {
	a := analyseRows(t, "foods: [{id: bread, role: reference, label: {jurisdiction: eu, carbohydrate: 50 g}}, {id: bar, label: {jurisdiction: eu, carbohydrate: 12 g, polyols: 12 g}}]\n",
		[]row{{"bread", 0, 30}, {"bread", 0, 34}, {"bread", 0, 32}, {"bar", 0, 5}, {"bar", 0, 7}, {"bar", 0, 9}})
	bread, bar := a.PerGram[0], a.PerGram[1]
	low, high := float64(*a.Foods[0].Low), float64(*a.Foods[0].High)
	if math.Abs(bread.PerGram.Low-low/50.5) > 1e-6 || math.Abs(bread.PerGram.High-high/49.5) > 1e-6 {
		t.Errorf("%g to %g a gram; the mean is %g to %g", bread.PerGram.Low, bread.PerGram.High, low, high)
	}
	// EU tolerance above 40 g per 100 g: ±8 g, guidance of 2012 (from memory).
	if s := bread.PerGram.Scenario; s == nil || math.Abs(s.Low-low/58) > 1e-6 || math.Abs(s.High-high/42) > 1e-6 {
		t.Errorf("with tolerances: %+v", s)
	}
	if bar.PerGram != nil || !strings.Contains(bar.Why, "the dose interval reaches zero") {
		t.Errorf("bar: %+v, %q", bar.PerGram, bar.Why)
	}
}
