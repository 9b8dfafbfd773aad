package randomisation

import (
	"math"
	"slices"
)

// limits collects, order by order, the differences that it leaves open. With
// u = xᵀMy/√xᵀMx and v = xᵀMx₀/√xᵀMx, x₀ being the drawn order, an order is at
// least as extreme when δ is taken off the responses of a, if
//
//	|u₀ − δ·v₀| ≤ |u − δ·v|
//
// As |v| ≤ v₀ that is an interval about the estimate u₀/v₀. So the p-value falls
// to both sides of the estimate, and the limits are order statistics.
type limits struct {
	root, observed float64 // v₀ and u₀
	low, high      []float64
	endless        int // orders that leave every difference open
}

// endless is the share of v₀ by which |v| must be less for an interval that ends.
// The shares that occur are far larger: fractions of the number of tests.
const endless = 1e-9

func (l *limits) reset() { l.low, l.high, l.endless = l.low[:0], l.high[:0], 0 }

// add takes an order; u and v are 0 for one that has no estimate, and then it
// leaves only the estimate open. It tells whether what is left open ends.
func (l *limits) add(u, v float64) bool {
	if l.root-math.Abs(v) <= endless*l.root {
		l.endless++
		return false
	}
	x, y := (l.observed-u)/(l.root-v), (l.observed+u)/(l.root+v)
	l.low, l.high = append(l.low, math.Min(x, y)), append(l.high, math.Max(x, y))
	return true
}

// interval returns the differences that more than a share 1 − level of the orders
// leave open.
func (l *limits) interval(level float64) Interval {
	i := Interval{Level: level}
	n := float64(len(l.low) + l.endless)
	needed := int((1-level)*n+1e-9) + 1 - l.endless // of those that end
	if needed <= 0 {
		return i
	}
	i.Bounded = true
	i.Low = smallest(l.low, needed)
	for k := range l.high {
		l.high[k] = -l.high[k]
	}
	i.High = -smallest(l.high, needed)
	return i
}

// smallest returns the n-th smallest value, n from 1, and changes the order of
// the values (Hoare 1961, Commun. ACM 4:321, algorithm 65; from memory).
func smallest(values []float64, n int) float64 {
	for len(values) > 32 {
		pivot := slices.Max([]float64{ // the median of three
			math.Min(values[0], values[len(values)/2]),
			math.Min(values[0], values[len(values)-1]),
			math.Min(values[len(values)/2], values[len(values)-1])})
		i, j := 0, len(values)-1
		for i <= j {
			for values[i] < pivot {
				i++
			}
			for values[j] > pivot {
				j--
			}
			if i <= j {
				values[i], values[j] = values[j], values[i]
				i, j = i+1, j-1
			}
		}
		switch {
		case n <= j+1:
			values = values[:j+1]
		case n > i:
			values, n = values[i:], n-i
		default:
			return pivot
		}
	}
	slices.Sort(values)
	return values[n-1]
}
