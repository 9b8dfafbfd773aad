package protocol

import (
	"fmt"
	"strings"
	"testing"
)

// The numbers of "Does it hold?", for a difference and a ratio, against
// testdata/reference/robustness.R.
func TestRobustnessAgainstR(t *testing.T) {
	var ref struct {
		Rows                                []row
		Worst                               int
		Without, KR, Log, Own, Trend, Carry []float64
		Rho                                 float64
		AR, Ratio                           []float64
		RatioWorst                          int       `json:"ratio_worst"`
		RatioWithout                        []float64 `json:"ratio_without"`
	}
	readReference(t, "robustness.json", &ref)
	analyse := func(question string) *Analysis {
		s := study(t, "foods: [a, b, c]\nquestions: ["+question+"]\n")
		var log strings.Builder
		for i, r := range ref.Rows {
			fmt.Fprintf(&log, "---\n{date: %s, food: %s, block: %d, value: %v}\n", Date(20000+2*i), r.Food, r.Block, r.Y)
		}
		parsed, err := ParseLog([]byte(log.String()), s)
		if err != nil {
			t.Fatal(err)
		}
		a, err := (&Folder{Study: s, Log: parsed}).Analyse()
		if err != nil {
			t.Fatal(err)
		}
		if len(a.Robustness) != 1 {
			t.Fatalf("%d tables", len(a.Robustness))
		}
		return a
	}
	left := func(i int) string {
		return fmt.Sprintf("without the test of %s on %s", ref.Rows[i-1].Food, Date(20000+2*(i-1)))
	}
	const close = 5e-9
	for _, table := range []struct {
		question string
		rows     map[string][]float64
	}{
		{"a vs b", map[string][]float64{left(ref.Worst): ref.Without, "blocks random": ref.KR, "log scale": ref.Log, "spread of its own for each food": ref.Own,
			"linear day trend": ref.Trend, "carry-over of the food before": ref.Carry, "tests correlated with the one before": ref.AR}},
		{"a vs b as ratio", map[string][]float64{left(ref.RatioWorst): ref.RatioWithout, "log scale": ref.Log}},
	} {
		a := analyse(table.question)
		found := 0
		for _, w := range a.Robustness[0].Ways {
			want, ok := table.rows[w.Way]
			if !ok {
				continue
			}
			found++
			if w.Estimate == nil || w.Low == nil || w.High == nil {
				t.Errorf("%s, %s: %+v", table.question, w.Way, w)
				continue
			}
			tolerance := close
			if w.Way == "blocks random" {
				tolerance = 1e-4 // of the optimisers
			}
			for i, got := range []*Number{w.Estimate, w.Low, w.High} {
				near(t, fmt.Sprintf("%s, %s, %d", table.question, w.Way, i), float64(*got), want[i], tolerance*max(1, want[2]))
			}
			if w.Way == "tests correlated with the one before" && w.Note != strings.ReplaceAll(fmt.Sprintf("correlation of residuals %.2f", ref.Rho), "-", "−") {
				t.Errorf("%s: %s, want %.2f", w.Way, w.Note, ref.Rho)
			}
		}
		if found != len(table.rows) {
			t.Errorf("%s: %d of %d rows: %+v", table.question, found, len(table.rows), a.Robustness[0].Ways)
		}
	}
}
