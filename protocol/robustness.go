package protocol

import (
	"fmt"
	"math"
	"slices"

	"mealtrial/stats"
	"mealtrial/stats/additive"
)

// A Variation is the same question answered another way, at the same nominal
// level. Low and High are nil where that way gives no interval.
type Variation struct {
	Way      string        `json:"way"`
	Estimate *Number       `json:"estimate"`
	Low      *Number       `json:"low"`
	High     *Number       `json:"high"`
	Unit     string        `json:"unit"` // of the endpoint, or none for a ratio
	Verdict  stats.Verdict `json:"verdict"`
	Changes  bool          `json:"changes_the_verdict"`
	Note     string        `json:"note,omitempty"`
}

// A Robustness is the table of one question.
type Robustness struct {
	Question string        `json:"question"`
	Verdict  stats.Verdict `json:"verdict"`
	Fragile  []string      `json:"fragile"` // the ways that change the verdict
	Ways     []Variation   `json:"ways"`
}

// robustness answers each question about a difference in other ways. A verdict
// that one of them changes is fragile.
func (a *Analysis) robustness(f *Folder, m models, all []Response, inverters []inverter) {
	a.Robustness = []Robustness{}
	if a.Looks.Anytime {
		return // nothing is settled that could be fragile
	}
	for i, q := range f.Study.Questions {
		answer := a.Questions[i]
		if q.Kind == Ratio || !q.Kind.compares() || answer.Low == nil || answer.Nominal == nil {
			continue
		}
		v := variations{f: f, q: q, sample: m.of(f.Study, f.Study.foodsOf(q)...), level: 1 - q.Kind.tails()*float64(*answer.Nominal)}
		v.run(all)
		v.randomised(answer.Randomisation, inverters[i])
		r := Robustness{Question: q.Text, Verdict: answer.Verdict, Ways: v.out, Fragile: []string{}}
		for j := range r.Ways {
			w := &r.Ways[j]
			if w.Changes = w.Low != nil && w.Verdict != answer.Verdict; w.Changes {
				r.Fragile = append(r.Fragile, w.Way)
			}
		}
		a.Robustness = append(a.Robustness, r)
		if n := len(r.Fragile); n > 0 {
			a.Warnings = append(a.Warnings, fmt.Sprintf("The verdict on %s is fragile: answered another way it changes (%s).", q.Text, list(r.Fragile)))
		}
	}
}

// variations collects the ways of one question.
type variations struct {
	f      *Folder
	q      Question
	sample *sample
	level  float64
	out    []Variation
}

func (v *variations) run(all []Response) {
	s := v.f.Study
	with := slices.DeleteFunc(slices.Clone(all), func(r Response) bool { return v.sample.excludesBlank(s) && s.Foods[r.food].Role == RoleBlank })
	if len(with) > len(v.sample.obs) {
		v.from("excluded tests in", newSample(s, with), "")
	}
	if without := v.lastSensorDays(); len(without) < len(v.sample.obs) && len(without) > 0 {
		v.from("last day of each sensor out", newSample(s, without), "")
	}
	v.leaveOneOut()
	v.otherBlocks()
	v.logScale()
	v.ownSpread()
	if b := v.sample.borrowed; b != nil && b.Pooled {
		v.estimate("spread of this study alone", "")(additive.NewFit(v.sample.obs).Contrast(v.weights(v.sample)))
	}
	days := make([]float64, len(v.sample.from))
	for i, r := range v.sample.from {
		days[i] = float64(r.Date - v.sample.from[0].Date)
	}
	v.estimate("linear day trend", "")(v.sample.fit.Adjusted(v.weights(v.sample), days))
	v.estimate("carry-over of the food before", "")(v.sample.fit.Adjusted(v.weights(v.sample), v.sample.fit.CarryOver()...))
	e, rho, err := v.sample.fit.Autoregressive(v.weights(v.sample))
	v.estimate("tests correlated with the one before", fmt.Sprintf("correlation of residuals %s", plain(math.Round(100*rho)/100)))(e, err)
}

// excludesBlank tells whether the fit is that of the foods alone.
func (m *sample) excludesBlank(s *Study) bool {
	return !slices.ContainsFunc(m.obs, func(o additive.Observation) bool { return s.Foods[o.Treatment].Role == RoleBlank })
}

func (v *variations) weights(m *sample) []float64 { return v.f.Study.Weights(v.q)[:m.fit.Treatments] }

// add takes an interval in; not ok: this way gives none.
func (v *variations) add(way, note string, estimate float64, limits stats.Interval, ok bool) {
	out := Variation{Way: way, Unit: v.f.Study.Endpoint.Unit(), Verdict: stats.Open, Note: note}
	if ok {
		out.Estimate, out.Low, out.High = some(estimate), finite(limits.Low), finite(limits.High)
		out.Verdict = stats.Decide(limits, v.f.Study.Margin)
	}
	v.out = append(v.out, out)
}

func (v *variations) estimate(way, note string) func(additive.Estimate, error) {
	return func(e additive.Estimate, err error) {
		if ok := err == nil && e.DF > 0 && e.SE > 0; ok {
			v.add(way, note, e.Value, e.Limits(v.level), true)
			return
		}
		v.add(way, "too few tests for it", 0, stats.Interval{}, false)
	}
}

func (v *variations) from(way string, m *sample, note string) {
	if m.fit == nil || m.tests[v.f.Study.foodsOf(v.q)[0]] == 0 || m.fit.Treatments < len(v.sample.tests) && m.fit.Treatments < v.sample.fit.Treatments {
		v.add(way, "too few tests for it", 0, stats.Interval{}, false)
		return
	}
	v.estimate(way, note)(m.fit.Contrast(v.weights(m)))
}

// lastSensorDays returns the tests that were not on the last day of a planned
// sensor.
func (v *variations) lastSensorDays() (kept []Response) {
	for _, r := range v.sample.from {
		last := v.f.Study.Plan != nil && slices.ContainsFunc(v.f.Study.Plan.Sensors, func(x Sensor) bool {
			end := NewDate(x.end())
			return r.Date == end || r.Date == end-1
		})
		if !last {
			kept = append(kept, r)
		}
	}
	return kept
}

// leaveOneOut leaves out each test in turn and shows the one that brings the
// interval furthest towards another verdict: one that changes it, else the one
// that moves the estimate most.
func (v *variations) leaveOneOut() {
	s := v.f.Study
	base, err := v.sample.fit.Contrast(v.weights(v.sample))
	if err != nil || len(v.sample.from) < 4 {
		return
	}
	verdict := stats.Decide(base.Limits(v.level), s.Margin)
	var worst *variations
	furthest, changed := -1.0, false
	for i := range v.sample.from {
		one := *v
		one.out = nil
		r := v.sample.from[i]
		one.from(fmt.Sprintf("without the test of %s on %s", r.Food, r.Date), newSample(s, slices.Delete(slices.Clone(v.sample.from), i, i+1)), "the worst of leaving out each test in turn")
		if one.out[0].Low == nil {
			continue
		}
		changes, moves := one.out[0].Verdict != verdict, math.Abs(float64(*one.out[0].Estimate)-base.Value)
		if changes && !changed || changes == changed && moves > furthest {
			worst, furthest, changed = &one, moves, changes
		}
	}
	if worst != nil {
		v.out = append(v.out, worst.out...)
	}
}

// otherBlocks takes blocks as random where they are fixed, and as fixed where they
// were declared random.
func (v *variations) otherBlocks() {
	if len(v.sample.blocks) == 0 {
		return
	}
	if v.f.Study.RandomBlocks {
		v.estimate("blocks fixed", "")(v.sample.fit.Contrast(v.weights(v.sample)))
		return
	}
	const way = "blocks random"
	e, err := v.sample.mixedContrast(v.f.Study, v.q)
	if err != nil {
		v.add(way, "no block variance can be estimated", 0, stats.Interval{}, false)
		return
	}
	v.add(way, "REML, Kenward-Roger", e.Value, stats.TInterval(e.Value, e.SE, e.DF, v.level), true)
}

// logScale answers on logarithms, as a ratio: the spread in proportion to the
// response. Only a plain difference has such a form, and the margin has none.
func (v *variations) logScale() {
	const way = "log scale"
	if v.q.Kind == Contrast {
		return
	}
	logs := slices.Clone(v.sample.obs)
	for i := range logs {
		if logs[i].Value <= 0 {
			v.add(way, "a response is not above zero", 0, stats.Interval{}, false)
			return
		}
		logs[i].Value = math.Log(logs[i].Value)
	}
	fit := additive.NewFit(logs)
	e, err := fit.Contrast(v.weights(v.sample))
	if err != nil || e.DF < 1 || e.SE <= 0 {
		v.add(way, "too few tests for it", 0, stats.Interval{}, false)
		return
	}
	limits := e.Limits(v.level)
	out := Variation{Way: way, Estimate: some(math.Exp(e.Value)), Low: finite(math.Exp(limits.Low)), High: ratioLimit(math.Exp(limits.High)), Note: "a ratio; 1 is no difference, and no margin applies"}
	own := stats.Decide(limits, 0)
	out.Verdict = own
	answer := stats.Decide(v.plainLimits(), v.f.Study.Margin)
	if (own == stats.Different) == (answer == stats.Different || answer == stats.TooSmallToMatter) {
		out.Verdict = answer // the two agree on what a ratio can say
	}
	v.out = append(v.out, out)
}

// randomised takes the differences that the randomisation test does not reject at
// this level.
func (v *variations) randomised(r *Randomisation, interval inverter) {
	const way = "randomisation test"
	switch {
	case r == nil || r.P == nil:
		if r != nil {
			v.add(way, r.Missing, 0, stats.Interval{}, false)
		}
		return
	case interval == nil:
		v.add(way, fmt.Sprintf("p %s, held against: %s", PValue(float64(*r.P)), r.Null), 0, stats.Interval{}, false)
		return
	}
	answer, ok := interval(v.level)
	if !ok {
		v.add(way, fmt.Sprintf("p %s; no interval at this level, as this order can give no p below %s", PValue(float64(*r.P)), PValue(float64(*r.Smallest))), 0, stats.Interval{}, false)
		return
	}
	v.add(way, "p "+PValue(float64(*r.P)), answer.Estimate, stats.Interval{Low: answer.Interval.Low, High: answer.Interval.High, Level: v.level}, true)
}

// ratioLimit returns nil for an upper limit that rules nothing out.
func ratioLimit(x float64) *Number {
	const useless = 1000
	if x > useless {
		return nil
	}
	return finite(x)
}

func (v *variations) plainLimits() stats.Interval {
	e, _ := v.sample.fit.Contrast(v.weights(v.sample))
	return e.Limits(v.level)
}

// ownSpread lets each food have a spread of its own: by differences within
// blocks, or by Satterthwaite's degrees of freedom without blocks.
func (v *variations) ownSpread() {
	const way = "spread of its own for each food"
	weights := v.f.Study.Weights(v.q)
	if len(v.sample.blocks) > 0 {
		e, ok := additive.BlockContrast(v.sample.obs, weights)
		if !ok {
			v.add(way, "too few blocks with all of its foods", 0, stats.Interval{}, false)
			return
		}
		v.add(way, "differences within blocks alone", e.Value, e.Limits(v.level), true)
		return
	}
	value, se, df, ok := additive.Satterthwaite(v.sample.obs, weights)
	if !ok {
		v.add(way, "too few tests for it", 0, stats.Interval{}, false)
		return
	}
	v.add(way, "Satterthwaite", value, stats.TInterval(value, se, df, v.level), true)
}
