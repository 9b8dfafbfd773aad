package protocol

import (
	"math"
	"slices"

	"mealtrial/stats"
	"mealtrial/stats/additive"
	"mealtrial/stats/anytime"
	"mealtrial/stats/ratio"
)

// mixtureVariance is the g of the anytime-valid interval, fixed before the data:
// the interval is sharpest for differences of about one SD of a block difference.
const mixtureVariance = 1

// anytime makes the interval of a comparison that stays valid however often it is
// looked at. It comes from the contrast within each block that holds all of its
// foods, whose nuisance has a fixed dimension (Lindon et al., arXiv 2210.08589).
func (m models) anytime(s *Study, q Question, out *Answer, levels Levels) {
	alpha := levels.anytime
	out.Low, out.High, out.Shape, out.Verdict, out.Beyond, out.Method = nil, nil, "", stats.Open, false, methodAnytime
	switch q.Kind {
	case Ratio:
		m.anytimeRatio(s, q, out, alpha)
		return
	case Below:
		m.anytimeLimit(s, q, out, levels.anytimeLimits)
		return
	case NextBelow:
		out.Missing, out.Method = "no bound of the next serving stays valid however often one looks; ask again at a declared look", methodNone
		return
	}
	obs := additive.BlockContrasts(m.withBlank.obs, s.Weights(q))
	out.Anytime = &Anytime{Blocks: len(obs)}
	at := anytimeAt(obs)
	if limits := at(1 - q.Kind.tails()*alpha); finite(limits.Low) != nil {
		promised := out.Level
		out.take(at, alpha, s.Margin)
		out.Level = promised
		out.Anytime.Low, out.Anytime.High = out.Low, out.High
	}
}

// Methods of anytime-valid intervals other than that of a difference.
const (
	methodAnytimeRatio = "anytime-valid set of the ratio of two means, from the blocks that hold both foods (Fieller's set with the critical value of Lindon et al. 2022), the error rate shared out over the questions"
	methodAnytimeLogs  = "anytime-valid interval of the differences of logarithms within blocks, as a ratio of geometric means (Lindon et al. 2022), the error rate shared out over the questions"
	methodAnytimeLimit = "anytime-valid bounds of the mean of the food's own tests (Lindon et al. 2022), the error rate shared out over the questions about a limit"
)

// anytimeRatio makes the set of ratios θ for which the anytime-valid test of
// A − θB = 0 within blocks does not reject: at the true θ it never does with the
// chance that is promised, so the set is a confidence sequence.
func (m models) anytimeRatio(s *Study, q Question, out *Answer, alpha float64) {
	out.Method = methodAnytimeRatio
	if s.LogRatios {
		out.Method, out.Scale = methodAnytimeLogs, "log"
	}
	first, second := additive.BlockPairs(m.withBlank.obs, s.Food(q.A), s.Food(q.B))
	n := len(first)
	out.Anytime = &Anytime{Blocks: n}
	k, ok := 0.0, n >= 2
	if ok {
		k, ok = anytime.Multiplier(float64(n-1), float64(n), mixtureVariance, 1-alpha)
	}
	if !ok {
		return
	}
	set, ok := anytimeSet(first, second, k, 1-alpha, s.LogRatios)
	if !ok {
		return
	}
	out.Shape = set.Shape
	if set.Shape != ratio.Unbounded && set.Shape != ratio.AtMost {
		out.Low = finite(set.Low)
	}
	if set.Shape != ratio.Unbounded && set.Shape != ratio.AtLeast {
		out.High = finite(set.High)
	}
	if !set.Contains(1) {
		out.Verdict = stats.Different
	}
	out.Anytime.Low, out.Anytime.High = out.Low, out.High
}

// anytimeSet is the set of ratios from pairs at a critical value; of logarithms
// where logs is set. ok is false where there is none.
func anytimeSet(first, second []float64, critical, level float64, logs bool) (ratio.Set, bool) {
	n := float64(len(first))
	if logs {
		var d []float64
		for i := range first {
			if first[i] <= 0 || second[i] <= 0 {
				return ratio.Set{}, false
			}
			d = append(d, math.Log(first[i]/second[i]))
		}
		limits, ok := anytimeInterval(d, level)
		if !ok {
			return ratio.Set{}, false
		}
		set, err := ratio.FromLogs(limits)
		return set, err == nil
	}
	a, b := mean(first), mean(second)
	p := ratio.Pair{A: a, B: b, SD: 1, DF: n - 1}
	for i := range first {
		x, y := first[i]-a, second[i]-b
		p.VAA, p.VBB, p.VAB = p.VAA+x*x/(n-1)/n, p.VBB+y*y/(n-1)/n, p.VAB+x*y/(n-1)/n
	}
	set, err := ratio.FiellerAt(p, critical, level)
	return set, err == nil
}

// anytimeLimit makes bounds of a mean from the food's own tests, those of a block
// taken together. Both limits of the two-sided sequence at the level are bounds at
// least as sure.
func (m models) anytimeLimit(s *Study, q Question, out *Answer, alpha float64) {
	values := m.withBlank.ownByBlock(s, s.Food(q.A))
	out.Method, out.Nominal = methodAnytimeLimit, nil
	out.Anytime = &Anytime{Blocks: len(values)}
	limits, ok := anytimeInterval(values, 1-alpha)
	if !ok || finite(limits.Low) == nil {
		out.Missing = "too few tests of " + q.A + " for a bound that stays valid however often one looks"
		out.Estimate, out.Method = nil, methodNone
		return
	}
	out.Estimate = some(mean(values))
	out.Low, out.High = finite(limits.Low), finite(limits.High)
	out.Anytime.Low, out.Anytime.High = out.Low, out.High
	out.Verdict = limitVerdict(limits, q.Limit)
}

func limitVerdict(limits stats.Interval, limit float64) stats.Verdict {
	switch {
	case limits.High < limit:
		return stats.ShownBelow
	case limits.Low > limit:
		return stats.ShownAbove
	}
	return stats.Open
}

// ownByBlock returns the mean of a food in each block that holds it, or its
// responses one by one without blocks.
func (m *sample) ownByBlock(s *Study, food int) (values []float64) {
	if len(m.blocks) > 0 {
		weights := make([]float64, len(s.Foods))
		weights[food] = 1
		return additive.BlockContrasts(m.obs, weights)
	}
	for _, o := range m.obs {
		if o.Treatment == food {
			values = append(values, o.Value)
		}
	}
	return values
}

// anytimeInterval is that of the mean of block contrasts; not ok: not finite yet.
func anytimeInterval(contrasts []float64, level float64) (stats.Interval, bool) {
	n := float64(len(contrasts))
	if n < 2 {
		return stats.Interval{}, false
	}
	low, high := slices.Min(contrasts), slices.Max(contrasts)
	middle, squares := low, 0.0 // differences from one of them lose no digits
	for _, x := range contrasts {
		middle += (x - low) / n
	}
	for _, x := range contrasts {
		squares += (x - middle) * (x - middle)
	}
	sd := math.Sqrt(squares / (n - 1))
	if sd <= noSpread*(high-low) {
		return stats.Interval{}, false
	}
	return anytime.Interval(middle, sd/math.Sqrt(n), n-1, n, mixtureVariance, level)
}

// noSpread is the share of their range below which an SD is no spread to believe.
const noSpread = 1e-9

// anytimeAt gives the interval of a level; all numbers where there is none.
func anytimeAt(contrasts []float64) func(level float64) stats.Interval {
	return func(level float64) stats.Interval {
		if limits, ok := anytimeInterval(contrasts, level); ok {
			return limits
		}
		return stats.Interval{Low: math.Inf(-1), High: math.Inf(1), Level: level}
	}
}

// Anytime is an interval that stays valid however often it is looked at; nil
// limits: it is not finite yet.
type Anytime struct {
	Low    *Number `json:"low"`
	High   *Number `json:"high"`
	Blocks int     `json:"blocks"` // that hold all foods of the question
}
