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

// A question whose foods come later than the first look has chances of being settled
// from the look on at which it can be answered.
func TestStopsOfQuestionThatBeginsLate(t *testing.T) {
	s := study(t, "foods: [{id: a, role: reference}, b, c, d, e]\nquestions: [b vs a, e vs d]\nmargin: 8\nlooks: every block from 2\nplan: {start: 2027-01-11, until: 2028-12-28, repeats: 4, washout: 1, block_size: 2}\n")
	p, err := NewPower(s, PowerOptions{Question: "e vs d", SD: 6, DF: math.Inf(1), Difference: 20, Least: 4, Most: 4})
	if err != nil {
		t.Fatal(err)
	}
	row := p.Rows[0]
	if len(row.Stops) != 3 {
		t.Fatalf("%+v", row)
	}
	looks := row.Stops[2].Looks
	if last := looks[len(looks)-1]; looks[0].Settled != 0 || last.Settled < 0.2 {
		t.Errorf("%+v", looks)
	}
}

// A very early look is so strict that its confidence has no digits left: nothing is
// decided there.
func TestLookTooStrictForAnInterval(t *testing.T) {
	s := study(t, "foods: [a, b, c]\nquestions: [a vs b, a vs c]\nlooks: {after: [2], shape: obrien_fleming}\nplan: {start: 2027-01-11, until: 2028-12-28, repeats: 40, washout: 1, consecutive: allowed}\n")
	schedule, err := DrawSchedule(s, 0)
	if err != nil {
		t.Fatal(err)
	}
	f := &Folder{Study: s, Schedule: schedule, Log: &Log{}}
	eat(t, f, 0, schedule.Tests[6].Date, func(i int, p PlannedTest) float64 { return 30 + float64(i*i%11) })
	a, err := f.Analyse()
	if err != nil {
		t.Fatal(err)
	}
	if q := a.Questions[0]; a.Looks.Now != 1 || a.Looks.Nominal.Main != 0 || q.Low != nil || q.Missing == "" || q.PlainLow == nil {
		t.Errorf("%+v, %+v", a.Looks, q)
	}
}
