package protocol

import (
	"fmt"
	"math"
	"time"

	"mealtrial/protocol/problem"
	"mealtrial/protocol/readings"
)

// A Response is what one test gave. Glucose is in the study's unit, time in
// minutes; what could not be had is nil.
type Response struct {
	Date       Date     `json:"date"`
	Time       string   `json:"time,omitempty"` // first bite
	Food       string   `json:"food"`
	Block      int      `json:"block,omitempty"`
	Baseline   *Number  `json:"baseline"`
	PeakRise   *Number  `json:"peak_rise"`
	TimeToPeak *Number  `json:"time_to_peak"`
	IAUC       *Number  `json:"iauc"`
	TwoHour    *Number  `json:"two_hour"`
	Coverage   *Number  `json:"coverage"` // share of the window, 0 to 1
	Value      *Number  `json:"value"`    // the endpoint, as it is analysed, or as it would be where the test is left out
	Source     string   `json:"source"`   // readings, hand, or "" for neither
	Excluded   string   `json:"excluded,omitempty"`
	Flags      []string `json:"flags"`
	// Small: the response is no larger than a day without food may give.
	Small bool `json:"within_floor,omitempty"`
	// Quality are those flags that make the number doubtful, with a name each.
	Quality []QualityFlag `json:"quality,omitempty"`
	Sensor  string        `json:"sensor,omitempty"` // that the numbers are from; "" where only one is worn at a time
	// Bounds names the numbers that are no measurements: the true one is at least,
	// or at most, what stands there, or is not known from either side.
	Bounds map[string]Bound `json:"bounds,omitempty"`
	// Safety are reasons to stop and seek advice.
	Safety []SafetyLine `json:"safety,omitempty"`
	// Secondary are the secondary endpoints that the study declares.
	Secondary map[string]Number `json:"secondary_endpoints,omitempty"`
	// Outcomes are the secondary outcomes by id; one that was not noted is not there.
	Outcomes map[string]Number `json:"outcomes,omitempty"`

	food      int        // index in Study.Foods
	deviation bool       // the log names one
	runIn     bool       // planned as a run-in test
	atLimit   Bound      // of the endpoint, where the readings give no more
	curve     *testCurve // nil: none that could be measured
}

// Counts tells whether the test is analysed.
func (r Response) Counts() bool { return r.Excluded == "" && r.Value != nil }

// runInReason is why a run-in test is not analysed.
const runInReason = "run-in, not analysed"

// Sources of a response.
const (
	FromReadings = "readings"
	FromHand     = "hand"
)

// Thresholds of the safety flags, as printed pairs in the unit the data came
// in: Danne et al. 2017, Diabetes Care 40:1631, table 1.
var (
	lowGlucose  = map[readings.Unit]float64{readings.MgdL: 70, readings.MmolL: 3.9}
	highGlucose = map[readings.Unit]float64{readings.MgdL: 250, readings.MmolL: 13.9}
)

// Responses turns each test of the log into numbers. Tests that neither
// readings nor a typed value cover stay in the result, without a value, and are
// named in the problem list as well unless they are excluded.
func (f *Folder) Responses() ([]Response, problem.List) {
	var problems problem.List
	all := make([]Response, 0, len(f.Log.Tests))
	for _, t := range f.Log.Tests {
		r, p := f.respond(t)
		if p != nil {
			problems = append(problems, *p)
		}
		all = append(all, r)
	}
	f.flagQuality(all)
	return all, problems
}

func (f *Folder) respond(t Test) (Response, *problem.Problem) {
	r := Response{Date: t.Date, Food: t.Food, Block: t.Block, Excluded: t.Exclude, Flags: []string{},
		food: f.Study.Food(t.Food), deviation: len(t.Deviations) > 0}
	if t.HasTime {
		r.Time = t.Time.String()
	}
	if planned := f.Schedule.On(t.Date); planned != nil {
		if r.Block == 0 {
			r.Block = planned.Block
		}
		if planned.Food != t.Food {
			r.flag("planned food was " + planned.Food)
		}
	} else if f.Schedule != nil {
		r.flag("not in the schedule")
	}
	p := f.measure(t, &r)
	if t.HasValue && (r.Value == nil || r.Bounds[f.Study.Endpoint.key()] != "") {
		r.byHand(t, f.Study.Endpoint.Name)
		p = nil
	} else if t.HasValue {
		r.flag(fmt.Sprintf("typed value %s not used, the readings are", plain(t.Value)))
	}
	if planned := f.Schedule.On(t.Date); planned != nil && planned.RunIn {
		r.runIn = true
		if r.Excluded == "" {
			r.Excluded = runInReason
		}
	}
	r.Safety, r.Outcomes = f.SafetyOf(t), t.noted()
	if t.Masked {
		r.flag("masked when entered")
	}
	for _, d := range t.Deviations {
		r.flag("deviation: " + d)
	}
	if r.Excluded != "" || p == nil {
		return r, nil
	}
	p.File, p.Line, p.Field = LogFile, t.Line, fmt.Sprintf("test %s %s", t.Key(), t.Food)
	return r, p
}

func (r *Response) flag(text string) { r.Flags = append(r.Flags, text) }

// byHand takes the typed value as the endpoint; a curve that was not good
// enough is no longer a reason to leave the test out.
func (r *Response) byHand(t Test, endpoint EndpointName) {
	r.Value, r.Source, r.Excluded = some(t.Value), FromHand, t.Exclude
	switch endpoint {
	case IncrementalArea:
		r.IAUC = r.Value
	case PeakRise:
		r.PeakRise = r.Value
	case TimeOfPeak:
		r.TimeToPeak = r.Value
	case TwoHourValue:
		r.TwoHour = r.Value
	}
	r.atLimit = ""
	delete(r.Bounds, Endpoint{Name: endpoint}.key())
	r.flag("read by hand")
}

const coverMend = "copy the sensor file that covers it into readings/, or type value:, or leave it out with exclude: and the reason"

// around is the time whose readings a test may need.
func (s *Study) around(t Test) readings.Span {
	bite, _ := t.Date.At(t.Time, s.Zone)
	return readings.Span{From: bite.Add(-minutes(math.Max(s.Endpoint.Baseline, s.Quality.MaxGap))),
		To: bite.Add(minutes(s.window().Length + s.Quality.MaxGap))}
}

// measure fills in what the readings give. The problem says why they give
// nothing at all; its place is for the caller to fill in.
func (f *Folder) measure(t Test, r *Response) *problem.Problem {
	if f.Recording.Empty() {
		return &problem.Problem{Found: "no value and no readings", Expected: "one of them", Mend: coverMend}
	}
	if !t.HasTime {
		return &problem.Problem{Found: "no time of first bite", Expected: "one, to lay the readings against", Mend: "add for example time: \"07:30\""}
	}
	bite, _ := t.Date.At(t.Time, f.Study.Zone)
	around := f.Study.around(t)
	curves := curvesOf(f.Recording.Between(around.From, around.To), bite, f.Study)
	best := f.choose(curves)
	if best == nil {
		r.Coverage = some(0)
		r.flag("no readings in the window")
		return &problem.Problem{Found: fmt.Sprintf("no reading from %s to %s", r.Time, bite.Add(minutes(f.Study.window().Length)).Format("15:04")),
			Expected: "readings that cover the test", Mend: coverMend}
	}
	r.Sensor = best.sensor
	if best.err != nil {
		r.invalidate(fmt.Sprintf("no reading in the %s min before the first bite", plain(f.Study.Endpoint.Baseline)))
		return nil
	}
	r.curve = best
	r.fill(best, f.Study)
	f.flagMerge(around, best, curves, r)
	r.flagSafety(best.readings, f.Study.Endpoint.GlucoseUnit)
	return nil
}

// flagMerge says that another sensor was worn, and that readings contradict one
// another.
func (f *Folder) flagMerge(around readings.Span, best *testCurve, curves []*testCurve, r *Response) {
	for _, c := range curves {
		if c == best {
			continue
		}
		if c.err != nil {
			r.flag(fmt.Sprintf("also worn: sensor %s, without a usable curve", c.sensor))
			continue
		}
		value := c.features.PeakRise
		if f.Study.Endpoint.Name == IncrementalArea {
			value = c.features.IncrementalArea
		}
		r.flag(fmt.Sprintf("also worn: sensor %s, %s %s%s", c.sensor, f.Study.Endpoint.Name.Words(), c.bounds[f.Study.Endpoint.key()].prefix(), c.bounds[f.Study.Endpoint.key()].write(value)))
	}
	n := 0
	for _, c := range f.Recording.Conflicts {
		if c.Sensor == best.sensor && !c.Time.Before(around.From) && !c.Time.After(around.To) {
			n++
		}
	}
	if n > 0 {
		r.flag(fmt.Sprintf("%s left out, the files contradict each other; see mealtrial readings", Count(n, "reading", "readings")))
	}
}

func minutes(m float64) time.Duration { return time.Duration(m * float64(time.Minute)) }

func (r *Response) fill(c *testCurve, s *Study) {
	f := c.features
	r.Baseline, r.PeakRise, r.TimeToPeak = some(f.Baseline), some(f.PeakRise), some(f.TimeToPeak)
	r.IAUC, r.Coverage = some(f.IncrementalArea), some(f.Coverage)
	if f.HasTwoHour {
		r.TwoHour = some(f.TwoHour)
	}
	r.Bounds = c.bounds
	if f.Coverage < s.Quality.MinCoverage {
		r.lowCoverage(fmt.Sprintf("readings cover %s of the window, less than %s", Percent(math.Floor(f.Coverage*100)/100), Percent(s.Quality.MinCoverage)))
		return
	}
	r.Source = FromReadings
	r.takeSecondary(c, s)
	x, _, ok := s.Endpoint.Of(f, c.points, s.window())
	if !ok {
		r.Source = ""
		r.invalidate("no readings near enough to tell the " + s.Endpoint.InWords())
		return
	}
	r.Value = some(x)
	if b := c.bounds[s.Endpoint.key()]; b != "" {
		r.leaveOutAtLimit(c, b, s)
	}
	if f.LargestGap > s.Quality.MaxGap {
		r.doubt(s, GapInWindow, "gap of %s min", plain(f.LargestGap))
	}
	if f.PeakAtEdge {
		r.doubt(s, PeakAtEdge, "highest at the end of the window")
	}
	if f.BaselineReadings == 1 {
		r.flag("baseline from one reading")
	}
}

// leaveOutAtLimit leaves the test out of the means, or, where the study file
// declares it, takes the bound for the value. The bound stays as the value of a
// test that is left out, for the answer with such tests in.
func (r *Response) leaveOutAtLimit(c *testCurve, b Bound, s *Study) {
	r.atLimit = b
	why := c.whyBound(s)
	if b == NotKnown {
		r.Value, r.Source = nil, ""
		r.invalidate(fmt.Sprintf("%s is not known, %s", s.Endpoint.InWords(), why))
		return
	}
	reason := fmt.Sprintf("%s is %s %s %s, %s", s.Endpoint.InWords(), b, b.write(float64(*r.Value)), s.Endpoint.Unit(), why)
	if s.Quality.LimitIsBound {
		r.flag(reason + "; counted as that, as declared")
		return
	}
	r.invalidate(reason)
}

// invalidate leaves the test out for a reason that the quality rules give.
func (r *Response) invalidate(reason string) {
	r.flag(reason)
	if r.Excluded == "" {
		r.Excluded = reason
	}
}

func (r *Response) flagSafety(near []readings.Reading, unit readings.Unit) {
	for _, l := range crossed(near, unit) {
		r.flag(l.text)
	}
}
