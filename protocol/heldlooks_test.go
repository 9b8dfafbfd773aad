package protocol

import (
	"math"
	"slices"
	"strings"
	"testing"

	"mealtrial/stats"
)

// eatenBlocks is a study of four blocks in two looks, all of them eaten.
func eatenBlocks(t *testing.T, extra string) *Folder {
	t.Helper()
	s := study(t, "foods: [a, b, c]\nquestions: [a vs b, a vs c]\nlooks: [2, 4]\n"+extra+"plan: {start: 2027-01-11, until: 2027-03-12, repeats: 4, seed: 7}\n")
	schedule, err := DrawSchedule(s, 0)
	if err != nil {
		t.Fatal(err)
	}
	f := &Folder{Study: s, Schedule: schedule, Log: &Log{}}
	eat(t, f, 0, math.MaxInt32, func(i int, p PlannedTest) float64 {
		return 30 + 4*float64(p.Block*p.Block%5) + float64(i*i%11) + float64(len(p.Food))
	})
	return f
}

// What a look took is gone: the last one has less where the first took more than the
// layout as it is now would give it, and all of alpha less that where it took none.
func TestTakenLevelsAreHeld(t *testing.T) {
	level := func(taken *Nominal) float64 {
		f := eatenBlocks(t, "")
		if taken != nil {
			f.Ledger = []Look{{Blocks: 2, Declared: true, Nominal: taken}}
		}
		a, err := f.Analyse()
		if err != nil {
			t.Fatal(err)
		}
		if a.Looks.Now != 2 || a.Looks.Nominal == nil {
			t.Fatalf("looks %+v", a.Looks)
		}
		return float64(a.Looks.Nominal.Main)
	}
	unknown, greedy, none := level(nil), level(&Nominal{Main: 0.02}), level(&Nominal{Main: 0})
	if !(greedy < unknown && unknown < none) {
		t.Errorf("levels %v after a greedy look, %v planned, %v after one that took nothing", greedy, unknown, none)
	}
	spent := level(&Nominal{Main: 0.06})
	if spent != 0 {
		t.Errorf("level %v although everything was spent", spent)
	}
}

// With blocks random by declaration the levels are simulated at the estimated ratio,
// and say so.
func TestFamilyOfRandomBlocks(t *testing.T) {
	f := eatenBlocks(t, "blocks: random\n")
	a, err := f.Analyse()
	if err != nil {
		t.Fatal(err)
	}
	if a.Family == nil || a.Family.BlockRatio == nil || !(*a.Family.BlockRatio >= 0) {
		t.Fatalf("family %+v", a.Family)
	}
	q := a.Questions[0]
	want := stats.TInterval(float64(*q.Estimate), float64(*q.SE), q.df(), 1-float64(*q.Nominal))
	if math.Abs(float64(*q.Low)-want.Low) > 1e-9 {
		t.Errorf("low %v, want %v", *q.Low, want.Low)
	}
	fixed, err := eatenBlocks(t, "").Analyse()
	if err != nil || fixed.Family.BlockRatio != nil {
		t.Errorf("fixed blocks: %+v, %v", fixed.Family, err)
	}
}

// afterBlock2 is eatenBlocks of which the first two are eaten.
func afterBlock2(t *testing.T, extra string, ledger ...Look) *Analysis {
	t.Helper()
	f := eatenBlocks(t, extra)
	f.Log.Tests = slices.DeleteFunc(f.Log.Tests, func(x Test) bool { return f.Schedule.On(x.Date).Block > 2 })
	f.Ledger = ledger
	a, err := f.Analyse()
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// A look that was taken keeps its level when the rest is laid out again or the log
// corrected, and what is asked anew says the same.
func TestLookTakenBeforeKeepsItsLevel(t *testing.T) {
	for _, extra := range []string{"", "spread_by_food: yes\n"} {
		taken := Look{Blocks: 2, Declared: true, Nominal: &Nominal{Main: 0.0123, Limits: 0.0321}}
		a := afterBlock2(t, extra, taken)
		if a.Looks.Now != 1 || a.Looks.Anytime || *a.Looks.Nominal != (Nominal{Main: 0.0123, Limits: 0.0321, Blank: a.Looks.Nominal.Blank}) {
			t.Errorf("%q: %+v, levels %+v", extra, a.Looks, a.Looks.Nominal)
		}
		q := a.Questions[0]
		want := stats.TInterval(float64(*q.Estimate), float64(*q.SE), q.df(), 1-0.0123)
		if math.Abs(float64(*q.Low)-want.Low) > 1e-9 || float64(a.Family.NominalLevel) != 1-0.0123 {
			t.Errorf("%q: low %v, want %v; family %+v", extra, *q.Low, want.Low, a.Family)
		}
	}
}

// The last declared look stays one when blocks are planned after it.
func TestLastLookStaysDeclaredWhenBlocksAreAdded(t *testing.T) {
	a := afterBlock2(t, "", Look{Blocks: 2, Declared: true, Final: true, Nominal: &Nominal{Main: 0.03}})
	if a.Looks.Anytime || a.Looks.Now != 1 || len(a.Looks.After) != 1 || a.outstanding() {
		t.Errorf("%+v", a.Looks)
	}
	if len(a.Warnings) > 0 && strings.Contains(strings.Join(a.Warnings, " "), "not a declared look") {
		t.Errorf("%q", a.Warnings)
	}
}

// With a spread by food a longer schedule does not spend more than is left.
func TestOwnSpreadHoldsTakenLevels(t *testing.T) {
	f := eatenBlocks(t, "spread_by_food: yes\n")
	f.Ledger = []Look{{Blocks: 2, Declared: true, Nominal: &Nominal{Main: 0.02}}}
	a, err := f.Analyse()
	if err != nil {
		t.Fatal(err)
	}
	if got := float64(a.Looks.Nominal.Main); math.Abs(2*(0.02+got)-0.05) > 1e-12 {
		t.Errorf("level %v after 0.02 of two questions at two looks", got)
	}
}

// Shares of questions with the blank and without do not depend on which can be
// answered yet, or a first look would spend what the others are to have.
func TestSharesStayFromLookToLook(t *testing.T) {
	s := study(t, "foods: [a, b, {id: w, role: blank}]\nquestions: [a vs b, a vs w]\nlooks: [2, 4]\nplan: {start: 2027-01-11, until: 2027-03-12, repeats: 4, seed: 7}\n")
	schedule, err := DrawSchedule(s, 0)
	if err != nil {
		t.Fatal(err)
	}
	f := &Folder{Study: s, Schedule: schedule, Log: &Log{}}
	eat(t, f, 0, math.MaxInt32, func(i int, p PlannedTest) float64 { return 30 + float64(i*i%11) })
	f.Log.Tests = slices.DeleteFunc(f.Log.Tests, func(x Test) bool { return f.Schedule.On(x.Date).Block > 2 })
	level := func() float64 {
		a, err := f.Analyse()
		if err != nil {
			t.Fatal(err)
		}
		return float64(a.Looks.Nominal.Main)
	}
	whole := level()
	for i := range f.Log.Tests {
		if f.Log.Tests[i].Food == "w" {
			f.Log.Tests[i].Exclude = "spilt"
		}
	}
	if without := level(); math.Abs(without/whole-1) > 1e-9 {
		t.Errorf("level %v with the blank tested, %v without", whole, without)
	}
}

// What a claim about a declared limit rests on is the answer of the analysis, its level
// and method too; and where earlier looks left nothing there are no bounds.
func TestClaimOfLimitIsTheAnswer(t *testing.T) {
	s := study(t, "foods: [a, b]\nquestions: [a below 45, b below 45, a vs b]\nlooks: [2, 4]\nplan: {start: 2027-01-11, until: 2027-03-12, repeats: 4, seed: 7}\n")
	schedule, err := DrawSchedule(s, 0)
	if err != nil {
		t.Fatal(err)
	}
	f := &Folder{Study: s, Schedule: schedule, Log: &Log{}}
	eat(t, f, 0, math.MaxInt32, func(i int, p PlannedTest) float64 { return 30 + float64(i*i%11) })
	for _, taken := range []Number{0.01, 0.025} {
		f.Ledger = []Look{{Blocks: 2, Declared: true, Nominal: &Nominal{Main: 0.01, Limits: taken}}}
		c, a, err := f.Claim("a under 45")
		if err != nil {
			t.Fatal(err)
		}
		q := a.Questions[0]
		if c.Level != q.Level || c.Method != q.Method || (c.High == nil) != (q.High == nil) || q.High != nil && *c.High != *q.High {
			t.Errorf("claim %+v, answer %+v", c, q)
		}
		if spent := q.High == nil; spent != (taken == 0.025) || spent && (q.Missing == "" || q.Verdict != stats.Open) {
			t.Errorf("after %v: %+v", taken, q)
		}
	}
}

// A test that was eaten on another day than planned finishes its block all the same;
// one that is not in the log does not.
func TestBlockIsFinishedByTestOnAnotherDay(t *testing.T) {
	f := eatenBlocks(t, "")
	last := len(f.Log.Tests) - 1
	f.Log.Tests[last].Date++
	f.Log.Tests[last].Block = 4
	a, err := f.Analyse()
	if err != nil || a.Looks.Finished != 4 || a.Looks.Now != 2 || a.Looks.Anytime || a.Logged != a.Planned {
		t.Errorf("a day later: %+v, %v", a.Looks, err)
	}
	for _, mend := range []func(x *Test){
		func(x *Test) { x.Block = 1 },
		func(x *Test) { x.Food = map[string]string{"a": "b", "b": "c", "c": "a"}[x.Food] },
	} {
		f := eatenBlocks(t, "")
		f.Log.Tests[last].Date++
		f.Log.Tests[last].Block = 4
		mend(&f.Log.Tests[last])
		if a, err := f.Analyse(); err != nil || a.Looks.Finished != 3 || !a.Looks.Anytime {
			t.Errorf("another test: %+v, %v", a.Looks, err)
		}
	}
}

// Without a schedule nothing counts the looks, and the answer says so.
func TestLooksWithoutScheduleAreDoubted(t *testing.T) {
	rows := []row{{"a", 0, 30}, {"b", 0, 20}, {"a", 0, 33}, {"b", 0, 24}}
	a := analyseRows(t, "foods: [a, b]\nquestions: [a vs b]\n", rows)
	if !slices.ContainsFunc(a.Warnings, func(w string) bool { return strings.HasPrefix(w, "Looks are not counted") }) {
		t.Errorf("%q", a.Warnings)
	}
}

// A question that was added after a look is not answered at a level that was taken
// without it: with two questions no level is above that of Dunnett's test at one look,
// and none of limits above alpha.
func TestQuestionAddedAfterLook(t *testing.T) {
	a := afterBlock2(t, "", Look{Blocks: 2, Declared: true, Nominal: &Nominal{Main: 0.05, Limits: 0.06}})
	b := eatenBlocks(t, "")
	b.Study.Looks = Looks{}
	b.Schedule.Tests = slices.DeleteFunc(b.Schedule.Tests, func(p PlannedTest) bool { return p.Block > 2 })
	b.Log.Tests = b.Log.Tests[:len(b.Schedule.Tests)]
	once, err := b.Analyse()
	if err != nil {
		t.Fatal(err)
	}
	if got, want := float64(a.Looks.Nominal.Main), float64(once.Looks.Nominal.Main); math.Abs(got/want-1) > 0.01 || want > 0.04 {
		t.Errorf("level %v, that of one look %v", got, want)
	}
	if got := float64(a.Looks.Nominal.Limits); got > 0.05+1e-12 {
		t.Errorf("limits at %v", got)
	}
}

// Planning a lost test again in the last block does not undo the look at the same data.
func TestLookStaysWhenItsBlockIsOpenedAgain(t *testing.T) {
	f := eatenBlocks(t, "")
	responses, _ := f.Responses()
	f.Ledger = []Look{{Blocks: 4, Declared: true, Final: true, Nominal: &Nominal{Main: 0.02}, Data: dataDigest(responses)}}
	last := f.Schedule.Tests[len(f.Schedule.Tests)-1]
	last.Date += 10
	f.Schedule.Tests = append(f.Schedule.Tests, last)
	a, err := f.Analyse()
	if err != nil || a.Looks.Anytime || a.Looks.Now != 2 || a.Looks.Nominal.Main != 0.02 {
		t.Errorf("%+v, %v", a.Looks, err)
	}
	f.Ledger[0].Data = "of other data"
	if a, err := f.Analyse(); err != nil || !a.Looks.Anytime {
		t.Errorf("other data: %+v, %v", a.Looks, err)
	}
}
