package exact

import (
	"encoding/json"
	"math"
	"os"
	"testing"

	"pgregory.net/rapid"
)

func near(got, want, relative float64) bool {
	return math.Abs(got-want) <= relative*math.Max(math.Abs(want), 1e-300)
}

// R's binom.test, fisher.test and mantelhaen.test(exact = TRUE):
// testdata/reference/counts.R.
func TestCountsAgainstR(t *testing.T) {
	data, err := os.ReadFile("../../testdata/reference/counts.json")
	if err != nil {
		t.Fatal(err)
	}
	var ref struct {
		Intervals []struct {
			Events, Trials                 int
			Level, Low, High, Upper, Lower float64
			PHalf                          float64 `json:"p_half"`
			PThreeQuarters                 float64 `json:"p_three_quarters"`
		}
		Tables []jsonTable
		Strata []struct {
			Tables [][]int
			P      float64
		}
	}
	if err := json.Unmarshal(data, &ref); err != nil {
		t.Fatal(err)
	}
	if len(ref.Intervals) != 33 || len(ref.Tables) != 8 || len(ref.Strata) != 3 {
		t.Fatalf("%d intervals, %d tables, %d strata", len(ref.Intervals), len(ref.Tables), len(ref.Strata))
	}
	for _, r := range ref.Intervals {
		i := ClopperPearson(r.Events, r.Trials, r.Level)
		for _, c := range []struct {
			name      string
			got, want float64
		}{
			{"low", i.Low, r.Low}, {"high", i.High, r.High},
			{"upper", UpperBound(r.Events, r.Trials, r.Level), r.Upper}, {"lower", LowerBound(r.Events, r.Trials, r.Level), r.Lower},
			{"p of one half", BinomialTest(r.Events, r.Trials, 0.5), r.PHalf}, {"p of three quarters", BinomialTest(r.Events, r.Trials, 0.75), r.PThreeQuarters},
		} {
			if !near(c.got, c.want, 1e-8) && math.Abs(c.got-c.want) > 1e-13 {
				t.Errorf("%d of %d at %g: %s %.12g, R has %.12g", r.Events, r.Trials, r.Level, c.name, c.got, c.want)
			}
		}
	}
	for _, r := range ref.Tables {
		if got := Fisher(Table{r.EventsA, r.TrialsA, r.EventsB, r.TrialsB}); !near(got, r.P, 1e-9) {
			t.Errorf("%+v: p %.12g", r, got)
		}
	}
	for _, r := range ref.Strata {
		var tables []Table
		for _, x := range r.Tables {
			tables = append(tables, Table{x[0], x[1], x[2], x[3]})
		}
		if got := Stratified(tables); !near(got, r.P, 1e-9) {
			t.Errorf("%v: p %.12g, R has %.12g", r.Tables, got, r.P)
		}
		if s := Smallest(tables); s > Stratified(tables)*(1+1e-9) {
			t.Errorf("%v: smallest p %g above p %g", r.Tables, s, Stratified(tables))
		}
	}
}

type jsonTable struct {
	EventsA int `json:"events_a"`
	TrialsA int `json:"trials_a"`
	EventsB int `json:"events_b"`
	TrialsB int `json:"trials_b"`
	P       float64
}

// The tea tasting: Fisher 1935, The Design of Experiments, chapter 2: all four cups
// right has 1 of 70 in one tail; three right 0.485714 on both sides.
func TestTeaTasting(t *testing.T) {
	if p := Fisher(Table{4, 4, 0, 4}); !near(p, 2.0/70, 1e-12) {
		t.Errorf("all right: p %g, want 2/70", p)
	}
	if p := Fisher(Table{3, 4, 1, 4}); !near(p, 0.485714285714, 1e-11) {
		t.Errorf("three right: p %g", p)
	}
}

// The rule of three: 3/n against 1 − 0.05^(1/n), Hanley and Lippman-Hand 1983, JAMA
// 249:1743 (the table from memory, computed again).
func TestRuleOfThree(t *testing.T) {
	for n, want := range map[int]float64{3: 0.631597, 10: 0.258866, 20: 0.139108, 30: 0.095034, 100: 0.029513} {
		got := UpperBound(0, n, 0.95)
		if math.Abs(got-want) > 5e-7 || got > 3/float64(n) {
			t.Errorf("0 of %d: %g, want %g, below 3/n", n, got, want)
		}
	}
}

// Sign tests 8 of 10 and 6 of 6 (R binom.test).
func TestSignTest(t *testing.T) {
	if p := SignTest(8, 2); !near(p, 0.109375, 1e-12) {
		t.Errorf("8 of 10: %g", p)
	}
	if p := SignTest(0, 6); !near(p, 0.03125, 1e-12) {
		t.Errorf("6 of 6: %g", p)
	}
	if p := SignTest(0, 0); p != 1 {
		t.Errorf("no change: %g", p)
	}
}

// Pairs as tables are McNemar's exact test, and turning events round changes nothing.
func TestPairsAreTheSignTest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := rapid.IntRange(0, 12).Draw(t, "a"), rapid.IntRange(0, 12).Draw(t, "b")
		var tables, turned []Table
		for range a {
			tables = append(tables, Table{1, 1, 0, 1})
		}
		for range b {
			tables = append(tables, Table{0, 1, 1, 1})
		}
		tables = append(tables, Table{1, 1, 1, 1}, Table{0, 1, 0, 1})
		for _, x := range tables {
			turned = append(turned, Table{x.TrialsA - x.EventsA, x.TrialsA, x.TrialsB - x.EventsB, x.TrialsB})
		}
		if p, want := Stratified(tables), SignTest(a, b); !near(p, want, 1e-9) || !near(Stratified(turned), want, 1e-9) {
			t.Fatalf("%d against %d: %g, want %g", a, b, p, want)
		}
	})
}

// The interval holds the rate with at least its level, for rates over (0, 1): the
// coverage is added up over all counts.
func TestClopperPearsonKeepsItsLevel(t *testing.T) {
	for _, n := range []int{1, 3, 7, 20} {
		for rate := 0.005; rate < 1; rate += 0.005 {
			covered := 0.0
			for k := 0; k <= n; k++ {
				if ClopperPearson(k, n, 0.95).Contains(rate) {
					covered += binomial(k, n, rate)
				}
			}
			if covered < 0.95-1e-9 {
				t.Errorf("n %d, rate %g: coverage %g", n, rate, covered)
			}
		}
	}
}

func TestImpossibleCountsPanic(t *testing.T) {
	for name, f := range map[string]func(){
		"more events than trials": func() { ClopperPearson(4, 3, 0.95) },
		"no trials":               func() { UpperBound(0, 0, 0.95) },
		"level":                   func() { ClopperPearson(1, 3, 1) },
		"negative":                func() { SignTest(-1, 3) },
		"rate":                    func() { BinomialTest(1, 2, math.NaN()) },
		"table":                   func() { Fisher(Table{3, 2, 0, 1}) },
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s: no panic", name)
				}
			}()
			f()
		}()
	}
}
