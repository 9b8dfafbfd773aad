package layout

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

// variancesByLeastSquares computes the variances from the tests themselves: the
// matrix X of treatment and block indicators, its pseudoinverse by singular
// values, and cᵀ(XᵀX)⁺c where c lies in the row space of X.
func variancesByLeastSquares(v int, blocks [][]int, contrasts []Contrast) []float64 {
	n := 0
	for _, block := range blocks {
		n += len(block)
	}
	columns := v + len(blocks)
	x := mat.NewDense(n, columns, nil)
	row := 0
	for j, block := range blocks {
		for _, i := range block {
			x.Set(row, i, 1)
			x.Set(row, v+j, 1)
			row++
		}
	}
	var svd mat.SVD
	if !svd.Factorize(x, mat.SVDThin) {
		panic("no singular values")
	}
	var right mat.Dense
	svd.VTo(&right)
	out := make([]float64, len(contrasts))
	for q, c := range contrasts {
		length, inside := 0.0, 0.0
		for _, y := range c.Coefficients {
			length += y * y
		}
		for m, s := range svd.Values(nil) {
			if s < 1e-9 {
				continue
			}
			projection := 0.0
			for i, y := range c.Coefficients {
				projection += y * right.At(i, m)
			}
			inside += projection * projection
			out[q] += projection * projection / (s * s)
		}
		if length-inside > 1e-9*length {
			out[q] = math.Inf(1)
		}
	}
	return out
}

func averageByLeastSquares(v int, blocks [][]int, contrasts []Contrast) float64 {
	total, weights := 0.0, 0.0
	for q, x := range variancesByLeastSquares(v, blocks, contrasts) {
		total += x * contrasts[q].Weight
		weights += contrasts[q].Weight
	}
	return total / weights
}

// By hand: A and B meet in one block of two, variance 2; B and C in two such
// blocks, variance 1; A and C are joined over B, 2 + 1 = 3.
func TestAssessChainByHand(t *testing.T) {
	a := Assess(3, [][]int{{0, 1}, {1, 2}, {2, 1}}, Pairwise(3))
	for q, want := range []float64{2, 3, 1} {
		if !near(a.Variances[q], want, 1e-12) {
			t.Errorf("contrast %d: variance %g, want %g", q, a.Variances[q], want)
		}
	}
	// Replicates 1, 3, 2: (1 + 1/3) + (1 + 1/2) + (1/3 + 1/2), over 3.
	if want := 11.0 / 9; !near(a.Orthogonal, want, 1e-12) || !near(a.Average, 2, 1e-12) || !near(a.Efficiency, want/2, 1e-12) {
		t.Errorf("%+v", a)
	}
	if !a.Connected {
		t.Error("not connected")
	}
}

func TestAssessDisconnectedAndLostTreatments(t *testing.T) {
	a := Assess(5, [][]int{{0, 1}, {2, 3}, {}}, []Contrast{Difference(5, 0, 1, 1), Difference(5, 1, 2, 1), Difference(5, 3, 4, 1)})
	if a.Connected || !near(a.Variances[0], 2, 1e-12) || !math.IsInf(a.Variances[1], 1) || !math.IsInf(a.Variances[2], 1) {
		t.Errorf("%+v", a)
	}
	if !math.IsInf(a.Average, 1) || a.Efficiency != 0 {
		t.Errorf("average %g, efficiency %g", a.Average, a.Efficiency)
	}
}

func TestAssessAgreesWithLeastSquares(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.IntRange(2, 6).Draw(t, "treatments")
		blocks := rapid.SliceOfN(rapid.SliceOfN(rapid.IntRange(0, v-1), 1, 6), 1, 6).Draw(t, "blocks")
		contrasts := Pairwise(v)
		c := Contrast{Coefficients: make([]float64, v), Weight: 0.5}
		for i := range v - 1 {
			x := float64(rapid.IntRange(-3, 3).Draw(t, "coefficient"))
			c.Coefficients[i] += x
			c.Coefficients[i+1] -= x
		}
		for _, x := range c.Coefficients {
			if x != 0 {
				contrasts = append(contrasts, c)
				break
			}
		}
		a := Assess(v, blocks, contrasts)
		for q, want := range variancesByLeastSquares(v, blocks, contrasts) {
			if !near(a.Variances[q], want, 1e-9) {
				t.Fatalf("contrast %v: variance %g, least squares %g", contrasts[q].Coefficients, a.Variances[q], want)
			}
		}
		if a.Efficiency < 0 || a.Efficiency > 1 {
			t.Fatalf("efficiency %g", a.Efficiency)
		}
	})
}
