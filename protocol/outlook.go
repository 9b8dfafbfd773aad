package protocol

import (
	"math"
	"slices"

	"mealtrial/stats"
	"mealtrial/stats/additive"
	"mealtrial/stats/predict"
	"mealtrial/stats/retest"
)

// An outlook is what the chance that further tests settle a question rests on.
type outlook struct {
	state   retest.State
	settled func(retest.Future) bool
	how     string // futures are decided
	none    string // why there is no chance to tell; "": there is
}

// outlook of a question that is open. planned are the levels at the last look.
func (f *Folder) outlook(a *Analysis, answer Answer, q Question, m models, planned func() Levels) outlook {
	s := f.Study
	sample := m.of(s, s.foodsOf(q)...)
	if answer.Missing != "" && answer.PlainLow == nil || sample.fit == nil || !sample.ok {
		return outlook{none: answer.Missing}
	}
	if !q.Kind.compares() {
		return f.limitOutlook(a, q, sample, planned)
	}
	fit := sample.fit
	if q.Kind == Ratio && s.LogRatios {
		logs, ok := sample.logs()
		if !ok {
			return outlook{none: answer.Missing}
		}
		fit = logs
	}
	weights := s.Weights(q)
	e, err := fit.Contrast(weights[:min(len(weights), fit.Treatments)])
	sd, ok := fit.SD()
	if err != nil || !ok {
		return outlook{none: answer.Missing}
	}
	o := outlook{state: retest.State{Estimate: e.Value, Factor: e.Factor, SD: sd, DF: float64(e.DF)}}
	for _, w := range weights {
		o.state.Size += w * w
	}
	f.decideComparison(&o, a, q, m, planned)
	if s.OwnSpread && o.none == "" {
		o.how += "; one spread is taken for all foods in the tests to come"
	}
	return o
}

// outstanding tells whether declared looks are still to come.
func (a *Analysis) outstanding() bool {
	n := len(a.Looks.After)
	return n > 0 && a.Looks.Finished < a.Looks.After[n-1] && a.Looks.Undeclared == 0
}

const (
	howLastLook = "decided at the level of the last declared look"
	howAnytime  = "beyond the last declared look, so decided by the anytime-valid interval"
)

// decideComparison says how a future of a comparison is decided. A ratio is
// settled when its set leaves out 1, which is when the interval of the difference
// leaves out zero at the same level.
func (f *Folder) decideComparison(o *outlook, a *Analysis, q Question, m models, planned func() Levels) {
	s := f.Study
	margin := s.Margin
	if q.Kind == Ratio {
		margin = 0
	}
	if a.outstanding() {
		alpha := planned().of(s, q)
		o.how = howLastLook
		o.settled = func(x retest.Future) bool {
			if alpha <= 0 {
				return false
			}
			_, verdict := q.Kind.decide(interval{x.Estimate, x.SE, x.DF}.limits, alpha, margin)
			return verdict != stats.Open
		}
		return
	}
	if q.Kind == Ratio {
		o.none = "the last declared look is over, and the set of a ratio that stays valid from here on is not forecast; ask for the difference"
		return
	}
	before := additive.BlockContrasts(m.withBlank.obs, s.Weights(q))
	comparisons := 0
	for _, other := range s.Questions {
		if other.Kind.compares() {
			comparisons++
		}
	}
	alpha := (1 - s.Level) / float64(comparisons)
	o.how = howAnytime
	all := slices.Clone(before)
	o.settled = func(x retest.Future) bool {
		all = append(all[:len(before)], x.Blocks...)
		_, verdict := q.Kind.decide(anytimeAt(all), alpha, margin)
		return verdict != stats.Open
	}
}

// anytimeLimitOutlook is limitOutlook beyond the last declared look.
func (f *Folder) anytimeLimitOutlook(q Question, m *sample, mean predict.Mean) outlook {
	before := m.ownByBlock(f.Study, f.Study.Food(q.A))
	limits := f.Study.ask(func(int) bool { return true }).limits
	level := 1 - (1-f.Study.Level)/float64(max(1, limits))
	return outlook{
		state: retest.State{Estimate: mean.Value, Factor: mean.Factor, SD: mean.SD, DF: mean.DF, Size: 1},
		how:   howAnytime + ", from the food's own spread",
		settled: func(x retest.Future) bool {
			limits, ok := anytimeInterval(append(append([]float64(nil), before...), x.Blocks...), level)
			return ok && limitVerdict(limits, q.Limit) != stats.Open
		},
	}
}

// limitOutlook predicts further tests of one food from the spread of its own
// tests: each comes in a new block, whose shift is in that spread.
func (f *Folder) limitOutlook(a *Analysis, q Question, m *sample, planned func() Levels) outlook {
	mean, err := m.ownMean(f.Study.Food(q.A))
	switch {
	case err != nil:
		return outlook{none: "the spread of " + q.A + " needs at least two tests of it that differ"}
	case !a.outstanding() && q.Kind == NextBelow:
		return outlook{none: "the last declared look is over, and no bound of the next serving stays valid however often one looks"}
	case !a.outstanding():
		return f.anytimeLimitOutlook(q, m, mean)
	}
	level := 1 - planned().limits
	return outlook{
		state: retest.State{Estimate: mean.Value, Factor: mean.Factor, SD: mean.SD, DF: mean.DF, Size: 1},
		how:   howLastLook + ", from the food's own spread",
		settled: func(x retest.Future) bool {
			tests := 1/(mean.Factor*mean.Factor) + float64(len(x.Blocks))
			next := predict.Mean{Value: x.Estimate, Factor: 1 / math.Sqrt(tests), SD: x.SE * math.Sqrt(tests), DF: x.DF}
			bounds := predict.MeanBounds(next, level)
			if q.Kind == NextBelow {
				bounds = predict.NextBounds(next, level)
			}
			place := bounds.Place(q.Limit)
			return place == predict.Below || place == predict.Above
		},
	}
}
