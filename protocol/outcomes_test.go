package protocol

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"mealtrial/stats/exact"
)

// analyseOutcomes analyses a log that is written as text.
func analyseOutcomes(t *testing.T, s *Study, schedule *Schedule, log string) *Analysis {
	t.Helper()
	parsed, err := ParseLog([]byte(log), s)
	if err != nil {
		t.Fatal(err)
	}
	a, err := (&Folder{Study: s, Schedule: schedule, Log: parsed}).Analyse()
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func close12(got *Number, want float64) bool {
	return got != nil && math.Abs(float64(*got)-want) <= 1e-8*math.Max(1, math.Abs(want))
}

// Food + block + day by lm, means at the average day by emmeans:
// testdata/reference/outcomes.R.
func TestNumbersWithADayTrendAgainstR(t *testing.T) {
	data, err := os.ReadFile("../testdata/reference/outcomes.json")
	if err != nil {
		t.Fatal(err)
	}
	type triple struct {
		Food, Contrast            string
		Mean, Estimate, Low, High float64
		DF                        float64
	}
	var ref struct {
		Cases []struct {
			Rows []struct {
				Block int
				Food  string
				Day   int
				Y     float64
				Lost  bool
			}
			Means, Differences []triple
			Trend              struct {
				PerWeek   float64 `json:"per_week"`
				Low, High float64
			}
		}
	}
	if err := json.Unmarshal(data, &ref); err != nil {
		t.Fatal(err)
	}
	if len(ref.Cases) != 4 {
		t.Fatalf("%d cases", len(ref.Cases))
	}
	s := study(t, "foods: [{id: wheat, role: reference}, lupin, oats]\nquestions: [all pairs]\noutcomes: [{id: weight, kind: weight, time: next morning}]\n")
	for n, c := range ref.Cases {
		var log strings.Builder
		for i, r := range c.Rows {
			date := Date(20000 + r.Day)
			fmt.Fprintf(&log, "---\n{date: %s, food: %s, block: %d, value: %d}\n", date, r.Food, r.Block, 20+(i*7)%11)
			if !r.Lost {
				fmt.Fprintf(&log, "---\n{measured: %s, outcomes: {weight: %v}}\n", date+1, r.Y)
			}
		}
		out := analyseOutcomes(t, s, nil, log.String()).Outcomes[0]
		for _, want := range c.Means {
			for _, got := range out.Foods {
				if got.Food == want.Food && !(close12(got.Mean, want.Mean) && close12(got.Low, want.Low) && close12(got.High, want.High)) {
					t.Errorf("case %d, %s: %v %v %v, R has %+v", n, got.Food, *got.Mean, *got.Low, *got.High, want)
				}
			}
		}
		seen := 0
		for _, want := range c.Differences {
			for _, got := range out.Questions {
				sign := 1.0
				switch want.Contrast {
				case got.B + " vs " + got.A:
					sign, want.Low, want.High = -1, want.High, want.Low
				case got.Question:
				default:
					continue
				}
				seen++
				if !(close12(got.Estimate, sign*want.Estimate) && close12(got.Low, sign*want.Low) && close12(got.High, sign*want.High)) || got.DF != int(want.DF) {
					t.Errorf("case %d, %s: %v, %v to %v on %d, R has %+v", n, got.Question, *got.Estimate, *got.Low, *got.High, got.DF, want)
				}
			}
		}
		if seen != 3 {
			t.Errorf("case %d: %d differences compared, want 3", n, seen)
		}
		if tr := out.Trend; !close12(&tr.PerWeek, c.Trend.PerWeek) || !close12(tr.Low, c.Trend.Low) || !close12(tr.High, c.Trend.High) {
			t.Errorf("case %d: trend %+v, R has %+v", n, tr, c.Trend)
		}
	}
}

// A slow climb is not credited to the food that happens to come late in most blocks:
// values that are the day and nothing else, with a little scatter put in.
func TestAClimbIsNoEffectOfAFood(t *testing.T) {
	s := study(t, twoFoods+"questions: [lupin vs wheat]\noutcomes: [{id: steps, kind: number, unit: steps}]\n")
	var log strings.Builder
	scatter := []float64{0.3, -0.2, 0.1, -0.4, 0.2, 0.35, -0.1, -0.25, 0.05, 0.15, -0.3, 0.2}
	for i, x := range scatter {
		late := i%2 == 1
		if i/2 == 3 {
			late = !late
		}
		fmt.Fprintf(&log, "---\n{date: %s, food: %s, block: %d, value: %d, outcomes: {steps: %v}}\n", Date(20000+2*i), map[bool]string{true: "lupin", false: "wheat"}[late], 1+i/2, 20+i%5, 3*float64(i)+x)
	}
	q := analyseOutcomes(t, s, nil, log.String()).Outcomes[0].Questions[0]
	if q.Verdict != outcomeOpen || *q.Low > 0 || *q.High < 0 || math.Abs(float64(*q.Estimate)) > 1 {
		t.Errorf("lupin a step later in five of six blocks: %v, %v to %v; within blocks alone it would be 2", *q.Estimate, *q.Low, *q.High)
	}
}

// With two foods once in each of six blocks, every order allowed, the draw makes the
// rank test the sign test of the blocks that differ (R binom.test: 6 of 6 has p
// 0.03125), and the difference of means the sign-flip test.
func TestRatingsAgainstTheDraw(t *testing.T) {
	s := study(t, twoFoods+"questions: [lupin vs wheat]\nplan: {start: 2027-01-01, until: 2027-03-30, repeats: 6, consecutive: allowed, seed: 5}\noutcomes: [{id: bloating, kind: rating}]\n")
	schedule, err := DrawSchedule(s, 0)
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		lupin, wheat []int
		wins, losses int
	}{
		"all lower": {[]int{2, 3, 1, 4, 2, 0}, []int{5, 4, 6, 5, 3, 7}, 0, 6},
		"mixed":     {[]int{2, 3, 1, 4, 2, 6}, []int{5, 4, 6, 4, 1, 1}, 2, 3},
	} {
		var log strings.Builder
		for i, p := range schedule.Tests {
			v := c.wheat
			if p.Food == "lupin" {
				v = c.lupin
			}
			fmt.Fprintf(&log, "---\n{date: %s, food: %s, value: %d, outcomes: {bloating: %d}}\n", p.Date, p.Food, 20+i%4, v[p.Block-1])
		}
		q := analyseOutcomes(t, s, schedule, log.String()).Outcomes[0].Questions[0]
		if want := exact.SignTest(c.wins, c.losses); !close12(q.RankP, want) || !strings.Contains(q.RankTest, "randomisation") {
			t.Errorf("%s: rank p %v by %s, the sign test has %g", name, *q.RankP, q.RankTest, want)
		}
		larger, sum := 0, 0
		for i := range 6 {
			sum += c.lupin[i] - c.wheat[i]
		}
		for flips := range 1 << 6 {
			total := 0
			for i := range 6 {
				d := c.lupin[i] - c.wheat[i]
				if flips>>i&1 == 1 {
					d = -d
				}
				total += d
			}
			if total*total >= sum*sum {
				larger++
			}
		}
		if !close12(q.P, float64(larger)/64) || !close12(q.Estimate, float64(sum)/6) {
			t.Errorf("%s: %v with p %v, flipping signs gives %g with %d of 64", name, *q.Estimate, *q.P, float64(sum)/6, larger)
		}
		wins := float64(c.wins) + float64(6-c.wins-c.losses)/2
		if !close12(q.Share, wins/6) || q.Pairs != 6 {
			t.Errorf("%s: share %v of %d pairs", name, *q.Share, q.Pairs)
		}
	}
}

// Missing is not zero, a test whose curve failed keeps its outcomes, one that the log
// leaves out does not, and no event of three is worded by the one-sided bound: 63 %
// (1 − 0.05^(1/3), Hanley and Lippman-Hand 1983).
func TestEventsAndMissingValues(t *testing.T) {
	s := study(t, twoFoods+"questions: [lupin vs wheat]\noutcomes: [{id: headache, kind: event}, {id: liking, kind: rating}]\n")
	a := analyseOutcomes(t, s, nil, `---
{date: 2027-01-01, food: wheat, block: 1, value: 40, outcomes: {headache: no, liking: 0}}
---
{date: 2027-01-03, food: lupin, block: 1, value: 20, outcomes: {headache: yes}}
---
{date: 2027-01-05, food: wheat, block: 2, value: 44, outcomes: {headache: no}}
---
{date: 2027-01-07, food: lupin, block: 2, value: 22, outcomes: {headache: no, liking: ~}}
---
{date: 2027-01-09, food: wheat, block: 2, value: 43, outcomes: {headache: no, liking: 8}}
---
{date: 2027-01-11, food: lupin, block: 2, value: 23, exclude: "ill", outcomes: {headache: yes}}
`)
	headache, liking := a.Outcomes[0], a.Outcomes[1]
	if headache.Tests != 5 || headache.NotNoted != 0 || liking.Tests != 2 || liking.NotNoted != 3 {
		t.Errorf("headache %d and %d, liking %d and %d", headache.Tests, headache.NotNoted, liking.Tests, liking.NotNoted)
	}
	if w := headache.Foods[0]; !strings.Contains(w.Text, "0 of 3: the true rate may still be as high as 63 %") || !close12(w.Upper, 1-math.Cbrt(0.05)) {
		t.Errorf("no event of three: %q", w.Text)
	}
	if !close12(liking.Foods[0].Mean, 4) || liking.Foods[1].Mean != nil {
		t.Errorf("liking: %+v", liking.Foods)
	}
	// One table of 1 and 1, one of 2 and 1: R mantelhaen.test(exact = TRUE) of
	// these is exact.Stratified, which is held against R.
	want := exact.Stratified([]exact.Table{{EventsA: 1, TrialsA: 1, TrialsB: 1}, {TrialsA: 1, TrialsB: 2}})
	if q := headache.Questions[0]; !close12(q.P, want) {
		t.Errorf("p %v, want %g", *q.P, want)
	}
	if q := liking.Questions[0]; q.Missing == "" {
		t.Errorf("liking of lupin is missing: %+v", q)
	}
}

// What is recorded of outcomes, in a test's own entry or later, reads back as it was
// meant, and what was not recorded stays missing.
func TestOutcomesReadBack(t *testing.T) {
	s := study(t, twoFoods+"outcomes: [{id: stiff, kind: rating, time: next morning}, {id: yes, kind: event}, {id: steps, kind: number}]\n")
	rapid.Check(t, func(t *rapid.T) {
		wheat, value := "wheat", rapid.Float64Range(0, 80).Draw(t, "value")
		entries := []Entry{{Date: "2027-01-11", Food: &wheat, Value: &value}}
		want := map[string]float64{}
		for id, draw := range map[string]func() (string, float64){
			"stiff": func() (string, float64) {
				x := rapid.IntRange(0, 10).Draw(t, "stiff")
				return fmt.Sprint(x), float64(x)
			},
			"yes": func() (string, float64) {
				b := rapid.Bool().Draw(t, "yes")
				return yesNo(b), map[bool]float64{true: 1}[b]
			},
			"steps": func() (string, float64) {
				x := math.Round(rapid.Float64Range(-1e6, 1e6).Draw(t, "steps")*100) / 100
				return fmt.Sprintf("%.2f", x), x
			},
		} {
			where := rapid.IntRange(0, 2).Draw(t, "where")
			if where == 0 {
				continue
			}
			text, x := draw()
			o := OutcomeEntry{ID: id, Value: text}
			want[id] = x
			if where == 1 {
				entries[0].Outcomes = append(entries[0].Outcomes, o)
				continue
			}
			late := "2027-01-11"
			if id == "stiff" {
				late = "2027-01-12"
			}
			note := rapid.String().Draw(t, "note")
			entries = append(entries, Entry{Measured: &late, Outcomes: []OutcomeEntry{o}, Note: &note})
		}
		var log []byte
		for _, e := range entries {
			log = append(log, e.Format()...)
		}
		parsed, err := ParseLog(log, s)
		if err != nil {
			if strings.Contains(err.Error(), "invisible") {
				t.Skip("a note with characters that nobody types")
			}
			t.Fatalf("%v\n%s", err, log)
		}
		got := parsed.Tests[0].Outcomes
		if len(parsed.Tests) != 1 || len(got) != len(want) {
			t.Fatalf("%v, want %v\n%s", got, want, log)
		}
		for id, x := range want {
			if got[id].Value != x {
				t.Fatalf("%s: %v, want %v\n%s", id, got[id], x, log)
			}
		}
	})
}

// The blocks of an event are added up in their order: the same study gives the same
// p-value to the last digit.
func TestEventsAreDeterministic(t *testing.T) {
	s := &Study{Foods: []Food{{ID: "a"}, {ID: "b"}}, Level: 0.95}
	var counted []Response
	for i := range 60 {
		counted = append(counted, Response{food: i % 2, Block: 1 + i/7, Value: some(float64(i * i % 11 % 2))})
	}
	var first OutcomeAnswer
	for i := range 300 {
		var out OutcomeAnswer
		s.compareEvents(newQuestion("a", "b"), counted, &out)
		if i == 0 {
			first = out
		}
		if *out.P != *first.P || *out.Smallest != *first.Smallest {
			t.Fatalf("%v, then %v", float64(*first.P), float64(*out.P))
		}
	}
}
