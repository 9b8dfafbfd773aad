package protocol

import (
	"fmt"

	"mealtrial/stats"
	"mealtrial/stats/predict"
	"mealtrial/stats/ratio"
)

// Methods of intervals other than that of a difference.
const (
	methodFieller   = "Fieller's set of the ratio of two means, for this question alone and one look at the data"
	methodMean      = "one-sided t bounds of the mean, for this question alone and one look at the data"
	methodNext      = "one-sided t bounds of the next serving from the spread pooled over foods, for this question alone and one look at the data"
	methodNextBlock = "one-sided t bounds of the next serving in a new block from the food's own spread, for this question alone and one look at the data"
)

// answerRatio answers how many times B the response to A is. Low and High are the
// limits of Fieller's set, whose shape says what they mean.
func (m *sample) answerRatio(s *Study, q Question, level float64) Answer {
	if s.LogRatios {
		return m.answerLogRatio(s, q, level)
	}
	out := m.answer(s, q)
	a, b := s.Food(q.A), s.Food(q.B)
	difference := out
	out.Estimate, out.SE, out.Low, out.High, out.Margin, out.Method = nil, nil, nil, nil, nil, methodNone
	out.Verdict, out.Beyond = stats.Open, false
	if difference.Low == nil {
		return out
	}
	meanA, errA := m.fit.Mean(a)
	meanB, errB := m.fit.Mean(b)
	if errA != nil || errB != nil {
		out.Missing = "the means of both foods cannot be estimated over all blocks, so neither can their ratio"
		return out
	}
	factor := float64(*difference.SE) / m.sd
	pair := ratio.Pair{A: meanA.Value, B: meanB.Value, VAA: meanA.Factor * meanA.Factor, VBB: meanB.Factor * meanB.Factor,
		VAB: ratio.Covariance(meanA.Factor, meanB.Factor, factor), SD: m.sd, DF: float64(m.fit.SpreadDF())}
	set, err := ratio.Fieller(pair, level)
	if err != nil || meanB.Value <= 0 {
		out.Missing = fmt.Sprintf("the mean of %s is not above zero, so a ratio to it says nothing; ask for the difference", q.B)
		return out
	}
	out.Estimate, out.Shape, out.Method, out.Level = finite(meanA.Value/meanB.Value), set.Shape, methodFieller, Number(level)
	if set.Shape != ratio.Unbounded && set.Shape != ratio.AtMost {
		out.Low = finite(set.Low)
	}
	if set.Shape != ratio.Unbounded && set.Shape != ratio.AtLeast {
		out.High = finite(set.High)
	}
	if !set.Contains(1) {
		out.Verdict = stats.Different
	}
	return out
}

// answerLimit answers whether the mean, or the next serving, lies below a limit.
// Low and High are its one-sided bounds, each with the study's level.
func (m *sample) answerLimit(s *Study, q Question, level float64) Answer {
	i := s.Food(q.A)
	out := Answer{Question: q.Text, Kind: q.Kind, A: q.A, Limit: some(q.Limit), Level: Number(level), Method: methodNone,
		Verdict: stats.Open, Tests: m.tests[i], TestsA: m.tests[i]}
	if m.tests[i] == 0 {
		out.Missing = fmt.Sprintf("no test of %s counts yet", q.A)
		return out
	}
	mean, method, err := m.meanFor(s, i, q.Kind)
	if err != nil {
		out.Missing = m.noSpread()
		if q.Kind == NextBelow && len(m.blocks) > 0 {
			out.Missing = fmt.Sprintf("the next serving comes on a new day, and the spread of %s between days needs at least two tests of it that differ", q.A)
		}
		return out
	}
	bounds := predict.MeanBounds(mean, level)
	if q.Kind == NextBelow {
		bounds = predict.NextBounds(mean, level)
	}
	out.Estimate, out.DF, out.Method = some(mean.Value), int(mean.DF), method
	if method == methodMixedMean {
		out.KR = some(mean.DF)
	}
	out.Low, out.High = some(bounds.Lower), some(bounds.Upper)
	switch bounds.Place(q.Limit) {
	case predict.Below:
		out.Verdict = stats.ShownBelow
	case predict.Above:
		out.Verdict = stats.ShownAbove
	}
	return out
}

// meanFor returns the mean that a question about a limit rests on. The next
// serving comes in a new block, whose own shift is only in the spread of the
// food's own tests; and where blocks are random by declaration the mean is that over
// all blocks, not over those of the study.
func (m *sample) meanFor(s *Study, food int, kind QuestionKind) (predict.Mean, string, error) {
	if kind == NextBelow && len(m.blocks) > 0 {
		mean, err := m.ownMean(food)
		return mean, methodNextBlock, err
	}
	if s.RandomBlocks && len(m.blocks) > 0 {
		return m.mixedMean(food)
	}
	if s.OwnSpread {
		mean, err := m.ownMean(food)
		return mean, methodOwnMean + ", for this question alone and one look at the data", err
	}
	mean, err := predict.FromFit(m.fit, food)
	if kind == NextBelow {
		return mean, methodNext, err
	}
	return mean, methodMean, err
}
