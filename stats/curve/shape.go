package curve

import "math"

// A Dip is a fall and recovery of glucose that is too steep for blood.
type Dip struct {
	Minute      float64 // of the lowest reading
	Fall, Climb float64 // glucose, from the reading before and to the one after
}

// SharpDip returns the deepest dip of the readings from one minute to another: a fall
// of at least size within 20 min to a reading from which at least three quarters of
// it come back within 30 min. Pressure on a sensor gives such steep, short, V-shaped
// false lows; the numbers are common practice, no source.
func SharpDip(points []Point, from, to, size float64) (dip Dip, ok bool) {
	const down, up, back = 20, 30, 0.75
	in := between(points, from, to)
	for j, low := range in {
		fall, climb := math.Inf(-1), math.Inf(-1)
		for i := j - 1; i >= 0 && low.Minute-in[i].Minute <= down; i-- {
			fall = math.Max(fall, in[i].Glucose-low.Glucose)
		}
		for k := j + 1; k < len(in) && in[k].Minute-low.Minute <= up; k++ {
			climb = math.Max(climb, in[k].Glucose-low.Glucose)
		}
		if fall >= size && climb >= back*fall && fall > dip.Fall {
			dip, ok = Dip{low.Minute, fall, climb}, true
		}
	}
	return dip, ok
}

// Onset estimates when glucose begins to rise to its peak: the knee τ of
//
//	glucose = b for t < τ,  b + s·(t − τ) for t ≥ τ,  s > 0
//
// by least squares on a grid of one minute, over the readings from the start of the
// curve to the first that has half of the rise (a segmented regression: Hinkley
// 1969, Biometrika 56:495; from memory). ok is false for a rise below least, fewer
// than five readings before half of it, or a knee that explains less than 80 % of
// their variance.
func Onset(points []Point, least float64) (minute float64, ok bool) {
	if len(points) < 5 {
		return 0, false
	}
	peak := highest(points)
	low := points[0].Glucose
	for _, p := range points[:peak+1] {
		low = math.Min(low, p.Glucose)
	}
	rise := points[peak].Glucose - low
	if rise < least {
		return 0, false
	}
	last := peak
	for last > 0 && points[last-1].Glucose >= low+rise/2 {
		last--
	}
	in := points[:last+1]
	if len(in) < 5 {
		return 0, false
	}
	best, total := math.Inf(1), spread(in, func(Point) float64 { return 0 })
	for tau := in[0].Minute; tau < in[len(in)-1].Minute; tau++ {
		if rest := spread(in, func(p Point) float64 { return math.Max(0, p.Minute-tau) }); rest < best {
			best, minute = rest, tau
		}
	}
	const explained = 0.8
	return minute, best <= (1-explained)*total
}

// spread is the residual sum of squares of glucose on an intercept and x with a slope
// that is not negative.
func spread(in []Point, x func(Point) float64) float64 {
	n, mx, my := float64(len(in)), 0.0, 0.0
	for _, p := range in {
		mx += x(p) / n
		my += p.Glucose / n
	}
	sxx, sxy, syy := 0.0, 0.0, 0.0
	for _, p := range in {
		dx, dy := x(p)-mx, p.Glucose-my
		sxx, sxy, syy = sxx+dx*dx, sxy+dx*dy, syy+dy*dy
	}
	if sxx == 0 || sxy < 0 {
		return syy
	}
	return math.Max(0, syy-sxy*sxy/sxx)
}
