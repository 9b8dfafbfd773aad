package protocol

import (
	"math"
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

// Shares of the error rate by Bonferroni never add up to more than it, however many
// looks come later.
func TestSharesOfLooksAddUp(t *testing.T) {
	f := eatenBlocks(t, "spread_by_food: yes\n")
	f.Ledger = []Look{{Blocks: 2, Declared: true, Nominal: &Nominal{Main: 0.02, Blank: 0.02, Limits: 0.04}}}
	a, err := f.Analyse()
	if err != nil {
		t.Fatal(err)
	}
	if got := float64(a.Looks.Nominal.Main); math.Abs(got-(0.025-0.02)) > 1e-12 {
		t.Errorf("two questions at the last of two looks: %v each, 0.02 of 0.025 were taken", got)
	}
	if got := float64(a.Looks.Nominal.Limits); math.Abs(got-0.01) > 1e-12 {
		t.Errorf("limits: %v", got)
	}
}
