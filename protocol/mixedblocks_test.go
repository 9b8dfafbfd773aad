package protocol

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"mealtrial/stats"
)

// Random blocks from a log to the JSON fields, against lme4 and pbkrtest:
// testdata/reference/mixed.R.
func TestRandomBlocksAgainstR(t *testing.T) {
	var ref struct {
		Cases []struct {
			Name        string
			Foods       int
			Food, Block []int
			Y           []float64
			Polished    *struct{ Estimate, SE, DF []float64 }
			CriterionAt []any `json:"criterion_at"`
		}
	}
	readReference(t, "mixed.json", &ref)
	compared := 0
	for _, c := range ref.Cases {
		if c.Polished == nil || c.Foods > 6 {
			continue
		}
		var ids []string
		for i := range c.Foods {
			ids = append(ids, fmt.Sprintf("food%d", i+1))
		}
		var rows []row
		large := false
		for i, y := range c.Y {
			rows = append(rows, row{ids[c.Food[i]-1], c.Block[i], y})
			large = large || math.Abs(y) > 600 // beyond what a typed value may be
		}
		if large {
			continue
		}
		a := analyseRows(t, fmt.Sprintf("foods: [%s]\nblocks: random\nquestions: [all pairs]\n", strings.Join(ids, ", ")), rows)
		for i, q := range a.Questions {
			at := c.Foods + i // the means come first
			if q.KR == nil {
				continue // no block variance can be estimated
			}
			compared++
			se, df := c.Polished.SE[at], c.Polished.DF[at]
			if math.Abs(float64(*q.Estimate)-c.Polished.Estimate[at]) > 1e-6*se || math.Abs(float64(*q.SE)/se-1) > 1e-6 || math.Abs(float64(*q.KR)/df-1) > 1e-6 {
				t.Errorf("%s, %s: %v, SE %v, df %v; R has %v, %v, %v", c.Name, q.Question, *q.Estimate, *q.SE, *q.KR, c.Polished.Estimate[at], se, df)
			}
			limits := stats.TInterval(c.Polished.Estimate[at], se, df, 0.95)
			if math.Abs(float64(*q.PlainLow)-limits.Low) > 1e-5*se || math.Abs(float64(*q.PlainHigh)-limits.High) > 1e-5*se {
				t.Errorf("%s, %s: %v to %v; R has %v to %v", c.Name, q.Question, *q.PlainLow, *q.PlainHigh, limits.Low, limits.High)
			}
			if q.Fixed == nil || q.Fixed.Low == nil {
				t.Errorf("%s, %s: no fixed-block answer beside it", c.Name, q.Question)
			}
		}
	}
	if compared < 100 {
		t.Errorf("only %d contrasts were compared", compared)
	}
}

// With blocks random by declaration a limit is one of the mean over all blocks: its
// bounds are those of lme4's mean by pbkrtest, whose spread of blocks is in the standard
// error. With fixed blocks it is missing there.
func TestLimitWithRandomBlocksAgainstR(t *testing.T) {
	var ref struct {
		Cases []struct {
			Name        string
			Foods       int
			Food, Block []int
			Y           []float64
			Polished    *struct{ Estimate, SE, DF []float64 }
		}
	}
	readReference(t, "mixed.json", &ref)
	compared := 0
	for _, c := range ref.Cases {
		if c.Polished == nil || c.Foods > 6 || slices.ContainsFunc(c.Y, func(y float64) bool { return math.Abs(y) > 600 }) {
			continue
		}
		var ids []string
		for i := range c.Foods {
			ids = append(ids, fmt.Sprintf("food%d", i+1))
		}
		var rows []row
		for i, y := range c.Y {
			rows = append(rows, row{ids[c.Food[i]-1], c.Block[i], y})
		}
		q := analyseRows(t, fmt.Sprintf("foods: [%s]\nblocks: random\nquestions: [food1 below 0]\n", strings.Join(ids, ", ")), rows).Questions[0]
		if q.KR == nil {
			continue // no block variance can be estimated
		}
		compared++
		half := stats.TQuantile(0.95, c.Polished.DF[0]) * c.Polished.SE[0]
		if math.Abs(float64(*q.Estimate)-c.Polished.Estimate[0]) > 1e-6*half || math.Abs(float64(*q.High)-c.Polished.Estimate[0]-half) > 1e-5*half || math.Abs(float64(*q.Low)-c.Polished.Estimate[0]+half) > 1e-5*half {
			t.Errorf("%s: %v, %v to %v; R has %v ± %v", c.Name, *q.Estimate, *q.Low, *q.High, c.Polished.Estimate[0], half)
		}
	}
	if compared < 3 {
		t.Errorf("%d layouts compared", compared)
	}
}
