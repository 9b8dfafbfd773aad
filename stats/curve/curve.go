// Package curve takes numbers from one glucose curve: baseline, peak rise, time of
// the peak, incremental and net area, mean, values at one and two hours, time above
// a level, time back to the baseline, and how much of the window was measured.
//
// Time is in minutes from the first bite; glucose may be in any unit, and the
// results are in that unit. A curve that cannot be measured gives an error,
// never a NaN.
package curve

import (
	"errors"
	"sort"
)

// A Point is one reading.
type Point struct {
	Minute  float64 // minutes from the first bite, negative before it
	Glucose float64
}

// A Window says which part of a curve counts. All fields are in minutes.
type Window struct {
	BaselineFrom float64 // start of the baseline window, for example −15
	BaselineTo   float64 // its end, for example 0; both ends belong to it
	Length       float64 // the response window runs from 0 to Length, both included
	MaxGap       float64 // neighbouring readings further apart are not joined
}

// Features are the numbers of one curve.
type Features struct {
	Baseline         float64 // mean of the readings in the baseline window
	BaselineReadings int
	PeakRise         float64 // highest reading in the window minus Baseline; may be negative
	TimeToPeak       float64 // minutes; the earliest, where several readings are highest
	PeakAtEdge       bool    // the highest reading is the last one of the window
	IncrementalArea  float64 // glucose unit × minutes, over the measured part of the window
	TwoHour          float64 // glucose at 120 min; valid when HasTwoHour
	HasTwoHour       bool
	OneHour          float64 // glucose at 60 min; valid when HasOneHour
	HasOneHour       bool
	NetArea          float64 // glucose unit × minutes: area above the baseline less that below, over the measured part
	Mean             float64 // time-weighted mean glucose over the measured part; valid when Coverage > 0
	Coverage         float64 // measured share of the window, in [0, 1]
	LargestGap       float64 // minutes; longest unmeasured stretch inside the window
}

// What makes a curve unmeasurable.
var (
	ErrNoBaseline = errors.New("no reading in the baseline window")
	ErrNoReadings = errors.New("no reading in the window after the first bite")
)

// The times of the conventional 1- and 2-hour values, in minutes.
const (
	oneHour  = 60
	twoHours = 120
)

// Measure takes the features of a curve.
//
// Points must be in ascending order of time, without repeats; they may reach
// beyond the window on both sides, which lets its ends be interpolated.
// The errors are ErrNoReadings and, where there are readings, ErrNoBaseline.
//
// The baseline as a mean of readings shortly before eating, and the peak rise
// above it, follow ISO 26642:2010 (from memory, the standard was not opened).
func Measure(points []Point, w Window) (Features, error) {
	var f Features
	inside := between(points, 0, w.Length)
	if len(inside) == 0 {
		return f, ErrNoReadings
	}
	f.Baseline, f.BaselineReadings = meanBetween(points, w.BaselineFrom, w.BaselineTo)
	if f.BaselineReadings == 0 {
		return f, ErrNoBaseline
	}
	peak := highest(inside)
	f.PeakRise = inside[peak].Glucose - f.Baseline
	f.TimeToPeak = inside[peak].Minute
	f.PeakAtEdge = peak == len(inside)-1
	f.TwoHour, f.HasTwoHour = ValueAt(points, twoHours, w.MaxGap)

	f.OneHour, f.HasOneHour = ValueAt(points, oneHour, w.MaxGap)

	pieces := measured(points, w)
	f.NetArea = netArea(pieces, f.Baseline)
	f.Mean, _ = meanOf(pieces)
	f.IncrementalArea = incrementalArea(pieces, f.Baseline)
	f.Coverage, f.LargestGap = coverage(pieces, w.Length)
	return f, nil
}

// between returns the points with from ≤ Minute ≤ to.
func between(points []Point, from, to float64) []Point {
	lo := sort.Search(len(points), func(i int) bool { return points[i].Minute >= from })
	hi := sort.Search(len(points), func(i int) bool { return points[i].Minute > to })
	return points[lo:max(lo, hi)]
}

func meanBetween(points []Point, from, to float64) (mean float64, n int) {
	sum := 0.0
	in := between(points, from, to)
	for _, p := range in {
		sum += p.Glucose
	}
	if len(in) == 0 {
		return 0, 0
	}
	return sum / float64(len(in)), len(in)
}

func highest(points []Point) int {
	best := 0
	for i, p := range points {
		if p.Glucose > points[best].Glucose {
			best = i
		}
	}
	return best
}

// ValueAt interpolates glucose at a minute; ok is false where no two readings
// at most maxGap apart enclose it.
func ValueAt(points []Point, minute, maxGap float64) (value float64, ok bool) {
	i := sort.Search(len(points), func(i int) bool { return points[i].Minute >= minute })
	if i == len(points) {
		return 0, false
	}
	if points[i].Minute == minute {
		return points[i].Glucose, true
	}
	if i == 0 || points[i].Minute-points[i-1].Minute > maxGap {
		return 0, false
	}
	return along(points[i-1], points[i], minute), true
}

// along gives the glucose at a minute on the line from a to b.
func along(a, b Point, minute float64) float64 {
	return a.Glucose + (b.Glucose-a.Glucose)*(minute-a.Minute)/(b.Minute-a.Minute)
}
