package layout

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// lowerBound returns a value that the average variance tr(WC⁻) of no layout can
// fall below: the larger of
//
//   - Σᵢ wᵢᵢ/rᵢ, the orthogonal layout: C ≤ R − rrᵀ/n in the order of matrices,
//     since blocks only ever take information away;
//   - (tr W^½)² / max tr C, by Cauchy–Schwarz, as
//     tr W^½ = tr(W^½ C⁺^½ · C^½) ≤ √(tr(WC⁺) tr C). For all pairs of treatments
//     and equal blocks it is reached by balanced incomplete blocks, and equality
//     needs C proportional to W^½.
//
// It also returns the rank of W, which is that of the contrasts.
func lowerBound(p Problem, weights []float64) (bound float64, rank int) {
	v := p.treatments()
	for i, r := range p.Replicates {
		bound += weights[i*v+i] / float64(r)
	}
	var eigen mat.EigenSym
	if !eigen.Factorize(mat.NewSymDense(v, append([]float64(nil), weights...)), false) {
		return bound, v - 1
	}
	values := eigen.Values(nil)
	roots := 0.0
	for _, x := range values {
		if x > 1e-12*values[v-1] {
			roots += math.Sqrt(x)
			rank++
		}
	}
	return math.Max(bound, roots*roots/mostInformation(v, p.BlockSizes)), rank
}

// mostInformation returns the largest tr C = Σⱼ (kⱼ − Σᵢ nᵢⱼ²/kⱼ) of blocks of
// these sizes, reached when each block holds every treatment equally often or
// once more.
func mostInformation(v int, sizes []int) float64 {
	trace := 0.0
	for _, k := range sizes {
		q, more := k/v, k%v
		squares := v*q*q + more*(2*q+1)
		trace += float64(k) - float64(squares)/float64(k)
	}
	return trace
}
