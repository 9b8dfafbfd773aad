package protocol

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"mealtrial/stats/exact"
)

// eventOutcome gives the rate of each food its exact interval, and compares foods by
// an exact conditional test.
func (f *Folder) eventOutcome(r *OutcomeResult, counted []Response) {
	s := f.Study
	r.Method = "Clopper-Pearson intervals, as if each test were an independent chance; exact conditional tests; each for itself, in no family"
	for i, food := range s.Foods {
		of := OutcomeFood{Food: food.ID, Level: Number(s.Level)}
		yes := 0
		for _, x := range counted {
			if x.food == i {
				of.Tests++
				yes += int(*x.Value)
			}
		}
		of.Yes = &yes
		if of.Tests > 0 {
			limits := exact.ClopperPearson(yes, of.Tests, s.Level)
			of.Mean, of.Low, of.High = some(float64(yes)/float64(of.Tests)), some(limits.Low), some(limits.High)
			of.zero(yes)
		}
		r.Foods = append(r.Foods, of)
	}
	for _, q := range s.pairsAsked() {
		out := s.outcomeAnswer(q, counted)
		if out.Missing == "" {
			s.compareEvents(q, counted, &out)
		}
		r.Questions = append(r.Questions, out)
	}
}

// zero says what no event, or an event each time, does not show.
func (o *OutcomeFood) zero(yes int) {
	switch yes {
	case 0:
		o.Upper = some(exact.UpperBound(0, o.Tests, rateLevel))
		o.Text = fmt.Sprintf("0 of %d: the true rate may still be as high as %s (one-sided %s)", o.Tests, wholePercent(float64(*o.Upper), math.Ceil), Percent(rateLevel))
		if least := int(math.Ceil(3 / 0.1)); o.Tests < least {
			o.Text += fmt.Sprintf("; by the rule of three it takes %d tests without one to show a rate below 10 %%", least)
		}
	case o.Tests:
		o.Lower = some(exact.LowerBound(yes, o.Tests, rateLevel))
		o.Text = fmt.Sprintf("%d of %d: the true rate may still be as low as %s (one-sided %s)", yes, o.Tests, wholePercent(float64(*o.Lower), math.Floor), Percent(rateLevel))
	}
}

// wholePercent rounds a share to a whole percentage: to the nearest where that says
// no less, as 63.2 % is called 63 %.
func wholePercent(x float64, outward func(float64) float64) string {
	if n := math.Round(100 * x); n >= 1 && n <= 99 {
		return fmt.Sprintf("%.0f %%", n)
	}
	return fmt.Sprintf("%.0f %%", outward(100*x))
}

// compareEvents compares two foods within blocks, where there are any.
func (s *Study) compareEvents(q Question, counted []Response, out *OutcomeAnswer) {
	tables := map[int]exact.Table{}
	a, b := s.Food(q.A), s.Food(q.B)
	var all exact.Table
	for _, r := range counted {
		t := tables[r.Block]
		switch r.food {
		case a:
			t.TrialsA, t.EventsA = t.TrialsA+1, t.EventsA+int(*r.Value)
			all.TrialsA, all.EventsA = all.TrialsA+1, all.EventsA+int(*r.Value)
		case b:
			t.TrialsB, t.EventsB = t.TrialsB+1, t.EventsB+int(*r.Value)
			all.TrialsB, all.EventsB = all.TrialsB+1, all.EventsB+int(*r.Value)
		}
		tables[r.Block] = t
	}
	out.Estimate = some(float64(all.EventsA)/float64(all.TrialsA) - float64(all.EventsB)/float64(all.TrialsB))
	var used []exact.Table
	pairs := true
	for _, block := range slices.Sorted(maps.Keys(tables)) { // so that a p has the same last digit each time
		t := tables[block]
		if t.TrialsA > 0 && t.TrialsB > 0 {
			used = append(used, t)
			pairs = pairs && t.TrialsA == 1 && t.TrialsB == 1
		}
	}
	if len(used) == 0 {
		out.Missing = "no block has a value of both foods"
		return
	}
	switch {
	case len(used) == 1:
		out.Test = "Fisher's exact test"
	case pairs:
		out.Test = "McNemar's exact test of the blocks in which the two differ"
	default:
		out.Test = "exact conditional test within blocks"
	}
	p := exact.Stratified(used)
	out.P, out.Smallest = some(p), some(exact.Smallest(used))
	if p <= 1-s.Level {
		out.Verdict = outcomeDiffer
	}
}
