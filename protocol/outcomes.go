package protocol

import (
	"fmt"
	"math"
	"slices"

	"mealtrial/stats/additive"
)

// An OutcomeResult is what the tests say about one secondary outcome. Nothing in it
// is in the family of the main questions: each interval and each p-value is for
// itself, at this look.
type OutcomeResult struct {
	ID         string          `json:"id"`
	Name       string          `json:"name"`
	Kind       OutcomeKind     `json:"kind"`
	Scale      string          `json:"scale"` // unit, or range of points
	When       When            `json:"time"`
	Secondary  bool            `json:"secondary"`   // always: it is in no family
	Tests      int             `json:"tests"`       // with a value
	NotNoted   int             `json:"not_noted"`   // tests that could count, without one: missing, not zero
	Method     string          `json:"method"`      //
	Matters    *Number         `json:"matters"`     // smallest difference that matters
	MattersWhy string          `json:"matters_why"` // where it is from
	Foods      []OutcomeFood   `json:"foods"`
	Trend      *OutcomeTrend   `json:"day_trend"` // of a number; nil: not estimated
	Questions  []OutcomeAnswer `json:"questions"`
	Notes      []string        `json:"notes"`
}

// An OutcomeFood is one food's part of an outcome.
type OutcomeFood struct {
	Food  string  `json:"food"`
	Tests int     `json:"tests"`
	Mean  *Number `json:"mean"`           // of a number, at the average block and day; of a rating, of its tests
	Low   *Number `json:"low"`            // two-sided limits, of a mean or of a rate
	High  *Number `json:"high"`           //
	Least *Number `json:"lowest_value"`   // of the values that were noted
	Most  *Number `json:"highest_value"`  //
	Level Number  `json:"level"`          // of Low and High
	Yes   *int    `json:"events"`         // of an event
	Upper *Number `json:"one_sided_high"` // of a rate without an event: its one-sided 95 % bound
	Lower *Number `json:"one_sided_low"`  // of a rate with events throughout
	Text  string  `json:"text,omitempty"` // what no event, or one each time, means
}

// An OutcomeTrend is the climb of a number over the study.
type OutcomeTrend struct {
	PerWeek Number  `json:"per_week"`
	Low     *Number `json:"low"`
	High    *Number `json:"high"`
	Level   Number  `json:"level"`
}

// An OutcomeAnswer compares two foods, A against B.
type OutcomeAnswer struct {
	Question string  `json:"question"`
	A        string  `json:"a"`
	B        string  `json:"b"`
	TestsA   int     `json:"tests_a"`
	TestsB   int     `json:"tests_b"`
	Estimate *Number `json:"estimate"` // A minus B: of means, or of rates
	Low      *Number `json:"low"`
	High     *Number `json:"high"`
	Level    *Number `json:"level"` // of Low and High
	DF       int     `json:"df,omitempty"`
	P        *Number `json:"p"`          // two-sided, of a rating or an event
	PError   Number  `json:"p_error"`    // Monte Carlo standard error; 0: exact
	Smallest *Number `json:"smallest_p"` // that these tests can give
	Test     string  `json:"test,omitempty"`
	// Of a rating: the share of pairs within a block in which A is higher, ties half,
	// and the p of its rank test.
	Share    *Number `json:"share_a_higher"`
	Pairs    int     `json:"pairs,omitempty"`
	RankP    *Number `json:"rank_p"`
	RankTest string  `json:"rank_test,omitempty"`
	Reached  bool    `json:"reaches_what_matters"` // the estimate is as large as Matters; not that it is shown
	// Verdict rests on the interval, of a rating that of the randomisation test. Where
	// there can be none, of events and of ratings without a draw, it rests on the exact
	// test.
	Verdict string `json:"verdict"`
	Missing string `json:"missing,omitempty"`
}

// Words for the two sides that an outcome can be decided on.
const (
	outcomeDiffer = "differs"
	outcomeOpen   = "still open"
	rateLevel     = 0.95 // of the one-sided bound that goes with no event
)

// noted are the outcomes of a test for a result.
func (t Test) noted() map[string]Number {
	if len(t.Outcomes) == 0 {
		return nil
	}
	out := map[string]Number{}
	for id, x := range t.Outcomes {
		out[id] = Number(x.Value)
	}
	return out
}

// outcomes analyses every secondary outcome. A test whose curve was not good enough
// still has its outcomes; one that the log leaves out, a run-in, or one without
// a block where others have one, has not.
func (f *Folder) outcomes(responses []Response) []OutcomeResult {
	out := []OutcomeResult{}
	blocked := slices.ContainsFunc(responses, func(r Response) bool { return r.Block > 0 })
	for _, o := range f.Study.Outcomes {
		r := OutcomeResult{ID: o.ID, Name: o.Name, Kind: o.Kind, Scale: o.Scale(), When: o.When, Secondary: true,
			Foods: []OutcomeFood{}, Questions: []OutcomeAnswer{}, Notes: []string{}}
		var counted []Response
		for i, x := range responses {
			if f.Log.Tests[i].Exclude != "" || x.runIn || x.food < 0 || blocked && x.Block == 0 {
				continue
			}
			noted, ok := f.Log.Tests[i].Outcomes[o.ID]
			if !ok {
				r.NotNoted++
				continue
			}
			x.Value = some(noted.Value)
			counted = append(counted, x)
		}
		r.Tests = len(counted)
		r.matters(o)
		if r.Tests == 0 {
			r.Method = methodNone
			r.Notes = append(r.Notes, "no value was noted yet")
			out = append(out, r)
			continue
		}
		switch {
		case o.Kind.numeric():
			f.numberOutcome(&r, counted)
		case o.Kind == Rating:
			f.ratingOutcome(&r, counted)
		default:
			f.eventOutcome(&r, counted)
		}
		if r.NotNoted > 0 {
			r.Notes = append(r.Notes, fmt.Sprintf("%s without a value: missing, not zero; if it was forgotten because of what it would have been, the rest is biased", Count(r.NotNoted, "test is", "tests are")))
		}
		out = append(out, r)
	}
	return out
}

// matters fills in the size that matters: as declared, or for ratings the customary
// 2 of 10 points.
func (r *OutcomeResult) matters(o Outcome) {
	switch {
	case o.Matters > 0:
		r.Matters, r.MattersWhy = some(o.Matters), "as declared"
	case o.Kind == Rating:
		r.Matters = some((o.High - o.Low) / 5)
		r.MattersWhy = "customary: 2 of 10 points, or 30 % of the other food's mean (Farrar et al. 2001, Pain 94:149, on pain; for other ratings an assumption)"
	}
}

// pairsAsked are the pairs of foods that the questions compare, each once.
func (s *Study) pairsAsked() (out []Question) {
	for _, q := range s.comparisons() {
		if q.Kind == Contrast || slices.ContainsFunc(out, func(p Question) bool { return p.A == q.A && p.B == q.B || p.A == q.B && p.B == q.A }) {
			continue
		}
		out = append(out, newQuestion(q.A, q.B))
	}
	return out
}

func (s *Study) outcomeAnswer(q Question, counted []Response) OutcomeAnswer {
	out := OutcomeAnswer{Question: q.Text, A: q.A, B: q.B, Verdict: outcomeOpen}
	for _, r := range counted {
		switch r.food {
		case s.Food(q.A):
			out.TestsA++
		case s.Food(q.B):
			out.TestsB++
		}
	}
	switch {
	case out.TestsA == 0:
		out.Missing = fmt.Sprintf("there is no value of %s yet", q.A)
	case out.TestsB == 0:
		out.Missing = fmt.Sprintf("there is no value of %s yet", q.B)
	}
	return out
}

// unborrowed is the study without what belongs to the main endpoint alone.
func (s *Study) unborrowed() *Study {
	plain := *s
	plain.Earlier, plain.Margin, plain.OwnSpread, plain.RandomBlocks = nil, 0, false, false
	return &plain
}

const methodSecondary = "least squares, response = food + block + error, as of the main endpoint; t interval of each difference for itself, in no family"

const methodOutcome = "least squares, response = food + block + day trend + error, the blank apart; t interval of each difference for itself, in no family"

// numberOutcome fits the model of the main endpoint with a linear day trend, so that
// a slow climb over the study is not credited to a food.
func (f *Folder) numberOutcome(r *OutcomeResult, counted []Response) {
	s := f.Study.unborrowed()
	m := newModels(s, counted)
	covariates := func(sample *sample) [][]float64 { return [][]float64{sample.days()} }
	if r.Method = methodOutcome; r.Kind == SecondaryEndpoint {
		r.Method = methodSecondary
		covariates = func(*sample) [][]float64 { return nil }
	}
	for i, food := range s.Foods {
		sample := m.of(s, i)
		of := OutcomeFood{Food: food.ID, Tests: sample.tests[i], Level: Number(s.Level)}
		of.spanned(counted, i)
		if of.Tests > 0 {
			if e, err := sample.fit.AdjustedMean(i, covariates(sample)...); err == nil {
				of.Mean = some(e.Value)
				if low, high, ok := (estimate{e, sample.width()}).bounded(s.Level); ok {
					of.Low, of.High = low, high
				}
			}
		}
		r.Foods = append(r.Foods, of)
	}
	if r.Kind == SecondaryEndpoint {
		// as the main endpoint, which has no trend in its model
	} else if e, err := m.main.fit.Trend(m.main.days()); err == nil {
		r.Trend = &OutcomeTrend{PerWeek: Number(7 * e.Value), Level: Number(s.Level)}
		if low, high, ok := (estimate{e, m.main.width()}).bounded(s.Level); ok {
			r.Trend.Low, r.Trend.High = some(7*float64(*low)), some(7*float64(*high))
		}
	} else {
		r.Notes = append(r.Notes, "the day trend cannot be told from the foods and blocks of these tests")
	}
	for _, q := range s.pairsAsked() {
		out := s.outcomeAnswer(q, counted)
		if out.Missing == "" {
			sample := m.of(s, s.foodsOf(q)...)
			sample.adjusted(s, q, &out, covariates(sample))
		}
		out.reach(r.Matters, nil)
		r.Questions = append(r.Questions, out)
	}
}

// days are the days of the tests of a sample, from the first.
func (m *sample) days() []float64 {
	days := make([]float64, len(m.from))
	for i, x := range m.from {
		days[i] = float64(x.Date - m.from[0].Date)
	}
	return days
}

type estimate struct {
	additive.Estimate
	size float64 // range of the values
}

// width is the range of the values of a sample.
func (m *sample) width() float64 {
	low, high := math.Inf(1), math.Inf(-1)
	for _, o := range m.obs {
		low, high = math.Min(low, o.Value), math.Max(high, o.Value)
	}
	return high - low
}

// bounded returns the t limits, where there is a spread that could be believed: not
// one that vanishes against the values.
func (e estimate) bounded(level float64) (low, high *Number, ok bool) {
	const rounding = 1e-9
	if e.DF < 1 || !(e.Factor > 0) || e.SE <= rounding*e.Factor*e.size {
		return nil, nil, false
	}
	limits := e.Limits(level)
	return some(limits.Low), some(limits.High), true
}

// adjusted answers with covariates in the model.
func (m *sample) adjusted(s *Study, q Question, out *OutcomeAnswer, covariates [][]float64) {
	e, err := m.fit.Adjusted(s.Weights(q)[:m.fit.Treatments], covariates...)
	if err != nil {
		out.Missing = "the difference cannot be told from the blocks" + map[bool]string{true: " and the day trend"}[len(covariates) > 0]
		return
	}
	out.Estimate, out.DF = some(e.Value), e.DF
	low, high, ok := (estimate{e, m.width()}).bounded(s.Level)
	if !ok {
		out.Missing = "there is no spread of repeated values to make an interval from"
		return
	}
	out.Low, out.High, out.Level = low, high, some(s.Level)
	if *low > 0 || *high < 0 {
		out.Verdict = outcomeDiffer
	}
}

// spanned fills in the smallest and largest value.
func (o *OutcomeFood) spanned(counted []Response, food int) {
	for _, r := range counted {
		if r.food != food {
			continue
		}
		if o.Least == nil || *r.Value < *o.Least {
			o.Least = r.Value
		}
		if o.Most == nil || *r.Value > *o.Most {
			o.Most = r.Value
		}
	}
}

// reach says whether an estimate is as large as what matters; other is the mean of
// the food that is compared with, for the share of 30 %.
func (a *OutcomeAnswer) reach(matters, other *Number) {
	if a.Estimate == nil || matters == nil {
		return
	}
	size := math.Abs(float64(*a.Estimate))
	const customary = 0.3
	a.Reached = size >= float64(*matters)-1e-9 || other != nil && *other > 0 && size >= customary*float64(*other)-1e-9
}

// secondaryDoubts say how many of the secondary comparisons chance alone would call
// different.
func (a *Analysis) secondaryDoubts(level float64) {
	n := 0
	for _, all := range [][]OutcomeResult{a.Outcomes, a.Secondary} {
		for _, r := range all {
			for _, q := range r.Questions {
				if q.Missing == "" {
					n++
				}
			}
		}
	}
	if n > 1 {
		a.Warnings = append(a.Warnings, fmt.Sprintf("%d comparisons of secondary outcomes and endpoints stand each for itself at %s: up to about %s of them would be called different by chance if no food differed in anything.",
			n, Percent(level), plain(float64(n)*(1-level))))
	}
}
