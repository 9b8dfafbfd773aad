package ratio

import (
	"math"

	"mealtrial/stats"
)

// A MeanOfRatios is the mean of single responses as shares of the mean of another
// group, with the t interval of those shares.
type MeanOfRatios struct {
	Mean   float64 // Σ xᵢ / (n·r̄)
	SE     float64 // SD of xᵢ/r̄ over √n; 0 and without meaning for n = 1
	N      int
	Limits stats.Interval // on n − 1 degrees of freedom; valid when HasLimits
	// HasLimits: there are at least two values and they differ.
	HasLimits bool
}

// RatiosToMean divides each of the values by the mean of the reference values and
// averages: the way in which ISO 26642:2010 makes the index of one person, 100 times
// (from memory; the standard was not opened). The mean of the reference is taken as
// known, so the interval is too narrow where it rests on few values; Fieller allows
// for that. The error is ErrZeroDenominator where the reference has no mean above 0.
// It panics without values or references.
func RatiosToMean(values, reference []float64, level float64) (MeanOfRatios, error) {
	if len(values) == 0 || len(reference) == 0 {
		panic("ratio: no values, or no reference")
	}
	below := average(reference)
	if !(below > 0) {
		return MeanOfRatios{}, ErrZeroDenominator
	}
	shares := make([]float64, len(values))
	for i, x := range values {
		shares[i] = x / below
	}
	m := MeanOfRatios{Mean: average(shares), N: len(shares)}
	if m.N < 2 {
		return m, nil
	}
	sum := 0.0
	for _, x := range shares {
		sum += (x - m.Mean) * (x - m.Mean)
	}
	m.SE = math.Sqrt(sum / float64(m.N-1) / float64(m.N))
	if m.SE > 0 {
		m.Limits, m.HasLimits = stats.TInterval(m.Mean, m.SE, float64(m.N-1), level), true
	}
	return m, nil
}

func average(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}
