package protocol

import (
	"cmp"
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
		if !q.Kind.compares() || answer.Low == nil || answer.Nominal == nil {
			continue
		}
		v := variations{f: f, q: q, sample: m.of(f.Study, f.Study.foodsOf(q)...), alpha: float64(*answer.Nominal)}
		if q.Kind == Ratio {
			v.runRatio(all)
		} else {
			v.run(all)
		}
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
	alpha  float64 // two-sided nominal level
	out    []Variation
}

func (v *variations) run(all []Response) {
	v.samples(all, func(way string, m *sample) { v.from(way, m, "") })
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

// add takes the intervals of any level in.
func (v *variations) add(way, note string, estimate float64, at func(level float64) stats.Interval) {
	out := Variation{Way: way, Unit: v.f.Study.Endpoint.Unit(), Note: note, Estimate: some(estimate)}
	limits, verdict := v.q.Kind.decide(at, v.alpha, v.f.Study.Margin)
	out.Low, out.High, out.Verdict = finite(limits.Low), finite(limits.High), verdict
	v.out = append(v.out, out)
}

// none says why a way gives no answer.
func (v *variations) none(way, note string) {
	v.out = append(v.out, Variation{Way: way, Unit: v.f.Study.Endpoint.Unit(), Verdict: stats.Open, Note: note})
}

// level is that of the interval.
func (v *variations) level() float64 { return 1 - v.q.Kind.tails()*v.alpha }

func (v *variations) estimate(way, note string) func(additive.Estimate, error) {
	return func(e additive.Estimate, err error) {
		if ok := err == nil && e.DF > 0 && e.SE > 0; ok {
			v.add(way, note, e.Value, e.Limits)
			return
		}
		v.none(way, "too few tests for it")
	}
}

func (v *variations) from(way string, m *sample, note string) {
	if m.fit == nil || m.tests[v.f.Study.foodsOf(v.q)[0]] == 0 || m.fit.Treatments < len(v.sample.tests) && m.fit.Treatments < v.sample.fit.Treatments {
		v.none(way, "too few tests for it")
		return
	}
	e, ok := v.primary(m)
	if !ok {
		v.none(way, "too few tests for it")
		return
	}
	v.add(way, note, e.value, e.limits)
}

// primary answers the question from a sample in the way that was declared.
func (v *variations) primary(m *sample) (e interval, ok bool) {
	s := v.f.Study
	if s.OwnSpread {
		e, _, ok = m.ownSpread(s.Weights(v.q))
		return e, ok
	}
	if s.RandomBlocks && len(m.blocks) > 0 {
		if x, err := m.mixedContrast(s, v.q); err == nil {
			return interval{x.Value, x.SE, x.DF}, true
		}
	}
	x, err := m.fit.Contrast(v.weights(m))
	return interval{x.Value, x.SE, float64(x.DF)}, err == nil && x.DF > 0 && x.SE > 0
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

// leaveOneOut leaves out each test in turn and shows the worst.
func (v *variations) leaveOneOut() {
	s := v.f.Study
	base, ok := v.primary(v.sample)
	if !ok {
		return
	}
	_, verdict := v.q.Kind.decide(base.limits, v.alpha, s.Margin)
	if !s.OwnSpread && !s.RandomBlocks && v.sample.borrowed == nil {
		v.leaveEachOutAtOnce(base.value, verdict)
		return
	}
	v.leaveEachOut(base.value, verdict, func(one *variations, way string, m *sample) { one.from(way, m, worstOfEach) })
}

// leaveEachOutAtOnce is leaveEachOut for least squares, from one fit for all tests.
func (v *variations) leaveEachOutAtOnce(estimate float64, verdict stats.Verdict) {
	if len(v.sample.from) < 4 {
		return
	}
	without, ok, err := v.sample.fit.WithoutEach(v.weights(v.sample))
	if err != nil {
		return
	}
	worst, furthest, changed := -1, -1.0, false
	for i, e := range without {
		if !ok[i] || e.DF < 1 || e.SE <= 0 {
			continue
		}
		_, own := v.q.Kind.decide(e.Limits, v.alpha, v.f.Study.Margin)
		changes, moves := own != verdict, math.Abs(e.Value-estimate)
		if changes && !changed || changes == changed && moves > furthest*(1+1e-9) { // of tests that mirror each other the first
			worst, furthest, changed = i, moves, changes
		}
	}
	if worst >= 0 {
		r := v.sample.from[worst]
		v.estimate(fmt.Sprintf("without the test of %s on %s", r.Food, r.Date), worstOfEach)(without[worst], nil)
	}
}

const worstOfEach = "the worst of leaving out each test in turn"

// leaveEachOut keeps the row, of one without each test, that changes the verdict or
// else moves the estimate most.
func (v *variations) leaveEachOut(estimate float64, verdict stats.Verdict, row func(one *variations, way string, m *sample)) {
	s := v.f.Study
	if len(v.sample.from) < 4 {
		return
	}
	var worst *variations
	furthest, changed := -1.0, false
	candidates := v.mayLeaveOut()
	if len(candidates) == 0 {
		v.none("leaving out each test in turn", "not tried: so many tests and foods would take too long to fit anew without each")
		return
	}
	for _, i := range candidates {
		one := *v
		one.out = nil
		r := v.sample.from[i]
		row(&one, fmt.Sprintf("without the test of %s on %s", r.Food, r.Date), newSample(s, slices.Delete(slices.Clone(v.sample.from), i, i+1)))
		if one.out[0].Low == nil {
			continue
		}
		changes, moves := one.out[0].Verdict != verdict, math.Abs(float64(*one.out[0].Estimate)-estimate)
		if changes && !changed || changes == changed && moves > furthest {
			worst, furthest, changed = &one, moves, changes
		}
	}
	if worst != nil {
		if n := len(candidates); n < len(v.sample.from) {
			worst.out[0].Note = fmt.Sprintf("the worst of leaving out in turn the %d tests that weigh most; to try all of so many would take too long", n)
		}
		v.out = append(v.out, worst.out...)
	}
}

// mostRefitting bounds the arithmetic of fitting anew without each test, over all
// questions: seconds at most.
const mostRefitting = 2e9

// mayLeaveOut are the tests without which the question is answered anew: all, or
// those with the largest residuals for their leverage where all would take too long;
// none where not even a few can be tried.
func (v *variations) mayLeaveOut() []int {
	n, columns := len(v.sample.from), v.sample.fit.Treatments+v.sample.fit.Blocks
	each := 10 * float64(n) * float64(columns) * float64(columns) // a REML fit is worth about ten passes
	may := int(mostRefitting / each / float64(len(v.f.Study.Questions)))
	all := make([]int, n)
	for i := range all {
		all[i] = i
	}
	if may >= n {
		return all
	}
	if may < 3 {
		return nil
	}
	influence := v.sample.fit.Influence()
	slices.SortStableFunc(all, func(a, b int) int { return cmp.Compare(influence[b], influence[a]) })
	return all[:may]
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
		v.none(way, "no block variance can be estimated")
		return
	}
	v.add(way, "REML, Kenward-Roger", e.Value, interval{e.Value, e.SE, e.DF}.limits)
}

// logScale answers on logarithms, as a ratio: the spread in proportion to the
// response. Only a plain difference has such a form, and the margin has none.
func (v *variations) logScale() {
	const way = "log scale"
	if v.q.Kind == Contrast {
		return
	}
	fit, ok := v.sample.logs()
	if !ok {
		v.none(way, "a response is not above zero")
		return
	}
	e, err := fit.Contrast(v.weights(v.sample))
	if err != nil || e.DF < 1 || e.SE <= 0 {
		v.none(way, "too few tests for it")
		return
	}
	limits := e.Limits(v.level())
	out := Variation{Way: way, Estimate: some(math.Exp(e.Value)), Low: finite(math.Exp(limits.Low)), High: ratioLimit(math.Exp(limits.High)), Note: "a ratio; 1 is no difference, and no margin applies"}
	_, own := v.q.Kind.decide(e.Limits, v.alpha, 0)
	out.Verdict = own
	plain, _ := v.sample.fit.Contrast(v.weights(v.sample))
	_, answer := v.q.Kind.decide(plain.Limits, v.alpha, v.f.Study.Margin)
	if (own == stats.Different) == (answer == stats.Different || answer == stats.TooSmallToMatter) {
		out.Verdict = answer // the two agree on what a ratio can say
	}
	v.out = append(v.out, out)
}

// randomised takes the differences that the randomisation test does not reject at
// this level.
func (v *variations) randomised(r *Randomisation, invert inverter) {
	const way = "randomisation test"
	switch {
	case r == nil || r.P == nil:
		if r != nil {
			v.none(way, r.Missing)
		}
		return
	case invert == nil:
		v.none(way, fmt.Sprintf("p %s, held against: %s", PValue(float64(*r.P)), r.Null))
		return
	}
	answer, ok := invert(v.level())
	if !ok {
		v.none(way, fmt.Sprintf("p %s; no interval at this level, as this order can give no p below %s", PValue(float64(*r.P)), PValue(float64(*r.Smallest))))
		return
	}
	v.add(way, "p "+PValue(float64(*r.P)), answer.Estimate, func(level float64) stats.Interval {
		again, ok := answer, true
		if level != v.level() {
			again, ok = invert(level)
		}
		if !ok {
			return stats.Interval{Low: math.Inf(-1), High: math.Inf(1), Level: level}
		}
		return stats.Interval{Low: again.Interval.Low, High: again.Interval.High, Level: level}
	})
}

// ratioLimit returns nil for an upper limit that rules nothing out.
func ratioLimit(x float64) *Number {
	const useless = 1000
	if x > useless {
		return nil
	}
	return finite(x)
}

// ownSpread lets each food have a spread of its own or, where it was declared so,
// takes one for all.
func (v *variations) ownSpread() {
	if v.f.Study.OwnSpread {
		v.estimate("one spread for all foods", "")(v.sample.fit.Contrast(v.weights(v.sample)))
		return
	}
	const way = "spread of its own for each food"
	e, _, ok := v.sample.ownSpread(v.f.Study.Weights(v.q))
	note := "Satterthwaite"
	if len(v.sample.blocks) > 0 {
		note = "differences within blocks alone"
	}
	if !ok {
		v.none(way, "too few tests, or too few blocks with all of its foods")
		return
	}
	v.add(way, note, e.value, e.limits)
}

// samples visits the samples with other tests in them.
func (v *variations) samples(all []Response, visit func(way string, m *sample)) {
	s := v.f.Study
	with := slices.DeleteFunc(slices.Clone(all), func(r Response) bool { return v.sample.excludesBlank(s) && s.Foods[r.food].Role == RoleBlank })
	if len(with) > len(v.sample.obs) {
		visit("excluded tests in", newSample(s, with))
	}
	if without := v.lastSensorDays(); len(without) < len(v.sample.obs) && len(without) > 0 {
		visit("last day of each sensor out", newSample(s, without))
	}
}
