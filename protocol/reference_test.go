package protocol

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"
)

func readReference(t *testing.T, name string, into any) {
	t.Helper()
	data, err := os.ReadFile("../testdata/reference/" + name)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(data, into); err != nil {
		t.Fatal(err)
	}
}

// From a typed log to the fields of the result, against R's lm and emmeans:
// testdata/reference/blocked.R; and the spread whatever the block, residual SD of
// lm(y ~ food): between.R. In the result numbers have twelve digits.
func TestAnalysisAgainstR(t *testing.T) {
	type spread struct {
		Name          string
		SD, Low, High float64
		DF            int
	}
	var between struct{ Layouts []spread }
	readReference(t, "between.json", &between)
	byName := map[string]spread{}
	for _, s := range between.Layouts {
		byName[s.Name] = s
	}
	var ref struct {
		Layouts []struct {
			Name          string
			Rows          []row
			DF            int
			Sigma         float64
			SDLow         float64 `json:"sd_low"`
			SDHigh        float64 `json:"sd_high"`
			Repeatability float64
			Means         []struct {
				Food            string
				Mean, Low, High float64
				Tests           int
			}
			Differences []struct {
				A, B                    string
				Estimate, SE, Low, High float64
			}
		}
	}
	readReference(t, "blocked.json", &ref)
	compared := 0
	for _, l := range ref.Layouts {
		var ids []string
		for _, m := range l.Means {
			ids = append(ids, m.Food)
		}
		a := analyseRows(t, fmt.Sprintf("foods: [%s]\nquestions: [all pairs]\n", strings.Join(ids, ", ")), l.Rows)
		check := func(what string, got *Number, want float64) {
			t.Helper()
			compared++
			if got == nil || math.Abs(float64(*got)-want) > 1e-9*math.Max(1, math.Abs(want)) {
				t.Errorf("%s: %s %v, R has %.12g", l.Name, what, got, want)
			}
		}
		check("within_person_sd", a.WithinPersonSD.Value, l.Sigma)
		check("its low", a.WithinPersonSD.Low, l.SDLow)
		check("its high", a.WithinPersonSD.High, l.SDHigh)
		check("repeatability_limit", a.RepeatabilityLimit, l.Repeatability)
		if a.WithinPersonSD.DF != l.DF {
			t.Errorf("%s: df %d, R has %d", l.Name, a.WithinPersonSD.DF, l.DF)
		}
		for i, m := range l.Means {
			check("mean of "+m.Food, a.Foods[i].Mean, m.Mean)
			check("its low", a.Foods[i].Low, m.Low)
			check("its high", a.Foods[i].High, m.High)
			if a.Foods[i].Tests != m.Tests {
				t.Errorf("%s: %d tests of %s, R has %d", l.Name, a.Foods[i].Tests, m.Food, m.Tests)
			}
		}
		if len(a.Questions) != len(l.Differences) {
			t.Fatalf("%s: %d questions, R has %d differences", l.Name, len(a.Questions), len(l.Differences))
		}
		for i, d := range l.Differences {
			q := a.Questions[i]
			if q.A != d.A || q.B != d.B {
				t.Fatalf("%s: question %s, R has %s - %s", l.Name, q.Question, d.A, d.B)
			}
			check(q.Question, q.Estimate, d.Estimate)
			check("its se", q.SE, d.SE)
			check("its low", q.PlainLow, d.Low)
			check("its high", q.PlainHigh, d.High)
		}
		if s, ok := byName[l.Name]; ok && a.BetweenDaysSD != nil {
			check("between_days_sd", a.BetweenDaysSD.Value, s.SD)
			check("its low", a.BetweenDaysSD.Low, s.Low)
			check("its high", a.BetweenDaysSD.High, s.High)
			if a.BetweenDaysSD.DF != s.DF {
				t.Errorf("%s: between days df %d, R has %d", l.Name, a.BetweenDaysSD.DF, s.DF)
			}
		}
	}
	if compared < 500 {
		t.Errorf("only %d numbers were compared", compared)
	}
}

// Student's sleep data, people as blocks, looked at before the end: with g = 1
// the anytime-valid 95 % limits of the ten differences are -3.08518731 and
// -0.07481269 (formula of Lindon et al., arXiv 2210.08589, computed with R).
func TestAnytimeLimitsOfTheSleepData(t *testing.T) {
	var ref struct {
		Sleep struct {
			Rows []struct {
				Block     int
				Treatment string
				Value     float64
			}
		}
	}
	readReference(t, "classic.json", &ref)
	s := study(t, "foods: [drug1, drug2]\nquestions: [drug1 vs drug2]\n")
	var log strings.Builder
	schedule := &Schedule{StudyDigest: s.Digest}
	for i, r := range ref.Sleep.Rows {
		date := Date(20000 + i)
		fmt.Fprintf(&log, "---\n{date: %s, food: %s, block: %d, value: %v}\n", date, r.Treatment, r.Block, r.Value)
		schedule.Tests = append(schedule.Tests, PlannedTest{Date: date, Block: r.Block, Food: r.Treatment})
	}
	schedule.Tests = append(schedule.Tests, PlannedTest{Date: 30000, Block: 11, Food: "drug1"})
	parsed, err := ParseLog([]byte(log.String()), s)
	if err != nil {
		t.Fatal(err)
	}
	a, err := (&Folder{Study: s, Log: parsed, Schedule: schedule}).Analyse()
	if err != nil {
		t.Fatal(err)
	}
	q := a.Questions[0]
	if q.Anytime == nil || q.Anytime.Blocks != 10 || math.Abs(float64(*q.Anytime.Low)+3.08518731) > 1e-8 || math.Abs(float64(*q.Anytime.High)+0.07481269) > 1e-8 {
		t.Errorf("anytime-valid limits %+v", q.Anytime)
	}
	// The plain interval beside it is that of the paired t-test.
	if math.Abs(float64(*q.PlainLow)+2.459885763277) > 1e-11 || math.Abs(float64(*q.PlainHigh)+0.700114236723) > 1e-11 {
		t.Errorf("plain limits %v and %v", *q.PlainLow, *q.PlainHigh)
	}
}
