package protocol

import (
	"math"
	"strings"
	"testing"

	"mealtrial/stats/ratio"
)

type declaredCase struct {
	Rows                        []row
	Foods                       int
	Estimate, Low, High, DF, SE float64
}

func (c declaredCase) check(t *testing.T, q Answer, df float64) {
	t.Helper()
	near := func(got *Number, want float64) bool {
		return got != nil && math.Abs(float64(*got)-want) <= 1e-9*math.Max(1, math.Abs(want))
	}
	if !near(q.Estimate, c.Estimate) || !near(q.PlainLow, c.Low) || !near(q.PlainHigh, c.High) || math.Abs(df-c.DF) > 1e-8*c.DF {
		t.Errorf("%s: %v, %v to %v on %v df; R has %v, %v to %v on %v", q.Question, q.Estimate, q.PlainLow, q.PlainHigh, df, c.Estimate, c.Low, c.High, c.DF)
	}
}

// Declared models from a log to the JSON fields, against R:
// testdata/reference/declared.R.
func TestDeclaredModelsAgainstR(t *testing.T) {
	var ref struct{ Logs, Own []declaredCase }
	readReference(t, "declared.json", &ref)
	foods := func(c declaredCase) string {
		seen := []string{}
		for _, r := range c.Rows {
			if !strings.Contains(strings.Join(seen, " "), r.Food) {
				seen = append(seen, r.Food)
			}
		}
		return strings.Join(seen, ", ")
	}
	for _, c := range ref.Logs {
		a := analyseRows(t, "foods: ["+foods(c)+"]\nratio_scale: log\nquestions: [a vs b as ratio]\n", c.Rows)
		q := a.Questions[0]
		c.check(t, q, float64(q.DF))
		if q.Scale != "log" || q.Shape != ratio.Bounded {
			t.Errorf("scale %q, shape %q", q.Scale, q.Shape)
		}
	}
	for _, c := range ref.Own {
		a := analyseRows(t, "foods: ["+foods(c)+"]\nspread_by_food: yes\nquestions: [a vs b]\n", c.Rows)
		c.check(t, a.Questions[0], a.Questions[0].df())
	}
}

// With several questions the error rate is shared out, and each interval is the t
// interval at its share.
func TestOwnSpreadSharesTheErrorRate(t *testing.T) {
	a := analyseRows(t, "foods: [a, b, c]\nspread_by_food: yes\nquestions: [all pairs]\n", borrowRows)
	if a.Family == nil || a.Family.Price != nil || math.Abs(float64(a.Family.NominalLevel)-(1-0.05/3)) > 1e-12 {
		t.Fatalf("family %+v", a.Family)
	}
	for _, q := range a.Questions {
		want := interval{float64(*q.Estimate), float64(*q.SE), q.df()}.limits(1 - 0.05/3)
		if math.Abs(float64(*q.Low)-want.Low) > 1e-9 || math.Abs(float64(*q.High)-want.High) > 1e-9 {
			t.Errorf("%s: %v to %v, want %v", q.Question, *q.Low, *q.High, want)
		}
	}
}
