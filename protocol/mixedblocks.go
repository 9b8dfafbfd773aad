package protocol

import (
	"mealtrial/stats"
	"mealtrial/stats/mixed"
	"mealtrial/stats/predict"
)

// A FixedAnswer is the answer with fixed blocks, beside one with random blocks,
// at the same nominal level.
type FixedAnswer struct {
	Estimate *Number       `json:"estimate"`
	SE       *Number       `json:"se"`
	DF       int           `json:"df"`
	Low      *Number       `json:"low"`
	High     *Number       `json:"high"`
	Verdict  stats.Verdict `json:"verdict"`
}

const methodMixed = "t interval with blocks random, by REML with the standard error and degrees of freedom of Kenward and Roger (1997), for this question alone and one look at the data"

// randomBlocks answers a comparison with blocks random, as declared, and keeps the
// answer with fixed blocks beside it. Where no block variance can be estimated
// the answer stays that with fixed blocks.
func (m *sample) randomBlocks(s *Study, q Question, out *Answer) {
	if out.Low == nil || len(m.blocks) == 0 {
		return
	}
	e, err := m.mixedContrast(s, q)
	if err != nil {
		return
	}
	out.Fixed = &FixedAnswer{out.Estimate, out.SE, out.DF, out.Low, out.High, out.Verdict}
	out.Estimate, out.SE, out.KR = some(e.Value), some(e.SE), some(e.DF)
	out.take(interval{e.Value, e.SE, e.DF}.limits, 1-s.Level, s.Margin)
	out.Method = methodMixed
}

// mixedFit is the fit with blocks random.
func (m *sample) mixedFit() (*mixed.Fit, error) {
	if m.mixed == nil && m.mixedErr == nil {
		m.mixed, m.mixedErr = mixed.NewFit(m.obs, m.fit.Treatments)
	}
	return m.mixed, m.mixedErr
}

func (m *sample) mixedContrast(s *Study, q Question) (mixed.Estimate, error) {
	fit, err := m.mixedFit()
	if err != nil {
		return mixed.Estimate{}, err
	}
	return fit.Contrast(s.Weights(q)[:m.fit.Treatments])
}

const methodMixedMean = "one-sided t bounds of the mean with blocks random, by REML with the standard error and degrees of freedom of Kenward and Roger (1997), for this question alone and one look at the data"

// mixedMean is the mean of a food over the blocks that those of the study are a
// sample of; where their variance cannot be estimated, from its own tests.
func (m *sample) mixedMean(food int) (predict.Mean, string, error) {
	if fit, err := mixed.NewFit(m.obs, m.fit.Treatments); err == nil {
		if e, err := fit.Mean(food); err == nil {
			return predict.Mean{Value: e.Value, Factor: 1, SD: e.SE, DF: e.DF}, methodMixedMean, nil
		}
	}
	mean, err := m.ownMean(food)
	return mean, methodOwnMean + ", for this question alone and one look at the data", err
}

// blockRatio is the estimated variance of the blocks over that of the error, where
// blocks are random by declaration and it can be estimated.
func (m *sample) blockRatio(s *Study) (ratio float64, ok bool) {
	if !s.RandomBlocks || m == nil || len(m.blocks) == 0 {
		return 0, false
	}
	fit, err := m.mixedFit()
	if err != nil {
		return 0, false
	}
	return fit.VarianceRatio(), true
}

// df are the degrees of freedom behind the standard error.
func (a *Answer) df() float64 {
	if a.KR != nil {
		return float64(*a.KR)
	}
	if a.OwnDF != nil {
		return float64(*a.OwnDF)
	}
	return float64(a.DF)
}
