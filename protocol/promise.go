package protocol

import (
	"mealtrial/stats"
	"mealtrial/stats/additive"
	"mealtrial/stats/anytime"
)

// keepPromise puts the interval that keeps the promise of the study into every
// answer, and the plain one beside it.
func (a *Analysis) keepPromise(s *Study, m models, levels Levels) {
	a.Family = levels.family
	if levels.family != nil {
		a.Looks.Price = levels.family.Price
	}
	for i, q := range s.Questions {
		out := &a.Questions[i]
		out.setPlain()
		switch {
		case out.Method == methodNone:
		case levels.anytime > 0:
			m.anytime(s, q, out, levels.anytime)
		case q.Kind.compares():
			m.compare(s, q, out, levels.of(s, q))
		default:
			bounds := m.of(s, s.Food(q.A)).answerLimit(s, q, 1-levels.limits)
			out.Low, out.High, out.Verdict, out.Nominal = bounds.Low, bounds.High, bounds.Verdict, some(levels.limits)
			if levels.limits < 1-s.Level {
				out.Method = "one-sided bounds, the error rate shared out over the questions about a limit and the looks"
			}
		}
	}
}

func (a *Answer) setPlain() {
	a.PlainLow, a.PlainHigh, a.PlainMethod, a.PlainVerdict, a.PlainShape = a.Low, a.High, a.Method, a.Verdict, a.Shape
}

// of returns the nominal level of a comparison.
func (l Levels) of(s *Study, q Question) float64 {
	for _, i := range s.foodsOf(q) {
		if s.Foods[i].Role == RoleBlank {
			return l.blank
		}
	}
	return l.main
}

// Methods of intervals that keep the promise for more than one question or look.
const (
	methodFamily  = "t interval at the nominal level with which all questions about differences between foods and all declared looks keep the promise together"
	methodAnytime = "anytime-valid interval of the differences within blocks (Lindon et al. 2022), the error rate shared out over the questions"
)

// compare makes the interval of a comparison at its nominal level.
func (m models) compare(s *Study, q Question, out *Answer, alpha float64) {
	if alpha <= 0 {
		out.Low, out.High, out.Shape, out.Verdict, out.Beyond, out.Method = nil, nil, "", stats.Open, false, methodNone
		out.Missing = "at this look there are too few tests for an interval that keeps the promise for all questions and looks"
		return
	}
	out.Nominal = some(alpha)
	if alpha == 1-s.Level {
		return
	}
	promised := out.Level
	sample := m.of(s, s.foodsOf(q)...)
	if q.Kind == Ratio {
		again := sample.answerRatio(s, q, 1-alpha)
		out.Low, out.High, out.Shape, out.Verdict = again.Low, again.High, again.Shape, again.Verdict
		out.Method = "t interval of the difference of logarithms, as a ratio of geometric means, at the nominal level with which all questions about differences between foods and all declared looks keep the promise together"
		if out.Scale == "log" {
			return
		}
		out.Method = "Fieller's set of the ratio of two means at the nominal level with which all questions about differences between foods and all declared looks keep the promise together"
		return
	}
	out.take(stats.TInterval(float64(*out.Estimate), float64(*out.SE), out.df(), 1-q.Kind.tails()*alpha), s.Margin)
	out.Level, out.Method = promised, methodFamily
	if out.OwnDF != nil {
		out.Method = methodOwn + ", the error rate shared out over all questions about differences and all declared looks"
		if len(sample.blocks) > 0 {
			out.Method = methodOwnBlocks + ", the error rate shared out over all questions about differences and all declared looks"
		}
	}
	if fixed := out.Fixed; fixed != nil {
		beside := Answer{}
		beside.take(stats.TInterval(float64(*fixed.Estimate), float64(*fixed.SE), float64(fixed.DF), 1-q.Kind.tails()*alpha), s.Margin)
		fixed.Low, fixed.High, fixed.Verdict = beside.Low, beside.High, beside.Verdict
		out.Method = "t interval with blocks random (REML, Kenward and Roger 1997), at the nominal level with which all questions about differences and all looks keep the promise together at the estimated variance of the blocks"
	}
}

// mixtureVariance is the g of the anytime-valid interval, fixed before the data:
// the interval is sharpest for differences of about one SD of a block difference.
const mixtureVariance = 1

// anytime makes the interval of a comparison that stays valid however often it is
// looked at. It comes from the contrast within each block that holds all of its
// foods, whose nuisance has a fixed dimension (Lindon et al., arXiv 2210.08589).
func (m models) anytime(s *Study, q Question, out *Answer, alpha float64) {
	out.Low, out.High, out.Shape, out.Verdict, out.Beyond, out.Method = nil, nil, "", stats.Open, false, methodAnytime
	if q.Kind == Ratio || !q.Kind.compares() {
		out.Missing, out.Method = "no interval of this kind stays valid however often one looks; ask again at a declared look", methodNone
		return
	}
	obs := additive.BlockContrasts(m.withBlank.obs, s.Weights(q))
	out.Anytime = &Anytime{Blocks: len(obs)}
	if limits, ok := anytimeInterval(obs, 1-q.Kind.tails()*alpha); ok && finite(limits.Low) != nil {
		promised := out.Level
		out.take(limits, s.Margin)
		out.Level = promised
		out.Anytime.Low, out.Anytime.High = out.Low, out.High
	}
}

// anytimeInterval is that of the mean of block contrasts; not ok: not finite yet.
func anytimeInterval(contrasts []float64, level float64) (stats.Interval, bool) {
	if len(contrasts) < 2 {
		return stats.Interval{}, false
	}
	var obs []additive.Observation
	for _, d := range contrasts {
		obs = append(obs, additive.Observation{Value: d})
	}
	fit := additive.NewFit(obs)
	mean, err := fit.Mean(0)
	if _, ok := fit.SD(); !ok || err != nil {
		return stats.Interval{}, false
	}
	return anytime.Interval(mean.Value, mean.SE, float64(mean.DF), float64(len(contrasts)), mixtureVariance, level)
}

// Anytime is an interval that stays valid however often it is looked at; nil
// limits: it is not finite yet.
type Anytime struct {
	Low    *Number `json:"low"`
	High   *Number `json:"high"`
	Blocks int     `json:"blocks"` // that hold all foods of the question
}
