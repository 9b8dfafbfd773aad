package protocol

import (
	"mealtrial/stats"
	"mealtrial/stats/ratio"
)

// runRatio answers a question about a ratio in other ways.
func (v *variations) runRatio(all []Response) {
	s := v.f.Study
	v.samples(all, func(way string, m *sample) { v.ratio(way, m, s, "") })
	base := v.sample.answerRatio(s, v.q, v.level())
	if base.Estimate != nil {
		v.leaveEachOut(float64(*base.Estimate), base.Verdict, func(one *variations, way string, m *sample) { one.ratio(way, m, s, worstOfEach) })
	}
	other := *s
	other.LogRatios = !s.LogRatios
	way := "log scale"
	if s.LogRatios {
		way = "ratio of means, Fieller"
	}
	v.ratio(way, v.sample, &other, "")
}

// ratio takes the ratio of a sample in.
func (v *variations) ratio(way string, m *sample, s *Study, note string) {
	out := Variation{Way: way, Verdict: stats.Open, Note: "no such set, or one without limits"}
	if m.fit != nil && m.fit.Treatments > max(s.Food(v.q.A), s.Food(v.q.B)) {
		if a := m.answerRatio(s, v.q, v.level()); a.Shape == ratio.Bounded && a.Low != nil && a.High != nil {
			out.Estimate, out.Low, out.High, out.Verdict, out.Note = a.Estimate, a.Low, a.High, a.Verdict, note
		}
	}
	v.out = append(v.out, out)
}
