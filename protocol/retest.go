package protocol

import (
	"fmt"
	"math"
	"sync"

	"mealtrial/design"
	"mealtrial/stats"
	"mealtrial/stats/additive"
)

// A Retest says for each question whether it is settled, and what it would take.
// As JSON it is a contract like Analysis.
type Retest struct {
	Questions []RetestAdvice `json:"questions"`
	Repeat    []Excluded     `json:"repeat_first"` // tests that did not count
	// Narrows is the single further test that narrows the intervals of the
	// declared questions most, in the last block; "" where none does.
	Narrows string   `json:"next_test_that_narrows_most"`
	Dates   []Date   `json:"next_free_dates"`
	Method  string   `json:"method"`
	Seed    uint64   `json:"seed"`
	Apply   []string `json:"apply"` // foods that --apply hands to replan, in order
	Caution string   `json:"caution"`
}

// A RetestAdvice is the advice on one question.
type RetestAdvice struct {
	Question string        `json:"question"`
	Verdict  stats.Verdict `json:"verdict"`
	Settled  bool          `json:"settled"`
	Foods    []string      `json:"foods"`
	// More is how many further tests of each food settle the question with a
	// chance of at least Wanted; nil where MostBlocks are not enough.
	More   *int    `json:"more_tests_of_each"`
	Chance *Number `json:"chance"`       // with that many, or with MostBlocks
	Error  *Number `json:"chance_error"` // Monte Carlo standard error
	Wanted Number  `json:"wanted_chance"`
	Futile bool    `json:"futile"`
	Why    string  `json:"why"`
}

const (
	retestBlocks      = 20
	retestWanted      = 0.8 // customary power; common practice, no source
	retestFutile      = 0.2 // below it conditional power is commonly called futile; common practice, no source
	retestSimulations = 4000
	retestSeed        = 1
)

// Retest advises on further tests, from a date on. While declared looks are
// outstanding the further blocks are decided at the nominal level of the last
// look; after them by the anytime-valid interval of the block contrasts. The
// error is that of Analyse.
func (f *Folder) Retest(from Date) (*Retest, *Analysis, error) {
	x, err := f.analyse()
	if err != nil {
		return nil, nil, err
	}
	a, m := x.Analysis, x.models
	out := &Retest{Questions: []RetestAdvice{}, Repeat: []Excluded{}, Dates: []Date{}, Apply: []string{}, Seed: retestSeed, Caution: ShortCaution,
		Method: fmt.Sprintf("predictive chances from %d simulated futures, the uncertainty of the spread carried along; settled: any verdict but %q", retestSimulations, stats.Open.Words())}
	for _, e := range a.Excluded {
		if e.Reason != runInReason {
			out.Repeat = append(out.Repeat, e)
		}
	}
	planned := sync.OnceValue(f.PlannedLevels)
	most := 0
	needed := map[string]int{}
	for i, q := range f.Study.Questions {
		advice := f.advise(a, a.Questions[i], q, m, planned)
		out.Questions = append(out.Questions, advice)
		if advice.More == nil || advice.Settled {
			continue
		}
		for _, food := range advice.Foods {
			needed[food] = max(needed[food], *advice.More)
			most = max(most, *advice.More)
		}
	}
	outstanding := 0 // blocks that are still to come count towards them
	if blocks := f.blocksInTime(); len(blocks) > 0 {
		outstanding = len(blocks) - a.Looks.Finished
	}
	for n := outstanding; n < most; n++ {
		for _, food := range f.Study.Foods {
			if needed[food.ID] > n {
				out.Apply = append(out.Apply, food.ID)
			}
		}
	}
	out.Narrows = f.narrowsMost(m)
	out.Dates = f.freeDates(from, max(1, len(out.Apply)))
	return out, a, nil
}

// advise looks for the fewest further blocks that settle one question.
func (f *Folder) advise(a *Analysis, answer Answer, q Question, m models, planned func() Levels) RetestAdvice {
	s := f.Study
	out := RetestAdvice{Question: q.Text, Verdict: answer.Verdict, Wanted: retestWanted, Foods: []string{}}
	for _, i := range s.foodsOf(q) {
		out.Foods = append(out.Foods, s.Foods[i].ID)
	}
	if out.Settled = answer.Verdict != stats.Open; out.Settled {
		out.Why = "settled: " + answer.Verdict.Words()
		return out
	}
	o := f.outlook(a, answer, q, m, planned)
	if o.settled == nil {
		out.Why = "not known yet: " + o.none
		return out
	}
	predict := func(n int) (float64, float64) { return o.state.Chance(n, retestSimulations, retestSeed, o.settled) }
	best, bestError, at := 0.0, 0.0, 0
	for n := 1; n <= retestBlocks; n++ {
		if p, se := predict(n); p > best {
			best, bestError, at = p, se, n
		}
		if best >= retestWanted {
			break
		}
	}
	out.Chance, out.Error = some(best), some(bestError)
	if best >= retestWanted {
		out.More = &at
		out.Why = o.how
		return out
	}
	if out.Futile = best < retestFutile; out.Futile {
		out.Why = fmt.Sprintf("further tests are unlikely to settle it: with %d of each the chance is %s; leave it open", retestBlocks, chance(best))
		return out
	}
	out.Why = fmt.Sprintf("even %d further tests of each settle it with a chance of %s only", at, chance(best))
	return out
}

// narrowsMost is the food whose one further test, in the last block, makes the sum
// of the questions' variances smallest; a primary question counts more.
func (f *Folder) narrowsMost(m models) (food string) {
	s, sample := f.Study, m.main
	if sample.fit == nil || len(sample.obs) == 0 {
		return ""
	}
	last := 0
	for _, o := range sample.obs {
		last = max(last, o.Block)
	}
	sum := func(obs []additive.Observation) float64 {
		fit, total := additive.NewFit(obs), 0.0
		for _, c := range s.contrasts() {
			if len(c.Coefficients) > fit.Treatments {
				c.Coefficients = c.Coefficients[:fit.Treatments]
			}
			e, err := fit.Contrast(c.Coefficients)
			if err != nil {
				return math.Inf(1)
			}
			total += c.Weight * e.Factor * e.Factor
		}
		return total
	}
	for _, c := range s.contrasts() { // a question with the blank, or with an untested food, is of another fit
		for i, w := range c.Coefficients {
			if w != 0 && (i >= sample.fit.Treatments || s.Foods[i].Role == RoleBlank) {
				return ""
			}
		}
	}
	best := sum(sample.obs)
	for i, candidate := range s.Foods {
		if candidate.Role == RoleBlank {
			continue
		}
		obs := append(append([]additive.Observation(nil), sample.obs...), additive.Observation{Treatment: i, Block: last})
		if v := sum(obs); v < best-1e-12 {
			best, food = v, candidate.ID
		}
	}
	return food
}

// freeDates are the next days on which tests may be held, at most so many.
func (f *Folder) freeDates(from Date, most int) []Date {
	s := f.Study
	if s.Plan == nil {
		return []Date{}
	}
	for _, t := range f.Log.Tests {
		from = max(from, t.Date+1+Date(max(s.Plan.Washout, s.Plan.After[t.Food])))
	}
	dates := []Date{}
	longer := *s
	plan := *s.Plan
	longer.Plan = &plan
	var days []int
	for _, d := range longer.freeDays(max(plan.Until, from) + longestPlan/10) {
		if Date(d) >= from && design.Room(append(days, d), plan.Washout, plan.PerWeek) > len(days) {
			days = append(days, d)
			dates = append(dates, Date(d))
			if len(dates) == most {
				break
			}
		}
	}
	return dates
}

// ApplyRetest adds the tests of an advice to the study, for Replan to lay out.
func (f *Folder) ApplyRetest(r *Retest) {
	for _, id := range r.Apply {
		f.extra = append(f.extra, f.Study.Food(id))
	}
}
