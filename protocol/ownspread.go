package protocol

import (
	"fmt"

	"mealtrial/stats"
	"mealtrial/stats/additive"
	"mealtrial/stats/predict"
)

// Methods of intervals in which each food has a spread of its own.
const (
	methodOwnBlocks = "t interval of the differences within blocks that hold all foods of the question, each food with a spread of its own"
	methodOwn       = "t interval with a spread of its own for each food (Satterthwaite 1946)"
	methodOwnMean   = "one-sided t bounds from the food's own spread"
)

// ownSpread compares foods that each have a spread of their own: by the contrasts
// within blocks or, without blocks, with Satterthwaite's degrees of freedom.
func (m *sample) ownSpread(weights []float64) (e interval, method string, ok bool) {
	if len(m.blocks) > 0 {
		x, ok := additive.BlockContrast(m.obs, weights)
		return interval{x.Value, x.SE, float64(x.DF)}, methodOwnBlocks, ok
	}
	e.value, e.se, e.df, ok = additive.Satterthwaite(m.obs, weights)
	return e, methodOwn, ok
}

// An interval is an estimate with what its t interval rests on.
type interval struct{ value, se, df float64 }

func (e interval) limits(level float64) stats.Interval {
	return stats.TInterval(e.value, e.se, e.df, level)
}

// bySpreadOfItsOwn answers a comparison with a spread of its own for each food, as
// declared.
func (m *sample) bySpreadOfItsOwn(s *Study, q Question, out *Answer) {
	if out.Estimate == nil {
		return
	}
	e, method, ok := m.ownSpread(s.Weights(q))
	out.Low, out.High, out.SE, out.DF, out.Verdict, out.Beyond = nil, nil, nil, 0, stats.Open, false
	if !ok {
		out.Method = methodNone
		out.Missing = "with a spread of its own for each food there are too few tests for an interval: two blocks that hold all of its foods, or two tests of each without blocks"
		return
	}
	out.Missing = ""
	out.Estimate, out.SE, out.OwnDF, out.Method = some(e.value), some(e.se), some(e.df), method+", for this question alone and one look at the data"
	out.take(e.limits, 1-s.Level, s.Margin)
}

// ownMean is the mean of a food's own tests with their own spread.
func (m *sample) ownMean(food int) (predict.Mean, error) {
	var own []float64
	for _, o := range m.obs {
		if o.Treatment == food {
			own = append(own, o.Value)
		}
	}
	return predict.FromResponses(own)
}

// ownLevel shares an error rate out over questions and looks: statistics with a
// spread of its own each have no common distribution that could be simulated.
func (f *Folder) ownLevel(state LookState, questions int, alpha float64) (float64, *Family) {
	looks := max(1, len(state.After))
	if questions*looks < 2 {
		return alpha, nil
	}
	level := f.shareOut(state, alpha/float64(questions), ofMain)
	return level, &Family{Questions: questions, Looks: looks, Level: Number(1 - alpha), NominalLevel: Number(1 - level), Shape: "constant",
		Method: fmt.Sprintf("t intervals with a spread of its own for each food, the error rate shared out over %s and %s (Bonferroni)",
			Count(questions, "question", "questions"), Count(looks, "look", "looks"))}
}
