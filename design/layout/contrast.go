package layout

import "math"

// A Contrast is a question: a linear function Σ cᵢτᵢ of the treatment effects
// with Σ cᵢ = 0, for instance one treatment minus another.
type Contrast struct {
	Coefficients []float64 // one for each treatment; they add to 0 and are not all 0
	Weight       float64   // importance, above 0; only ratios of weights matter
}

// Difference returns the contrast of treatment a minus treatment b among v
// treatments. It panics when a or b is no treatment or both are the same.
func Difference(v, a, b int, weight float64) Contrast {
	if a < 0 || b < 0 || a >= v || b >= v || a == b {
		panic("layout: no such treatment, or a difference with itself")
	}
	c := Contrast{Coefficients: make([]float64, v), Weight: weight}
	c.Coefficients[a], c.Coefficients[b] = 1, -1
	return c
}

// Pairwise returns all v(v−1)/2 differences with weight 1: a−b for a < b, in
// the order 0−1, 0−2, …, 1−2, ….
func Pairwise(v int) []Contrast {
	var all []Contrast
	for a := range v {
		for b := a + 1; b < v; b++ {
			all = append(all, Difference(v, a, b, 1))
		}
	}
	return all
}

// AgainstReference returns the v−1 differences of every other treatment minus
// the reference, with weight 1, in the order of the treatments.
func AgainstReference(v, reference int) []Contrast {
	var all []Contrast
	for i := range v {
		if i != reference {
			all = append(all, Difference(v, i, reference, 1))
		}
	}
	return all
}

// sumTolerance is how far, relative to the largest coefficient, coefficients
// may miss a sum of 0 through rounding.
const sumTolerance = 1e-9

func checkContrasts(v int, contrasts []Contrast) {
	if len(contrasts) == 0 {
		panic("layout: no contrast")
	}
	for _, c := range contrasts {
		if len(c.Coefficients) != v {
			panic("layout: a contrast has the wrong number of coefficients")
		}
		if !(c.Weight > 0) || math.IsInf(c.Weight, 1) {
			panic("layout: the weight of a contrast is not positive and finite")
		}
		total, largest := 0.0, 0.0
		for _, x := range c.Coefficients {
			total += x
			largest = math.Max(largest, math.Abs(x))
		}
		if !(largest > 0) || math.IsInf(largest, 1) {
			panic("layout: the coefficients of a contrast are all 0 or not finite")
		}
		if math.Abs(total) > sumTolerance*largest*float64(v) {
			panic("layout: the coefficients of a contrast do not add to 0")
		}
	}
}

// shares returns the weights of the contrasts divided by their sum.
func shares(contrasts []Contrast) []float64 {
	total := 0.0
	for _, c := range contrasts {
		total += c.Weight
	}
	out := make([]float64, len(contrasts))
	for i, c := range contrasts {
		out[i] = c.Weight / total
	}
	return out
}

// weightMatrix returns W = Σ wc·cᵀ with the weights as shares, by rows, so that
// the average variance of the contrasts under the inverse G is tr(WG).
func weightMatrix(v int, contrasts []Contrast) []float64 {
	w := make([]float64, v*v)
	for q, share := range shares(contrasts) {
		c := contrasts[q].Coefficients
		for i := range v {
			for j := range v {
				w[i*v+j] += float64(float64(share*c[i]) * c[j])
			}
		}
	}
	return w
}
