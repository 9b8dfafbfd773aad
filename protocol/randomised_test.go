package protocol

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"mealtrial/design"
	"mealtrial/stats"
)

// eat logs the planned tests from one date up to another, each with the value
// that respond gives it; NaN: excluded.
func eat(t interface{ Fatal(...any) }, f *Folder, from, before Date, respond func(i int, p PlannedTest) float64) {
	var log strings.Builder
	for i, p := range f.Schedule.Tests {
		if p.Date < from || p.Date >= before {
			continue
		}
		if y := respond(i, p); math.IsNaN(y) {
			fmt.Fprintf(&log, "---\n{date: %s, food: %s, value: 1, exclude: lost}\n", p.Date, p.Food)
		} else {
			fmt.Fprintf(&log, "---\n{date: %s, food: %s, value: %v}\n", p.Date, p.Food, y)
		}
	}
	if log.Len() == 0 {
		return
	}
	parsed, err := ParseLog([]byte(log.String()), f.Study)
	if err != nil {
		t.Fatal(err)
	}
	f.Log.Tests = append(f.Log.Tests, parsed.Tests...)
}

// From a log to the p-value of each question, against every exchange of the two
// foods within the blocks with the t statistic of R's lm:
// testdata/reference/draw.R. The schedules are those that the seeds draw.
func TestRandomisationAgainstR(t *testing.T) {
	var ref struct {
		Studies []struct {
			Name  string
			Study string
			Food  []string
			Block []int
			Y     []*float64
			Tests []struct {
				A, B        string
				Orders      int
				P, Smallest float64
			}
		}
	}
	readReference(t, "draw.json", &ref)
	for _, x := range ref.Studies {
		s := study(t, x.Study)
		schedule, err := DrawSchedule(s, 0)
		if err != nil {
			t.Fatal(err)
		}
		f := &Folder{Study: s, Schedule: schedule, Log: &Log{}}
		eat(t, f, 0, math.MaxInt32, func(i int, p PlannedTest) float64 {
			if p.Food != x.Food[i] || p.Block != x.Block[i] {
				t.Fatalf("%s: test %d is %s in block %d, the reference is of %s in block %d", x.Name, i, p.Food, p.Block, x.Food[i], x.Block[i])
			}
			if x.Y[i] == nil {
				return math.NaN()
			}
			return *x.Y[i]
		})
		a, err := f.Analyse()
		if err != nil {
			t.Fatal(err)
		}
		for i, want := range x.Tests {
			r := a.Questions[i].Randomisation
			if r == nil || r.P == nil || !r.Exact {
				t.Fatalf("%s, %s: %+v", x.Name, a.Questions[i].Question, r)
			}
			if math.Abs(float64(*r.P)-want.P) > 1e-12 || math.Abs(float64(*r.Smallest)-want.Smallest) > 1e-12 || r.Orders.Number != fmt.Sprint(want.Orders) {
				t.Errorf("%s, %s: p %v, smallest %v, %s orders; R has %v, %v, %d", x.Name, a.Questions[i].Question, *r.P, *r.Smallest, r.Orders.Number, want.P, want.Smallest, want.Orders)
			}
		}
	}
}

// A schedule that was laid out again is drawn again from its seeds, and each test
// that counts has its place.
func TestAmendedSchedulesAreDrawnAgain(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		foods := rapid.IntRange(2, 4).Draw(t, "foods")
		var ids []string
		for i := range foods {
			ids = append(ids, fmt.Sprintf("food%d", i+1))
		}
		extra := rapid.SampledFrom([]string{"", ", run_in: 1", ", per_week: 3", ", busy: [2027-01-20..2027-01-24]"}).Draw(t, "extra")
		role := ""
		if extra == ", run_in: 1" {
			role = ", role: reference"
		}
		s := study(t, fmt.Sprintf("foods:\n  - {id: %s%s}\n  - %s\nquestions: [all pairs]\nplan: {start: 2027-01-11, until: 2027-12-12, repeats: %d, washout: 1%s}\n",
			ids[0], role, strings.Join(ids[1:], "\n  - "), rapid.IntRange(2, 5).Draw(t, "repeats"), extra))
		schedule, err := DrawSchedule(s, 0)
		if err != nil {
			t.Fatal(err)
		}
		f := &Folder{Study: s, Schedule: schedule, Log: &Log{}}
		from := Date(0)
		random := rapid.Uint64().Draw(t, "responses")
		respond := func(i int, p PlannedTest) float64 {
			random = random*6364136223846793005 + 1442695040888963407
			if random>>61 == 0 {
				return math.NaN()
			}
			return float64(random>>56) / 4
		}
		for range rapid.IntRange(0, 2).Draw(t, "amendments") {
			last := f.Schedule.Tests[len(f.Schedule.Tests)-1].Date
			until := from + Date(rapid.IntRange(0, int(last-max(from, s.Plan.Start))+2).Draw(t, "eaten until"))
			until = max(until, s.Plan.Start)
			eat(t, f, from, until, respond)
			if rapid.Bool().Draw(t, "more") {
				f.extra = []int{0, 1}
			}
			next, err := f.Replan(until, until, "tester", "flu", 0)
			if err != nil {
				t.Skip(err)
			}
			f.Schedule, f.extra, from = next.file, nil, until
		}
		again, err := ParseSchedule(f.Schedule.Format(), s)
		if err != nil {
			t.Fatal(err)
		}
		f.Schedule = again
		eat(t, f, from, math.MaxInt32, respond)
		parts, ok := f.parts()
		if !ok {
			t.Fatalf("not drawn again: %s", f.Schedule.Format())
		}
		if _, err := design.NewExchange(parts, []int{0, 1}); err != nil {
			t.Fatal(err)
		}
		responses, _ := f.Responses()
		j := judge{f: f, parts: parts}
		for _, r := range responses {
			if r.Counts() {
				j.responses = append(j.responses, r)
			}
		}
		if d, off := j.data(true); off != 0 {
			t.Fatalf("%d tests have no place: %v", off, d)
		}
	})
}

// A schedule that its seed does not draw is held against nothing.
func TestNoRandomisationWithoutTheDraw(t *testing.T) {
	s := study(t, "foods: [a, b]\nplan: {start: 2027-01-11, until: 2027-03-12, repeats: 4}\nquestions: [a vs b]\n")
	schedule, err := DrawSchedule(s, 0)
	if err != nil {
		t.Fatal(err)
	}
	schedule.Seed++
	f := &Folder{Study: s, Schedule: schedule, Log: &Log{}}
	eat(t, f, 0, math.MaxInt32, func(i int, p PlannedTest) float64 { return float64(i * i % 7) })
	a, err := f.Analyse()
	if err != nil {
		t.Fatal(err)
	}
	if r := a.Questions[0].Randomisation; r.P != nil || !strings.Contains(r.Missing, "the seeds do not draw this schedule") || a.Schedules != nil {
		t.Errorf("%+v", r)
	}
}

// The interval on request holds what the test does not reject: with two foods in
// blocks of two it is that of the signed differences of Darwin's Zea data (Fisher
// 1935, The Design of Experiments, section 21): p = 863 · 2 / 32768.
func TestInvertedRandomisationOfDarwinsData(t *testing.T) {
	// Differences in eighths of an inch.
	differences := []float64{49, -67, 8, 16, 6, 23, 28, 41, 14, 29, 56, 24, 75, 60, -48}
	s := study(t, "foods: [crossed, selfed]\nplan: {start: 2027-01-11, until: 2027-12-12, repeats: 15}\nquestions: [crossed vs selfed]\n")
	schedule, err := DrawSchedule(s, 0)
	if err != nil {
		t.Fatal(err)
	}
	f := &Folder{Study: s, Schedule: schedule, Log: &Log{}, Invert: true}
	eat(t, f, 0, math.MaxInt32, func(i int, p PlannedTest) float64 {
		if p.Food == "crossed" {
			return 100 + differences[p.Block-1]
		}
		return 100
	})
	a, err := f.Analyse()
	if err != nil {
		t.Fatal(err)
	}
	r := a.Questions[0].Randomisation
	if want := 1726.0 / 32768; !r.Exact || math.Abs(float64(*r.P)-want) > 1e-11 {
		t.Errorf("p %v, Fisher has %v", *r.P, want)
	}
	if r.Low == nil || r.High == nil || !(*r.Low < 0 && *r.High > Number(314.0/15)) {
		t.Fatalf("interval %+v", r)
	}
	// By brute force: at either limit the test does not reject at 5 %, a little beyond it does.
	p := func(delta float64) float64 {
		larger, observed := 0, 0.0
		for _, d := range differences {
			observed += d - delta
		}
		for signs := range 1 << 15 {
			sum := 0.0
			for i, d := range differences {
				if signs>>i&1 == 1 {
					sum += d - delta
				} else {
					sum -= d - delta
				}
			}
			if math.Abs(sum) >= math.Abs(observed)-1e-9 {
				larger++
			}
		}
		return float64(larger) / (1 << 15)
	}
	low, high := float64(*r.Low), float64(*r.High)
	for _, x := range []struct {
		at   float64
		kept bool
	}{{low + 1e-6, true}, {low - 1e-6, false}, {high - 1e-6, true}, {high + 1e-6, false}} {
		if kept := p(x.at) > 0.05; kept != x.kept {
			t.Errorf("a difference of %v: p %v", x.at, p(x.at))
		}
	}
	if !(stats.Interval{Low: low, High: high}).Contains(314.0 / 15) {
		t.Error("the estimate lies outside")
	}
}
