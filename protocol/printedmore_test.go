package protocol

import (
	"fmt"
	"strings"
	"testing"
)

// A drift of the responses is told per week. R 4.2.2: 7 times the coefficient of the day
// in lm(y ~ f + d) is 5.325.
func TestDriftIsToldPerWeek(t *testing.T) {
	s := study(t, "foods: [a, b]\n")
	var log strings.Builder
	for i, y := range []float64{31, 44, 33, 47, 36, 52, 40, 51, 42, 58, 45, 60} {
		fmt.Fprintf(&log, "---\n{date: %s, food: %s, value: %v}\n", Date(20000+2*i), []string{"a", "b"}[i%2], y)
	}
	parsed, err := ParseLog([]byte(log.String()), s)
	if err != nil {
		t.Fatal(err)
	}
	a, err := (&Folder{Study: s, Log: parsed}).Analyse()
	if err != nil {
		t.Fatal(err)
	}
	if all := strings.Join(a.Warnings, "\n"); !strings.Contains(all, "drift over the study by about 5.3") {
		t.Error(all)
	}
	if a.Model != "response = food + error, least squares" || a.BetweenDaysSD != nil {
		t.Errorf("without blocks: %s, %v", a.Model, a.BetweenDaysSD)
	}
}

// An event each time is worded by its one-sided lower bound, 0.05^(1/3) = 0.368 for 3 of
// 3; shares have the limits of Clopper and Pearson (R 4.2.2, binom.test(2, 5)).
func TestSharesOfEvents(t *testing.T) {
	s := study(t, twoFoods+"questions: [lupin vs wheat]\noutcomes: [{id: headache, kind: event}, {id: liking, kind: rating}, {id: taste, kind: rating, range: [1, 6]}]\n")
	var log strings.Builder
	for i, event := range []string{"yes", "yes", "yes", "yes", "no", "no", "no", "yes"} {
		food := "wheat"
		if i >= 3 {
			food = "lupin"
		}
		fmt.Fprintf(&log, "---\n{date: %s, food: %s, value: %d, outcomes: {headache: %s, liking: %d, taste: 3}}\n", Date(20000+i), food, 40+i*i%7, event, i)
	}
	a := analyseOutcomes(t, s, nil, log.String())
	wheat, lupin := a.Outcomes[0].Foods[0], a.Outcomes[0].Foods[1]
	if want := "3 of 3: the true rate may still be as low as 37 % (one-sided 95 %)"; wheat.Text != want {
		t.Errorf("%q, want %q", wheat.Text, want)
	}
	near(t, "share", float64(*lupin.Mean), 0.4, 1e-12)
	near(t, "low", float64(*lupin.Low), 0.0527449505, 1e-8)
	near(t, "high", float64(*lupin.High), 0.853367200, 1e-8)
	// 2 of 10 points, and as much of the 5 points from 1 to 6.
	near(t, "what matters", float64(*a.Outcomes[1].Matters), 2, 1e-12)
	near(t, "what matters from 1 to 6", float64(*a.Outcomes[2].Matters), 1, 1e-12)
}

// The next test that narrows a difference most is of the food with fewest tests, as its
// variance is 1/n + 1/m (by hand); free dates keep the washout from the last test on.
func TestNextTestAndDates(t *testing.T) {
	s := study(t, "foods: [a, b, c]\nquestions: [a vs b]\nplan: {start: 2027-01-11, until: 2027-02-28, washout: 2}\n")
	parsed, err := ParseLog([]byte("---\n{date: 2027-01-11, food: a, value: 30}\n---\n{date: 2027-01-14, food: c, value: 12}\n---\n{date: 2027-01-17, food: a, value: 33}\n---\n{date: 2027-01-20, food: b, value: 41}\n"), s)
	if err != nil {
		t.Fatal(err)
	}
	f := &Folder{Study: s, Log: parsed}
	x, err := f.analyse()
	if err != nil {
		t.Fatal(err)
	}
	if got := f.narrowsMost(x.models); got != "b" {
		t.Errorf("narrows most: %q", got)
	}
	from, _ := ParseDate("2027-01-01")
	if got := fmt.Sprint(f.freeDates(from, 3)); got != "[2027-01-23 2027-01-26 2027-01-29]" {
		t.Errorf("free dates %s", got)
	}
}
