package curve

import (
	"math"
	"slices"
)

// Area is the area under a curve down to zero by linear trapezoids, over all its
// points: the usual one of pharmacokinetics (Gibaldi and Perrier 1982,
// Pharmacokinetics, appendix D; from memory). It is 0 for fewer than two points.
func Area(points []Point) float64 {
	area := 0.0
	for i := 1; i < len(points); i++ {
		a, b := points[i-1], points[i]
		area += (b.Minute - a.Minute) * (a.Glucose + b.Glucose) / 2
	}
	return area
}

// netArea is the area above the baseline less that below it, over the measured part.
func netArea(pieces []piece, baseline float64) float64 {
	area := 0.0
	for _, p := range pieces {
		area += p.minutes() * ((p.from.Glucose+p.to.Glucose)/2 - baseline)
	}
	return area
}

// meanOf is the time-weighted mean glucose of the measured part; not ok without one.
func meanOf(pieces []piece) (mean float64, ok bool) {
	minutes := 0.0
	for _, p := range pieces {
		minutes += p.minutes()
	}
	if minutes <= 0 {
		return 0, false
	}
	return netArea(pieces, 0) / minutes, true
}

// TimeAbove returns the minutes of the measured part of the window in which glucose,
// on straight lines between readings, lies above a level.
func TimeAbove(points []Point, w Window, level float64) float64 {
	total := 0.0
	for _, p := range measured(points, w) {
		a, c := p.from.Glucose-level, p.to.Glucose-level
		switch {
		case a > 0 && c > 0:
			total += p.minutes()
		case a > 0:
			total += p.minutes() * a / (a - c)
		case c > 0:
			total += p.minutes() * c / (c - a)
		}
	}
	return total
}

// A Return says whether and when glucose came back to the baseline after its peak.
type Return int

// The cases.
const (
	Back    Return = iota // it came back, at the time given
	NotBack               // it did not within the window: the time given, the window's end, is a bound from below
	Unseen                // it may have, in a stretch without readings
)

// TimeToBaseline returns the minute at which glucose, on straight lines between
// readings, is first at the baseline or below after the highest reading of the
// window; 0 for a curve that never rose above it.
func TimeToBaseline(points []Point, w Window, f Features) (minute float64, r Return) {
	if f.PeakRise <= 0 {
		return 0, Back
	}
	at := f.TimeToPeak
	for _, p := range measured(points, w) {
		if p.to.Minute <= f.TimeToPeak {
			continue
		}
		if p.from.Minute > at+1e-9 {
			return at, Unseen
		}
		a, c := p.from.Glucose-f.Baseline, p.to.Glucose-f.Baseline
		if c <= 0 {
			if a <= c {
				return p.to.Minute, Back
			}
			return p.from.Minute + p.minutes()*a/(a-c), Back
		}
		at = p.to.Minute
	}
	if at < w.Length-1e-9 {
		return at, Unseen
	}
	return w.Length, NotBack
}

// A Smoothing says how readings are smoothed before anything is measured.
type Smoothing string

// The ways. NoSmoothing is the zero value.
const (
	NoSmoothing   Smoothing = ""
	RunningMean   Smoothing = "mean"
	RunningMedian Smoothing = "median"
)

// Smooth returns the curve with each value replaced by the mean or median of the n
// readings around it, n odd, of which none is further than maxGap from the next; at
// the ends, and beside a longer gap, of as many as there are on the shorter side, so
// that no value is drawn to one side (the running median of odd span: Tukey 1977,
// Exploratory Data Analysis, chapter 7; from memory). It panics unless n is odd and
// at least 1.
func Smooth(points []Point, by Smoothing, n int, maxGap float64) []Point {
	if n < 1 || n%2 == 0 {
		panic("curve: a span of smoothing has to be odd")
	}
	out := slices.Clone(points)
	if by == NoSmoothing || n == 1 {
		return out
	}
	joined := func(i int) bool { // i and i+1
		return i >= 0 && i+1 < len(points) && points[i+1].Minute-points[i].Minute <= maxGap
	}
	for i := range points {
		reach := 0
		for reach < n/2 && joined(i-reach-1) && joined(i+reach) {
			reach++
		}
		values := make([]float64, 0, 2*reach+1)
		for _, p := range points[i-reach : i+reach+1] {
			values = append(values, p.Glucose)
		}
		if by == RunningMedian {
			slices.Sort(values)
			out[i].Glucose = values[reach]
			continue
		}
		sum := 0.0
		for _, v := range values {
			sum += v
		}
		out[i].Glucose = sum / float64(len(values))
	}
	return out
}

// BaselineSlope returns the least-squares slope of the readings of the baseline
// window, in glucose per minute, and the SD of their distances from that line, on
// n − 2 degrees of freedom; ok is false with fewer than three readings.
func BaselineSlope(points []Point, w Window) (slope, sd float64, n int, ok bool) {
	in := between(points, w.BaselineFrom, w.BaselineTo)
	if n = len(in); n < 3 {
		return 0, 0, n, false
	}
	return line(in)
}

func line(in []Point) (slope, sd float64, n int, ok bool) {
	n = len(in)
	meanX, meanY := 0.0, 0.0
	for _, p := range in {
		meanX += p.Minute / float64(n)
		meanY += p.Glucose / float64(n)
	}
	sxx, sxy := 0.0, 0.0
	for _, p := range in {
		sxx += (p.Minute - meanX) * (p.Minute - meanX)
		sxy += (p.Minute - meanX) * (p.Glucose - meanY)
	}
	if sxx == 0 {
		return 0, 0, n, false
	}
	slope = sxy / sxx
	rest := 0.0
	for _, p := range in {
		d := p.Glucose - meanY - slope*(p.Minute-meanX)
		rest += d * d
	}
	return slope, math.Sqrt(rest / float64(n-2)), n, true
}
