package protocol

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"mealtrial/protocol/readings"
	"mealtrial/stats"
)

// doubtLevel is the p-value below which a check of the model's assumptions
// speaks up. Common practice, no source.
const doubtLevel = 0.05

// doubts are the warnings that go with an analysis, each one plain sentence.
func (f *Folder) doubts(all models, responses []Response) []string {
	m := all.main
	var out []string
	add := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	f.safetyDoubts(add)
	f.scheduleDoubts(responses, add)
	f.spreadDoubts(m, add)
	f.modelDoubts(m, add)
	f.dataDoubts(m, add)
	f.limitDoubts(responses, add)
	f.doseDoubts(add)
	return out
}

func (f *Folder) safetyDoubts(add func(string, ...any)) {
	for _, l := range f.Safety() {
		if l.LookedAt == "" {
			add("%s, %s: %s was measured; read mealtrial cautions before the next test.", l.Date, l.Food, l.Found)
		}
	}
}

func (f *Folder) scheduleDoubts(responses []Response, add func(string, ...any)) {
	if f.Schedule == nil {
		add("No schedule was drawn, so the order of the foods was not randomised: a difference may come from the order or the day as well as from the food.")
		return
	}
	if !f.Study.Keeps(f.Schedule.Lock()) {
		add("%s has changed since the schedule was drawn (lock %.8s, now %.8s; comments count too): what was changed was not declared before the tests.", StudyFile, f.Schedule.Lock(), f.Study.Digest)
	} else if !f.drawnBySeed() {
		add("%s is not the schedule that its seed draws from this study: it was changed by hand, or by another version of the program, so the order may not be random.", ScheduleFile)
	}
	if off := f.offSchedule(responses); off > 0 {
		add("%s did not follow the schedule (another date or food), which weakens the randomisation.", Count(off, "test", "tests"))
	}
}

// offSchedule counts the tests that did not follow the schedule.
func (f *Folder) offSchedule(responses []Response) (off int) {
	for _, r := range responses {
		if planned := f.Schedule.On(r.Date); planned == nil || planned.Food != r.Food || f.Schedule.replacedOn(r.Date) {
			off++
		}
	}
	return off
}

// replacedOn tells whether another food had been planned on a day that an
// amendment left as it was eaten.
func (s *Schedule) replacedOn(d Date) bool {
	for _, a := range s.Amendments {
		if d < a.From && slices.ContainsFunc(a.Replaced, func(t PlannedTest) bool { return t.Date == d && t.Food != s.On(d).Food }) {
			return true
		}
	}
	return false
}

// fewDF is the number of degrees of freedom below which the width of intervals
// is mostly luck: at 4 the 95 % limits of an SD are 0.6 and 2.9 times its value.
const fewDF = 5

func (f *Folder) spreadDoubts(m *sample, add func(string, ...any)) {
	if !m.ok {
		add("The within-person SD could not be estimated: %s.", m.noSpread())
		return
	}
	if m.borrowed != nil {
		add("%s", m.borrowed.words())
	}
	if df := m.fit.SpreadDF(); df < fewDF {
		add("The within-person SD rests on %s only, so it and the width of every interval are uncertain.", Count(df, "degree of freedom", "degrees of freedom"))
	}
	var single []string
	for i, n := range m.tests {
		if n == 1 {
			single = append(single, f.Study.Foods[i].ID)
		}
	}
	if len(single) > 0 {
		add("%s tested once: the spread from test to test is borrowed from the foods that were repeated.", list(single)+was(len(single)))
	}
}

func list(items []string) string {
	if len(items) < 2 {
		return strings.Join(items, "")
	}
	return strings.Join(items[:len(items)-1], ", ") + " and " + items[len(items)-1]
}

func was(n int) string {
	if n == 1 {
		return " was"
	}
	return " were"
}

// unequalSimulations makes the p-value of the check for unequal spread precise
// to about 0.005.
const unequalSimulations = 1999

// modelDoubts names a test that fits far worse than the others, a spread that
// grows with the response, blocks of a single test, and a drift over the study.
func (f *Folder) modelDoubts(m *sample, add func(string, ...any)) {
	if worst, ok := m.fit.WorstOutlier(); ok && worst.P < doubtLevel {
		r := m.from[worst.Index]
		add("The test of %s on %s lies far from what the other tests lead to expect (studentized residual %s, p %s over all tests): look for what was different that day; it is still counted.",
			r.Food, r.Date, plain(worst.T), PValue(worst.P))
	}
	if p, ok := m.fit.UnequalSpread(unequalSimulations, 1); ok && p < doubtLevel {
		add("Foods with a larger response scatter more (p %s), but one spread is assumed for all: intervals are too narrow where the response is large and too wide where it is small.", PValue(p))
	}
	for i, label := range m.blocks {
		n := 0
		for _, o := range m.obs {
			if o.Block == i {
				n++
			}
		}
		if n == 1 {
			add("Block %d holds a single test, which compares nothing: look whether its number is right.", label)
		}
	}
	days := make([]float64, len(m.from))
	for i, r := range m.from {
		days[i] = float64(r.Date - m.from[0].Date)
	}
	if trend, err := m.fit.Trend(days); err == nil && trend.DF > 0 && trend.SE > 0 {
		if p := stats.TwoSidedP(trend.Value/trend.SE, float64(trend.DF)); p < doubtLevel {
			add("Responses drift over the study by about %s %s a week (p %s), which the model does not take out: food differences may be partly drift.",
				plain(7*trend.Value), f.Study.Endpoint.Unit(), PValue(p))
		}
	}
}

// PValue words a p-value.
func PValue(p float64) string {
	if p < 0.001 {
		return "below 0.001"
	}
	return fmt.Sprintf("%.3g", p)
}

func (f *Folder) dataDoubts(m *sample, add func(string, ...any)) {
	if f.Study.Endpoint.Name == PeakRise && slices.ContainsFunc(f.Study.Questions, func(q Question) bool { return q.Kind == Ratio }) {
		add("A peak rise is never quite zero, as the highest of many noisy readings lies above their mean: ratios of small rises are drawn towards 1.")
	}
	if f.Log.HalfLine > 0 {
		add("The last entry of %s, line %d, is half-written and was left out; mend it or delete it.", LogFile, f.Log.HalfLine)
	}
	byHand, deviations := 0, 0
	for _, r := range m.from {
		if r.Source == FromHand {
			byHand++
		}
		if r.deviation {
			deviations++
		}
	}
	if byHand > 0 {
		add("%s read by hand, without a curve to check %s against.", Count(byHand, "value was", "values were"), map[bool]string{true: "it", false: "them"}[byHand == 1])
	}
	if deviations > 0 {
		add("%s with a deviation from the protocol counted; see mealtrial responses.", Count(deviations, "test", "tests"))
	}
	if f.Study.Endpoint.GlucoseUnit == readings.MgdL && f.Study.Endpoint.Name == PeakRise && byHand > 2 &&
		!slices.ContainsFunc(m.from, func(r Response) bool { return *r.Value >= 6 || *r.Value <= -6 }) {
		add("All rises are below 6 mg/dL, which would be usual in mmol/L: check the endpoint's unit in %s.", StudyFile)
	}
	if !f.Study.ZoneNamed && !f.Recording.Empty() {
		add("%s names no time zone: times are taken as they stand, without clock changes.", StudyFile)
	}
}

// limitDoubts names the foods whose means hold bounds for values, and those that
// lack tests whose values are known to lie on one side.
func (f *Folder) limitDoubts(responses []Response, add func(string, ...any)) {
	side := map[Bound]string{AtLeast: "higher", AtMost: "lower"}
	for i, food := range f.Study.Foods {
		for _, b := range []Bound{AtLeast, AtMost} {
			counted, left := 0, 0
			for _, r := range responses {
				switch {
				case r.food != i || r.atLimit != b:
				case r.Counts():
					counted++
				default:
					left++
				}
			}
			beyond, outside := "the sensor's reporting limit for a value beyond it", "beyond what the sensor reports"
			if f.Study.Endpoint.Name == TimeToBaseline {
				beyond, outside = "the end of the window for a time beyond it", "beyond the end of the window"
			}
			if counted > 0 {
				add("%s of %s %s with %s, as declared: its true mean is likely %s than the table says, and no interval here allows for that.",
					Count(counted, "test", "tests"), food.ID, map[bool]string{true: "counts", false: "count"}[counted == 1], beyond, side[b])
			}
			if left > 0 {
				add("%s of %s %s left out as its value lies %s: without such tests the mean of %s is likely %s in truth than the table says.",
					Count(left, "test", "tests"), food.ID, map[bool]string{true: "is", false: "are"}[left == 1], outside, food.ID, side[b])
			}
		}
	}
}

// drawnBySeed tells whether drawing again with the recorded seed gives the
// recorded schedule. Schedules with amendments or from other calendars cannot be
// drawn again and pass.
func (f *Folder) drawnBySeed() bool {
	s := f.Schedule
	if s == nil || f.Study.Plan == nil || len(s.Amendments) > 0 || !f.Study.Keeps(s.Lock()) || !maps.Equal(s.Calendars, f.Study.Plan.digests) {
		return true
	}
	again, err := DrawSchedule(f.Study, s.Seed)
	if err != nil || len(again.Tests) != len(s.Tests) {
		return false
	}
	for i, t := range again.Tests {
		if s.Tests[i] != t {
			return false
		}
	}
	return true
}
