package protocol

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// Two looks with so many pairs that t is nearly normal: without a difference the
// study stops at the first with a chance of 0.0294 and the mean number of tests is
// that of the looks, weighted (Jennison and Turnbull 2000, section 2.3 and table 2.1;
// from memory).
func TestMeanTestsOfTwoLooks(t *testing.T) {
	s := study(t, "foods: [a, b]\nquestions: [a vs b]\nlooks: [40]\nplan: {start: 2027-01-11, until: 2028-01-11, repeats: 80, washout: 0}\n")
	p, err := NewPower(s, PowerOptions{SD: 5, DF: math.Inf(1), From: "known", Least: 80, Most: 80})
	if err != nil {
		t.Fatal(err)
	}
	stop := p.Rows[0].Stops[0]
	near(t, "settled at the first look", float64(stop.Looks[0].Settled), 0.029386, 0.006)
	near(t, "settled at all", float64(stop.Looks[1].Settled), 0.05, 0.007)
	near(t, "mean number of tests", float64(stop.Tests), 160-80*0.029386, 0.5)
}

// Student's sleep differences as the tests of one food, looked at before the end: the
// anytime-valid 95 % limits of their mean are those of TestAnytimeLimitsOfTheSleepData.
func TestAnytimeBoundsOfOneFood(t *testing.T) {
	s := study(t, "foods: [extra, other]\nquestions: [extra below 0]\n")
	var log strings.Builder
	schedule := &Schedule{StudyDigest: s.Digest}
	for i, y := range []float64{-1.2, -2.4, -1.3, -1.3, 0, -1, -1.8, -0.8, -4.6, -1.4} {
		for k, food := range []string{"extra", "other"} {
			date := Date(20000 + 2*i + k)
			fmt.Fprintf(&log, "---\n{date: %s, food: %s, block: %d, value: %v}\n", date, food, i+1, y*float64(1-k))
			schedule.Tests = append(schedule.Tests, PlannedTest{Date: date, Block: i + 1, Food: food})
		}
	}
	schedule.Tests = append(schedule.Tests, PlannedTest{Date: 30000, Block: 11, Food: "extra"})
	parsed, err := ParseLog([]byte(log.String()), s)
	if err != nil {
		t.Fatal(err)
	}
	a, err := (&Folder{Study: s, Log: parsed, Schedule: schedule}).Analyse()
	if err != nil {
		t.Fatal(err)
	}
	q := a.Questions[0]
	if q.Low == nil || q.High == nil {
		t.Fatalf("no bounds: %+v", q)
	}
	near(t, "low", float64(*q.Low), -3.08518731, 1e-8)
	near(t, "high", float64(*q.High), -0.07481269, 1e-8)
}

// SDs of 6 on 11 and of 9 on 8 degrees of freedom are pooled to √(1044/19) (ISO
// 5725-2, section 7.4.5; from memory).
func TestPlannedSpreadIsPooled(t *testing.T) {
	entry := "  - {study: s%d, endpoint: peak_rise, unit: mg/dL, window: 120m, sensor: arm, in_blocks: yes, sd: %d, df: %d}\n"
	s := study(t, "sensor: arm\nspread:\n"+fmt.Sprintf(entry, 1, 6, 11)+fmt.Sprintf(entry, 2, 9, 8)+"foods: [a, b]\n")
	sd, df, _ := s.PlannedSpread()
	near(t, "SD", sd, 7.41264922, 5e-9)
	near(t, "df", float64(df), 19, 0)
}

// The chance that further tests settle a question about a limit, against
// testdata/reference/outlook.R, within 3 points.
func TestOutlookOfLimitsAgainstR(t *testing.T) {
	var ref struct {
		Y    []float64
		Rows []struct {
			N               int
			Mean, Following float64
		}
	}
	readReference(t, "outlook.json", &ref)
	s := study(t, "foods: [a, b]\nquestions: [a below 33, next a below 48]\nlooks: [4]\nplan: {start: 2027-01-11, until: 2027-06-11, repeats: 8, washout: 0}\n")
	schedule, err := DrawSchedule(s, 1)
	if err != nil {
		t.Fatal(err)
	}
	f := &Folder{Study: s, Schedule: schedule, Log: &Log{}}
	last := Date(0)
	for _, p := range schedule.Tests {
		if p.Block <= len(ref.Y) {
			last = max(last, p.Date+1)
		}
	}
	eat(t, f, 0, last, func(_ int, p PlannedTest) float64 {
		if p.Food == "a" {
			return ref.Y[p.Block-1]
		}
		return 40 + float64(p.Block*p.Block%3)
	})
	x, err := f.analyse()
	if err != nil {
		t.Fatal(err)
	}
	for i, q := range s.Questions {
		o := f.outlook(x.Analysis, x.Questions[i], q, x.models, f.PlannedLevels)
		if o.settled == nil {
			t.Fatalf("%s: %s", q.Text, o.none)
		}
		for _, row := range ref.Rows {
			want := []float64{row.Mean, row.Following}[i]
			got, _ := o.state.Chance(row.N, 8000, 3, o.settled)
			near(t, fmt.Sprintf("%s, %d more", q.Text, row.N), got, want, 0.03)
		}
	}
}
