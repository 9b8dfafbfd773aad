package label

import (
	"encoding/json"
	"errors"
	"math"
	"os"
	"testing"

	"mealtrial/protocol/problem"
	"mealtrial/stats"
)

// Whatever stands in a file, Parse answers with a label whose numbers are finite
// and in order, or with a problem.List that can be acted on.
func FuzzParse(f *testing.F) {
	if seeds, err := os.ReadDir("testdata/fuzz/FuzzParse"); err != nil || len(seeds) < 5 {
		f.Fatalf("%d seeds: %v", len(seeds), err)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		l, err := Parse("label.yaml", data)
		var list problem.List
		switch {
		case err == nil && l == nil:
			t.Fatal("neither a label nor an error")
		case err != nil && !errors.As(err, &list):
			t.Fatalf("%T: %v", err, err)
		case err != nil:
			for _, p := range list {
				if p.File == "" || p.Found == "" {
					t.Errorf("incomplete: %#v", p)
				}
			}
			return
		}
		r := l.Report([]string{"milk", "tree nuts"})
		r.CompareWith(l)
		r.AddResponse(stats.Interval{Low: -1, High: 40, Level: 0.95}, "mg/dL")
		if _, err := json.Marshal(r); err != nil {
			t.Error(err)
		}
		for _, line := range r.Lines {
			checkInterval(t, line.Each)
			checkInterval(t, line.Portion)
			checkInterval(t, line.Wide)
		}
		checkInterval(t, r.Dose.Rounding)
		checkInterval(t, r.Dose.Tolerance)
		if r.Dose.Rounding.Low < r.Dose.Tolerance.Low || r.Dose.Rounding.High > r.Dose.Tolerance.High {
			t.Errorf("rounding %v outside tolerance %v", r.Dose.Rounding, r.Dose.Tolerance)
		}
		for _, e := range r.Energy {
			checkInterval(t, e.Implied)
		}
		if r.Comparisons[0].Relation == DosesDiffer {
			t.Errorf("a dose differs from itself: %v", r.Dose)
		}
	})
}

func checkInterval(t *testing.T, i Interval) {
	t.Helper()
	if !(0 <= i.Low && i.Low <= i.High && i.High < math.MaxFloat64) || i.Low == i.High && (i.LowOpen || i.HighOpen) || i.Text() == "" {
		t.Errorf("%+v", i)
	}
}
