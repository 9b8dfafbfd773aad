package protocol

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"mealtrial/protocol/problem"
	"mealtrial/protocol/readings"
	"mealtrial/stats/curve"
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
	Value      *Number  `json:"value"`    // the endpoint, as it is analysed
	Source     string   `json:"source"`   // readings, hand, or "" for neither
	Excluded   string   `json:"excluded,omitempty"`
	Flags      []string `json:"flags"`

	food      int  // index in Study.Foods
	deviation bool // the log names one
	runIn     bool // planned as a run-in test
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
	if r.Value == nil && t.HasValue {
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
	if endpoint == IncrementalArea {
		r.IAUC = r.Value
	} else {
		r.PeakRise = r.Value
	}
	r.flag("read by hand")
}

const coverMend = "copy the sensor file that covers it into readings/, or type value:, or leave it out with exclude: and the reason"

// measure fills in what the readings give. The problem says why they give
// nothing at all; its place is for the caller to fill in.
func (f *Folder) measure(t Test, r *Response) *problem.Problem {
	if len(f.Recording.Readings) == 0 {
		return &problem.Problem{Found: "no value and no readings", Expected: "one of them", Mend: coverMend}
	}
	if !t.HasTime {
		return &problem.Problem{Found: "no time of first bite", Expected: "one, to lay the readings against", Mend: "add for example time: \"07:30\""}
	}
	bite, _ := t.Date.At(t.Time, f.Study.Zone)
	window := f.Study.window()
	near := f.Recording.Between(bite.Add(-minutes(math.Max(f.Study.Endpoint.Baseline, f.Study.Quality.MaxGap))),
		bite.Add(minutes(window.Length+f.Study.Quality.MaxGap)))
	points, limit := curvePoints(near, bite, window)
	if limit != nil {
		return limit
	}
	features, err := curve.Measure(points, window)
	switch {
	case errors.Is(err, curve.ErrNoReadings):
		r.Coverage = some(0)
		r.flag("no readings in the window")
		return &problem.Problem{Found: fmt.Sprintf("no reading from %s to %s", r.Time, bite.Add(minutes(window.Length)).Format("15:04")),
			Expected: "readings that cover the test", Mend: coverMend}
	case err != nil:
		r.invalidate(fmt.Sprintf("no reading in the %s min before the first bite", plain(f.Study.Endpoint.Baseline)))
		return nil
	}
	r.fill(features, f.Study)
	r.flagSafety(near, f.Study.Endpoint.GlucoseUnit)
	return nil
}

func minutes(m float64) time.Duration { return time.Duration(m * float64(time.Minute)) }

// curvePoints lays readings against the first bite. A LOW or HIGH inside the
// baseline or the window makes the curve unusable.
func curvePoints(near []readings.Reading, bite time.Time, w curve.Window) ([]curve.Point, *problem.Problem) {
	var points []curve.Point
	for _, reading := range near {
		minute := reading.Time.Sub(bite).Minutes()
		if reading.Limit == readings.NotLimited {
			points = append(points, curve.Point{Minute: minute, Glucose: reading.Glucose})
			continue
		}
		if minute < w.BaselineFrom || minute > w.Length {
			continue
		}
		word := map[readings.Limit]string{readings.BelowRange: "LOW", readings.AboveRange: "HIGH"}[reading.Limit]
		return nil, &problem.Problem{
			Found:    fmt.Sprintf("%q at %s (%s line %d)", word, reading.Time.In(bite.Location()).Format("15:04"), reading.File, reading.Line),
			Expected: "measurements: a value beyond the sensor's range is only a bound",
			Mend:     "leave the test out with exclude: and the reason, or type value: from another meter"}
	}
	return points, nil
}

func (r *Response) fill(f curve.Features, s *Study) {
	r.Baseline, r.PeakRise, r.TimeToPeak = some(f.Baseline), some(f.PeakRise), some(f.TimeToPeak)
	r.IAUC, r.Coverage = some(f.IncrementalArea), some(f.Coverage)
	if f.HasTwoHour {
		r.TwoHour = some(f.TwoHour)
	}
	if f.Coverage < s.Quality.MinCoverage {
		r.invalidate(fmt.Sprintf("readings cover %s of the window, less than %s", Percent(math.Floor(f.Coverage*100)/100), Percent(s.Quality.MinCoverage)))
		return
	}
	r.Source = FromReadings
	r.Value = r.PeakRise
	if s.Endpoint.Name == IncrementalArea {
		r.Value = r.IAUC
	}
	if f.LargestGap > s.Quality.MaxGap {
		r.flag(fmt.Sprintf("gap of %s min", plain(f.LargestGap)))
	}
	if f.PeakAtEdge {
		r.flag("highest at the end of the window")
	}
	if f.BaselineReadings == 1 {
		r.flag("baseline from one reading")
	}
}

// invalidate leaves the test out for a reason that the quality rules give.
func (r *Response) invalidate(reason string) {
	r.flag(reason)
	if r.Excluded == "" {
		r.Excluded = reason
	}
}

func (r *Response) flagSafety(near []readings.Reading, unit readings.Unit) {
	for _, c := range []struct {
		found func(readings.Reading) bool
		text  string
	}{
		{func(x readings.Reading) bool { return x.Glucose < lowGlucose[unit] }, fmt.Sprintf("glucose below %g", lowGlucose[unit])},
		{func(x readings.Reading) bool { return x.Glucose > highGlucose[unit] }, fmt.Sprintf("glucose above %g", highGlucose[unit])},
	} {
		if slices.ContainsFunc(near, func(x readings.Reading) bool { return x.Limit == readings.NotLimited && c.found(x) }) {
			r.flag(c.text)
		}
	}
}
