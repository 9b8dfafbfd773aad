package protocol

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"mealtrial/stats"
	"mealtrial/stats/additive"
)

const borrowing = `sensor: upper arm
spread:
  - {study: earlier, endpoint: peak_rise, unit: mg/dL, window: 120m, sensor: Upper  arm, in_blocks: yes, sd: %v, df: %d}
foods: [a, b, c]
questions: [a vs b]
`

var borrowRows = []row{{"a", 1, 30}, {"b", 1, 41}, {"c", 1, 20}, {"a", 2, 36}, {"b", 2, 39}, {"c", 2, 25}, {"a", 3, 28}, {"b", 3, 44}, {"c", 3, 18}}

// The pooled interval by its formula, from the residual SD of the study alone.
func TestBorrowedSpread(t *testing.T) {
	alone := analyseRows(t, "foods: [a, b, c]\nquestions: [a vs b]\n", borrowRows)
	own, df := float64(*alone.WithinPersonSD.Value), alone.WithinPersonSD.DF
	for _, c := range []struct {
		sd     float64
		df     int
		pooled bool
	}{{own * 1.1, 9, true}, {own * 3, 9, true}, {own / 3, 20, false}} {
		a := analyseRows(t, fmt.Sprintf(borrowing, c.sd, c.df), borrowRows)
		b, q := a.Borrowed, a.Questions[0]
		wantSD, wantDF := own, df
		if c.pooled {
			wantDF = df + c.df
			wantSD = math.Sqrt((float64(df)*own*own + float64(c.df)*c.sd*c.sd) / float64(wantDF))
		}
		if b.Pooled != c.pooled || a.WithinPersonSD.DF != wantDF || math.Abs(float64(*a.WithinPersonSD.Value)-wantSD) > 1e-9 {
			t.Errorf("SD %v on %d: %+v, SD %v on %d, want %v on %d", c.sd, c.df, b, *a.WithinPersonSD.Value, a.WithinPersonSD.DF, wantSD, wantDF)
		}
		want := stats.TInterval(float64(*q.Estimate), wantSD*math.Sqrt(2.0/3), float64(wantDF), 0.95)
		if math.Abs(float64(*q.Low)-want.Low) > 1e-8 || math.Abs(float64(*q.High)-want.High) > 1e-8 {
			t.Errorf("SD %v: %v to %v, want %v", c.sd, *q.Low, *q.High, want)
		}
		if p := stats.Bartlett([]float64{own, c.sd}, []int{df, c.df}).P; math.Abs(float64(*b.P)-p) > 1e-9 {
			t.Errorf("Bartlett's p %v, want %v", *b.P, p)
		}
		// What is narrower than either where the spreads may differ is never taken.
		if *b.P < poolLevel && wantSD*stats.TQuantile(0.975, float64(wantDF)) < own*stats.TQuantile(0.975, float64(df))-1e-9 {
			t.Errorf("SD %v: the narrower interval was taken", c.sd)
		}
	}
}

// What does not fit is named and not pooled.
func TestSpreadsThatDoNotFit(t *testing.T) {
	for _, c := range []struct{ old, new, why string }{
		{"endpoint: peak_rise", "endpoint: iauc", "its endpoint is the incremental area"},
		{"window: 120m", "window: 60m", "its window is 60 min"},
		{"sensor: Upper  arm", "sensor: belly", "its kind of sensor is belly"},
		{"sensor: Upper  arm, ", "", "the kind of sensor is not named in both studies"},
		{"in_blocks: yes", "in_blocks: no", "one of the two SDs is within blocks and the other is not"},
	} {
		a := analyseRows(t, strings.Replace(fmt.Sprintf(borrowing, 5.0, 9), c.old, c.new, 1), borrowRows)
		if b := a.Borrowed; b.Pooled || b.AddedDF != 0 || b.Studies[0].Why != c.why || a.WithinPersonSD.DF != 4 {
			t.Errorf("%s: %+v", c.new, b)
		}
	}
	// Another unit is converted: 18.016 mg/dL to the mmol/L (molar mass of glucose, 180.16 g/mol).
	a := analyseRows(t, strings.Replace(fmt.Sprintf(borrowing, 0.25, 9), "unit: mg/dL", "unit: mmol/L", 1), borrowRows)
	if sd := float64(a.Borrowed.Studies[0].SD); math.Abs(sd-0.25*18.016) > 0.01 {
		t.Errorf("0.25 mmol/L are %v mg/dL", sd)
	}
}

// With the blank in the study its own scatter has no part in it, and a question with
// the blank rests on this study alone.
func TestBlankBorrowsNothing(t *testing.T) {
	text := strings.Replace(fmt.Sprintf(borrowing, 4.0, 9), "foods: [a, b, c]\nquestions: [a vs b]", "foods: [a, b, {id: c, role: blank}]\nquestions: [a vs b, a vs c]", 1)
	a := analyseRows(t, text, borrowRows)
	if a.Questions[0].DF != 2+9 || a.Questions[1].DF != 4 {
		t.Errorf("df %d and %d, want 11 and 4", a.Questions[0].DF, a.Questions[1].DF)
	}
}

func TestPoolPanicsForNoSpread(t *testing.T) {
	defer func() {
		if recover() == nil {
			t.Error("no panic")
		}
	}()
	additive.NewFit([]additive.Observation{{Value: 1}, {Value: 2}}).Pool(0, 3)
}
