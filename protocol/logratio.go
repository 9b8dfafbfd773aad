package protocol

import (
	"math"
	"slices"

	"mealtrial/stats"
	"mealtrial/stats/additive"
	"mealtrial/stats/ratio"
)

const methodLog = "t interval of the difference of logarithms, as a ratio of geometric means (spread in proportion to the response), for this question alone and one look at the data"

// logs fits the model to the logarithms of the responses. ok is false when one of
// them is not above zero.
func (m *sample) logs() (fit *additive.Fit, ok bool) {
	if m.log != nil {
		return m.log, true
	}
	obs := slices.Clone(m.obs)
	for i := range obs {
		if obs[i].Value <= 0 {
			return nil, false
		}
		obs[i].Value = math.Log(obs[i].Value)
	}
	m.log = additive.NewFit(obs)
	return m.log, true
}

// answerLogRatio answers how many times B the response to A is when the spread is
// in proportion to the response, as declared: the difference of the logarithms.
func (m *sample) answerLogRatio(s *Study, q Question, level float64) Answer {
	out := m.answer(s, q)
	out.Estimate, out.SE, out.Low, out.High, out.Margin, out.Method = nil, nil, nil, nil, nil, methodNone
	out.Verdict, out.Beyond, out.Level = stats.Open, false, Number(level)
	if out.Missing != "" && m.tests[s.Food(q.A)]*m.tests[s.Food(q.B)] == 0 {
		return out
	}
	fit, ok := m.logs()
	if !ok {
		out.Missing = "a response is not above zero, so it has no logarithm; take ratio_scale out, or ask for the difference"
		return out
	}
	e, err := fit.Contrast(s.Weights(q)[:fit.Treatments])
	if err != nil {
		return out // answer has said why
	}
	out.Estimate, out.DF = finite(math.Exp(e.Value)), e.DF
	if e.DF == 0 || e.SE <= 0 {
		return out
	}
	limits := e.Limits(level)
	out.Missing, out.Method, out.Shape, out.Scale = "", methodLog, ratio.Bounded, "log"
	out.Low, out.High = finite(math.Exp(limits.Low)), finite(math.Exp(limits.High))
	if out.Low == nil || out.High == nil {
		out.Low, out.High, out.Shape = nil, nil, ratio.Unbounded
	}
	if !limits.Contains(0) {
		out.Verdict = stats.Different
	}
	return out
}
