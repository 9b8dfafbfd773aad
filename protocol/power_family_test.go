package protocol

import (
	"math"
	"testing"
)

// Two questions against the reference in complete blocks: the half width is that of
// Dunnett's critical value, and the chance of "different" a noncentral t tail beyond
// it: testdata/reference/power_family.R. The critical value is simulated here, with
// an error of at most 0.5 %, so the chance may be off by about as much as its slope
// makes of that.
func TestPowerForTwoQuestionsIsDunnetts(t *testing.T) {
	var ref struct {
		SD, Difference float64
		Rows           []struct {
			Repeats   int
			DF        int
			HalfWidth float64 `json:"half_width"`
			Different float64
		}
	}
	readReference(t, "power_family.json", &ref)
	s := study(t, "foods: [{id: wheat, role: reference}, lupin, konjac]\nquestions: [each vs reference]\nplan: {start: 2027-01-11, until: 2027-03-26, repeats: 3, washout: 1}\n")
	p, err := NewPower(s, PowerOptions{SD: ref.SD, DF: math.Inf(1), Difference: ref.Difference, Least: 2, Most: 6})
	if err != nil {
		t.Fatal(err)
	}
	if len(p.Rows) != len(ref.Rows) || len(ref.Rows) < 5 {
		t.Fatalf("%d rows, R has %d", len(p.Rows), len(ref.Rows))
	}
	for i, want := range ref.Rows {
		row := p.Rows[i]
		if row.Repeats != want.Repeats || row.DF != want.DF {
			t.Fatalf("row %+v, R has %+v", row, want)
		}
		if math.Abs(float64(*row.Width)/want.HalfWidth-1) > 0.005 {
			t.Errorf("%d repeats: half width %v, Dunnett %v", row.Repeats, *row.Width, want.HalfWidth)
		}
		last := row.Chances[len(row.Chances)-1]
		if float64(last.Difference) != ref.Difference || math.Abs(float64(last.Different)-want.Different) > 0.006 {
			t.Errorf("%d repeats: different with %v, R has %v", row.Repeats, last.Different, want.Different)
		}
	}
}

// The price is what it says: the width over that of one question at one look, also
// when questions with the blank have a part of the error rate.
func TestPriceIsTheRatioOfWidths(t *testing.T) {
	rows := append([]row{}, threeFoods...)
	for block := 1; block <= 4; block++ {
		rows = append(rows, row{"water", block, float64(3 + block%2)})
	}
	for _, header := range []string{
		"foods: [{id: wheat, role: reference}, lupin, konjac]\nquestions: [all pairs]\n",
		"foods: [{id: wheat, role: reference}, lupin, konjac, {id: water, role: blank}]\nquestions: [all pairs, lupin vs water]\n",
	} {
		a := analyseRows(t, header, rows[:len(threeFoods)+4*boolInt(len(header) > 100)])
		if a.Family == nil {
			t.Fatal("no family")
		}
		for _, q := range a.Questions[:3] {
			if got := float64((*q.High - *q.Low) / (*q.PlainHigh - *q.PlainLow)); math.Abs(got/float64(*a.Family.Price)-1) > 1e-9 {
				t.Errorf("%s is %.6f times as wide, the price is %v", q.Question, got, *a.Family.Price)
			}
		}
	}
}

func boolInt(x bool) int {
	if x {
		return 1
	}
	return 0
}
