package protocol

import (
	"fmt"
	"slices"

	"mealtrial/stats"
	"mealtrial/stats/additive"
	"mealtrial/stats/mixed"
)

// A sample is what goes into the model.
type sample struct {
	obs    []additive.Observation
	from   []Response // one an observation
	blocks []int      // labels of the blocks by index; empty: no blocks
	tests  []int      // by food index
	fit    *additive.Fit
	sd     float64
	ok     bool // sd is there

	borrowed *Borrowed // nil: no earlier spread was declared

	// Fits by other models, made when they are first asked for.
	mixed    *mixed.Fit
	mixedErr error
	log      *additive.Fit
}

// newSample fits response = food + block + error to the responses.
func newSample(s *Study, responses []Response) *sample {
	m := &sample{tests: make([]int, len(s.Foods))}
	for _, r := range responses {
		if r.Block > 0 && !slices.Contains(m.blocks, r.Block) {
			m.blocks = append(m.blocks, r.Block)
		}
	}
	slices.Sort(m.blocks)
	for _, r := range responses {
		m.obs = append(m.obs, additive.Observation{Treatment: r.food,
			Block: max(0, slices.Index(m.blocks, r.Block)), Value: float64(*r.Value)})
		m.from = append(m.from, r)
		m.tests[r.food]++
	}
	if len(m.obs) > 0 {
		m.fit = additive.NewFit(m.obs)
		m.sd, m.ok = m.fit.SD()
		m.borrow(s)
	}
	return m
}

// models are the two fits of an analysis. A test without food scatters less than
// one with food, so the blank has no part in the within-person SD nor in the
// comparison of foods; its own mean and its questions come from a fit with it.
type models struct {
	main, withBlank *sample
}

func newModels(s *Study, responses []Response) models {
	food := slices.DeleteFunc(slices.Clone(responses), func(r Response) bool { return s.Foods[r.food].Role == RoleBlank })
	all := newSample(s, responses)
	if len(food) == len(responses) || len(food) == 0 {
		return models{all, all}
	}
	return models{newSample(s, food), all}
}

// of returns the fit that these foods belong to.
func (m models) of(s *Study, foods ...int) *sample {
	for _, i := range foods {
		if s.Foods[i].Role == RoleBlank {
			return m.withBlank
		}
	}
	return m.main
}

// spread reports the SD of the fit with its chi-square interval.
func (m *sample) spread(level float64) Spread {
	out := Spread{Level: Number(level), DF: m.fit.SpreadDF()}
	if m.ok {
		limits := stats.SDInterval(m.sd, float64(m.fit.SpreadDF()), level)
		out.Value, out.Low, out.High = some(m.sd), some(limits.Low), some(limits.High)
	}
	return out
}

// ignoringBlocks fits food + error to the same tests, so that what blocks differ
// by is part of the spread.
func (m *sample) ignoringBlocks() *sample {
	out := &sample{obs: slices.Clone(m.obs)}
	for i := range out.obs {
		out.obs[i].Block = 0
	}
	out.fit = additive.NewFit(out.obs)
	out.sd, out.ok = out.fit.SD()
	return out
}

// answer answers a question from the fit that its foods belong to.
func (m models) answer(s *Study, q Question) Answer {
	if q.B == "" {
		return m.of(s, s.Food(q.A)).answerLimit(s, q, s.Level)
	}
	sample := m.of(s, s.foodsOf(q)...)
	if q.Kind == Ratio {
		return sample.answerRatio(s, q, s.Level)
	}
	out := sample.answer(s, q)
	if s.OwnSpread {
		sample.bySpreadOfItsOwn(s, q, &out)
		return out
	}
	if s.RandomBlocks {
		sample.randomBlocks(s, q, &out)
		if out.KR != nil {
			return out
		}
	}
	if out.Low != nil && m.main != m.withBlank && sample == m.withBlank {
		out.Method = methodBlank
	}
	return out
}

// repeatabilityLevel is part of the definition of the limit in ISO 5725.
const repeatabilityLevel = 0.95

func (m *sample) mean(s *Study, i int, food Food) FoodMean {
	out := FoodMean{Food: food.ID, Name: food.Name, Role: food.Role, Tests: m.tests[i], Level: Number(s.Level)}
	if m.tests[i] == 0 {
		return out
	}
	if own, err := m.ownMean(i); s.OwnSpread && err == nil {
		limits := stats.TInterval(own.Value, own.Factor*own.SD, own.DF, s.Level)
		out.Mean, out.SE, out.Low, out.High = some(own.Value), some(own.Factor*own.SD), some(limits.Low), some(limits.High)
		return out
	}
	e, err := m.fit.Mean(i)
	if err != nil {
		return out
	}
	out.Mean = some(e.Value)
	if m.ok {
		limits := stats.TInterval(e.Value, e.SE, float64(e.DF), s.Level)
		out.SE, out.Low, out.High = some(e.SE), some(limits.Low), some(limits.High)
	}
	return out
}

func (m *sample) answer(s *Study, q Question) Answer {
	out := Answer{Question: q.Text, Kind: q.Kind, A: q.A, B: q.B, Level: Number(s.Level), Method: methodNone, Verdict: stats.Open}
	if s.Margin > 0 {
		out.Margin = some(s.Margin)
	}
	weights := s.Weights(q)
	for i, w := range weights {
		switch {
		case w == 0:
			continue
		case w > 0:
			out.TestsA += m.tests[i]
		default:
			out.TestsB += m.tests[i]
		}
		out.Tests += m.tests[i]
		if m.tests[i] == 0 && out.Missing == "" {
			out.Missing = fmt.Sprintf("no test of %s counts yet", s.Foods[i].ID)
		}
	}
	if out.Missing != "" {
		return out
	}
	e, err := m.fit.Contrast(weights[:m.fit.Treatments])
	if err != nil {
		out.Missing = fmt.Sprintf("%s and %s never share a block, directly or through other foods, so their difference cannot be told from that of the blocks", q.A, q.B)
		return out
	}
	out.Estimate, out.DF = some(e.Value), e.DF
	if !m.ok {
		out.Missing = m.noSpread()
		return out
	}
	out.SE, out.Method = some(e.SE), methodT
	out.take(interval{e.Value, e.SE, float64(e.DF)}.limits, 1-s.Level, s.Margin)
	return out
}

// tails is how many times the error rate an interval may have that decides the
// question: the two one-sided tests of equality at a rate α are the 1 − 2α
// interval (Schuirmann 1987, J Pharmacokinet Biopharm 15:657).
func (k QuestionKind) tails() float64 {
	if k == SameAs {
		return 2
	}
	return 1
}

// zero tells whether what the interval of a question must not leave out is, where
// foods do not differ, a difference of zero.
func (k QuestionKind) zero() bool { return k == Difference || k == Contrast }

// decide places the interval of a difference at an error rate against zero and the
// margin. at gives the interval of a level.
func (k QuestionKind) decide(at func(level float64) stats.Interval, alpha, margin float64) (limits stats.Interval, verdict stats.Verdict) {
	limits = at(1 - k.tails()*alpha)
	if k == SameAs {
		return limits, stats.DecideSame(limits, at(1-alpha), margin)
	}
	return limits, stats.Decide(limits, margin)
}

// take makes the interval of a difference at an error rate that of the answer, with
// its verdict.
func (a *Answer) take(at func(level float64) stats.Interval, alpha, margin float64) {
	limits, verdict := a.Kind.decide(at, alpha, margin)
	a.Low, a.High, a.Level = finite(limits.Low), finite(limits.High), Number(limits.Level)
	a.Verdict, a.Beyond = verdict, verdict == stats.Different && stats.Beyond(limits, margin)
}

// noSpread says why there is no within-person SD.
func (m *sample) noSpread() string {
	if m.fit.DF == 0 {
		return "no food was repeated in a way that shows the spread from test to test, so there is no interval; repeat at least one food, or see mealtrial gap"
	}
	return "the repeats agree exactly, which is no believable spread, so there is no interval; check the typed values"
}
