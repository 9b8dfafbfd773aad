package curve

import "math"

// A piece is a straight stretch between neighbouring readings, cut to the window.
type piece struct{ from, to Point }

func (p piece) minutes() float64 { return p.to.Minute - p.from.Minute }

// measured returns the pieces of the curve inside the window that lie between
// neighbouring readings no further apart than the largest gap.
func measured(points []Point, w Window) []piece {
	var pieces []piece
	for i := 1; i < len(points); i++ {
		a, b := points[i-1], points[i]
		if b.Minute-a.Minute > w.MaxGap || b.Minute <= 0 || a.Minute >= w.Length {
			continue
		}
		from, to := a, b
		if a.Minute < 0 {
			from = Point{0, along(a, b, 0)}
		}
		if b.Minute > w.Length {
			to = Point{w.Length, along(a, b, w.Length)}
		}
		pieces = append(pieces, piece{from, to})
	}
	return pieces
}

// coverage returns the measured share of the window and its longest
// unmeasured stretch in minutes.
func coverage(pieces []piece, length float64) (share, largestGap float64) {
	total, end := 0.0, 0.0
	for _, p := range pieces {
		total += p.minutes()
		largestGap = math.Max(largestGap, p.from.Minute-end)
		end = p.to.Minute
	}
	return total / length, math.Max(largestGap, length-end)
}

// incrementalArea is the area above the baseline by trapezoids; what lies
// beneath the baseline is ignored. A piece that crosses the baseline counts
// with the triangle above it only. With a and c the heights of its ends above
// the baseline and h its length:
//
//	a ≥ 0, c ≥ 0    h·(a+c)/2
//	a > 0 > c       h·a²/(2(a−c))
//	a < 0 < c       h·c²/(2(c−a))
//	a ≤ 0, c ≤ 0    0
//
// Wolever and Jenkins 1986, Am J Clin Nutr 43:167; FAO Food and Nutrition
// Paper 66 (1998), chapter 4.
func incrementalArea(pieces []piece, baseline float64) float64 {
	area := 0.0
	for _, p := range pieces {
		h, a, c := p.minutes(), p.from.Glucose-baseline, p.to.Glucose-baseline
		switch {
		case a >= 0 && c >= 0:
			area += h * (a + c) / 2
		case a > 0:
			area += h * a * a / (2 * (a - c))
		case c > 0:
			area += h * c * c / (2 * (c - a))
		}
	}
	return area
}
