package protocol

import (
	"mealtrial/stats"
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
			m.anytime(s, q, out, levels)
		case q.Kind.compares():
			m.compare(s, q, out, levels.of(s, q))
		default:
			m.limit(s, q, out, levels.limits)
		}
	}
}

// limit makes the bounds of a question about a limit at its nominal level.
func (m models) limit(s *Study, q Question, out *Answer, alpha float64) {
	if alpha <= 0 {
		out.spent()
		return
	}
	bounds := m.of(s, s.Food(q.A)).answerLimit(s, q, 1-alpha)
	out.Low, out.High, out.Verdict, out.Nominal = bounds.Low, bounds.High, bounds.Verdict, some(alpha)
	if alpha < 1-s.Level {
		out.Method = "one-sided bounds, the error rate shared out over the questions about a limit and the looks"
	}
}

// spent leaves a question without an interval that keeps the promise.
func (a *Answer) spent() {
	a.Low, a.High, a.Shape, a.Verdict, a.Beyond, a.Method = nil, nil, "", stats.Open, false, methodNone
	a.Missing = "at this look there are too few tests for an interval that keeps the promise for all questions and looks, or earlier looks have used up the error rate"
}

func (a *Answer) setPlain() {
	a.PlainLow, a.PlainHigh, a.PlainMethod, a.PlainVerdict, a.PlainShape = a.Low, a.High, a.Method, a.Verdict, a.Shape
}

// of returns the nominal level of a comparison; of one that was not declared in this
// form, that of the forms that were.
func (l Levels) of(s *Study, q Question) float64 {
	level, questions := l.main, l.mains
	if s.withBlank(q) {
		level, questions = l.blank, l.blanks
	}
	if l.others > 0 && (questions == 0 || !q.Kind.zero()) {
		return l.other
	}
	return level
}

// Methods of intervals that keep the promise for more than one question or look.
const (
	methodFamily  = "t interval at the nominal level with which all questions about differences between foods and all declared looks keep the promise together"
	methodAnytime = "anytime-valid interval of the differences within blocks (Lindon et al. 2022), the error rate shared out over the questions"
)

// compare makes the interval of a comparison at its nominal level.
func (m models) compare(s *Study, q Question, out *Answer, alpha float64) {
	if alpha <= 0 {
		out.spent()
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
	out.take(interval{float64(*out.Estimate), float64(*out.SE), out.df()}.limits, alpha, s.Margin)
	out.Level, out.Method = promised, methodFamily
	if out.OwnDF != nil {
		out.Method = methodOwn + ", the error rate shared out over all questions about differences and all declared looks"
		if len(sample.blocks) > 0 {
			out.Method = methodOwnBlocks + ", the error rate shared out over all questions about differences and all declared looks"
		}
	}
	if fixed := out.Fixed; fixed != nil {
		beside := Answer{Kind: q.Kind}
		beside.take(interval{float64(*fixed.Estimate), float64(*fixed.SE), float64(fixed.DF)}.limits, alpha, s.Margin)
		fixed.Low, fixed.High, fixed.Verdict = beside.Low, beside.High, beside.Verdict
		out.Method = "t interval with blocks random (REML, Kenward and Roger 1997), at the nominal level with which all questions about differences and all looks keep the promise together at the estimated variance of the blocks"
	}
}
