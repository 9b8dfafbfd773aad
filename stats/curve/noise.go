package curve

import (
	"math"
	"math/rand/v2"
	"slices"
)

// A Noise is what a feature gives for a level curve that only noise moves.
type Noise struct {
	Mean, P95 float64
	Error     float64 // Monte Carlo standard error of Mean
}

// NoiseFloor simulates level curves with normal noise of a standard deviation,
// independent from reading to reading, every step minutes from the start of the
// baseline window to the end of the window, and takes a feature of each. A peak rise
// is not zero then, because the highest of many noisy readings lies above their mean.
// It panics unless sd ≥ 0, step > 0 and n ≥ 100.
func NoiseFloor(sd, step float64, w Window, n int, seed uint64, take func([]Point) float64) Noise {
	if !(sd >= 0) || !(step > 0) || n < 100 {
		panic("curve: a noise floor needs a spread, a step and a hundred curves")
	}
	const stream = 0x666c6f6f72 // apart from other uses of the seed
	random := rand.New(rand.NewPCG(seed, stream))
	var points []Point
	for m := 0.0; m >= w.BaselineFrom; m -= step {
		points = append(points, Point{Minute: m})
	}
	slices.Reverse(points)
	for m := step; m <= w.Length; m += step {
		points = append(points, Point{Minute: m})
	}
	values, sum, square := make([]float64, n), 0.0, 0.0
	for i := range values {
		for j := range points {
			points[j].Glucose = sd * random.NormFloat64()
		}
		values[i] = take(points)
		sum += values[i]
		square += values[i] * values[i]
	}
	slices.Sort(values)
	mean := sum / float64(n)
	return Noise{Mean: mean, P95: values[int(math.Ceil(0.95*float64(n)))-1], Error: math.Sqrt(math.Max(0, square/float64(n)-mean*mean) / float64(n))}
}

// LevelNoise returns the sum of squared distances of the readings of the baseline
// window from their line and its degrees of freedom, n − 2; 0 with fewer than three.
func LevelNoise(points []Point, w Window) (squares float64, df int) {
	_, sd, n, ok := BaselineSlope(points, w)
	if !ok {
		return 0, 0
	}
	return sd * sd * float64(n-2), n - 2
}

// DriftOf returns the least-squares slope over the readings from one minute to
// another, per minute; ok is false with fewer than three.
func DriftOf(points []Point, from, to float64) (slope float64, ok bool) {
	in := between(points, from, to)
	if len(in) < 3 {
		return 0, false
	}
	slope, _, _, ok = line(in)
	return slope, ok
}
