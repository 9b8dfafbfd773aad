package mixed

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"mealtrial/stats/additive"
)

// Below this share of the largest block an eigenvalue of A counts as zero. Those
// of linked blocks are far above it: 0.005 for a chain of 30 blocks of 2.
const eigenTolerance = 1e-9

// A canonical holds a layout, and then its data, in the coordinates in which the
// covariance matrix of everything free of treatments is diagonal (Olsen, Seely
// and Birkes 1976, Annals of Statistics 4:878; from memory).
//
// With n_ib tests of treatment i in block b, r_i = Σ_b n_ib and n_b = Σ_i n_ib,
//
//	A = diag(n_b) − Nᵀ diag(1/r_i) N = U diag(d_j) Uᵀ,   N = (n_ib),
//
// is the information on block differences, adjusted for treatments. The
// comparison along column j of U has expectation 0 and variance
// σ²·d_j(1 + λd_j), whatever the treatments; those with d_j = 0, one for each
// set of blocks linked by treatments, carry only treatment differences.
type canonical struct {
	tests            []float64 // r_i, 0 for a treatment never tested
	eigen            []float64 // d_j, one a block
	share            []float64 // treatments × blocks: (diag(1/r_i) N U)_ij
	blockDF, errorDF int       // number of d_j > 0; the rest of tests − treatments

	origin  float64   // subtracted from the responses
	width   float64   // their range
	effect  []float64 // block effects of the fixed-block fit, Uᵀ-coordinates; 0 where d_j = 0
	within  []float64 // treatment means of the fixed-block fit
	errorSS float64   // its residual sum of squares

	block []int      // of each observation, numbered without gaps
	u     *mat.Dense // U
}

func newCanonical(obs []additive.Observation, treatments int) *canonical {
	if len(obs) == 0 {
		panic("mixed: no observations")
	}
	c := &canonical{tests: make([]float64, treatments), block: make([]int, len(obs))}
	number := map[int]int{}
	for k, o := range obs {
		if o.Block < 0 {
			panic("mixed: a block has a negative number")
		}
		b, known := number[o.Block]
		if !known {
			b = len(number)
			number[o.Block] = b
		}
		c.block[k] = b
		c.tests[o.Treatment]++
	}
	c.diagonalise(obs, len(number))
	return c
}

// diagonalise fills what depends on the layout alone.
func (c *canonical) diagonalise(obs []additive.Observation, blocks int) {
	counts := mat.NewDense(len(c.tests), blocks, nil)
	a := mat.NewSymDense(blocks, nil)
	largest := 0.0
	for k, o := range obs {
		b := c.block[k]
		counts.Set(o.Treatment, b, counts.At(o.Treatment, b)+1)
		a.SetSym(b, b, a.At(b, b)+1)
		largest = math.Max(largest, a.At(b, b))
	}
	c.errorDF = len(obs)
	for i, r := range c.tests {
		if r == 0 {
			continue
		}
		c.errorDF--
		row := counts.RawRowView(i)
		for b, n := range row {
			for other := b; n != 0 && other < blocks; other++ {
				a.SetSym(b, other, a.At(b, other)-n*row[other]/r)
			}
		}
		for b := range row {
			row[b] /= r
		}
	}
	var eigen mat.EigenSym
	if !eigen.Factorize(a, true) {
		panic("mixed: the eigenvalues of a finite matrix were not found")
	}
	c.u = mat.NewDense(blocks, blocks, nil)
	eigen.VectorsTo(c.u)
	var share mat.Dense
	share.Mul(counts, c.u)
	c.share = share.RawMatrix().Data
	c.eigen = eigen.Values(nil)
	for j, d := range c.eigen {
		if d <= eigenTolerance*largest {
			c.eigen[j] = 0
			continue
		}
		c.blockDF++
	}
	c.errorDF -= c.blockDF
}

// decompose fills what depends on the responses: the fit with fixed blocks.
func (c *canonical) decompose(obs []additive.Observation) {
	c.origin = obs[0].Value
	residual := make([]float64, len(obs))
	lo, hi := 0.0, 0.0
	for k, o := range obs {
		if math.IsNaN(o.Value) || math.IsInf(o.Value, 0) {
			panic("mixed: a response is not finite")
		}
		// The difference of neighbouring numbers is exact, so a large common
		// level does not cost digits of the spread.
		residual[k] = o.Value - c.origin
		lo, hi = math.Min(lo, residual[k]), math.Max(hi, residual[k])
	}
	c.width = hi - lo
	c.within = make([]float64, len(c.tests))
	c.takeOutTreatments(obs, residual)
	blocks := len(c.eigen)
	c.effect = make([]float64, blocks)
	sums, shift := make([]float64, blocks), make([]float64, blocks)
	for k, b := range c.block {
		sums[b] += residual[k]
	}
	for j, d := range c.eigen {
		if d == 0 {
			continue
		}
		for b, s := range sums {
			c.effect[j] += c.u.At(b, j) * s / d
		}
		for b := range shift {
			shift[b] += c.u.At(b, j) * c.effect[j]
		}
	}
	for k, b := range c.block {
		residual[k] -= shift[b]
	}
	c.takeOutTreatments(obs, residual)
	for _, e := range residual {
		c.errorSS += e * e
	}
}

// takeOutTreatments moves the treatment means of the residuals into within.
func (c *canonical) takeOutTreatments(obs []additive.Observation, residual []float64) {
	mean := make([]float64, len(c.tests))
	for k, o := range obs {
		mean[o.Treatment] += residual[k] / c.tests[o.Treatment]
	}
	for k, o := range obs {
		residual[k] -= mean[o.Treatment]
	}
	for i, m := range mean {
		c.within[i] += m
	}
}

// df returns tests − treatments.
func (c *canonical) df() int { return c.blockDF + c.errorDF }

// means returns the generalised least-squares estimates of the treatment means
// at the variance ratio λ:
//
//	within_i + Σ_j share_ij·effect_j/(1 + λd_j)
//
// At λ = 0 they are the plain means of the treatments; with λ → ∞ the contrasts
// between linked treatments become those of fixed blocks. No step subtracts what
// grows with λ.
func (c *canonical) means(ratio float64) []float64 {
	means := append([]float64(nil), c.within...)
	blocks := len(c.eigen)
	for i := range means {
		for j, d := range c.eigen {
			means[i] += c.share[i*blocks+j] * c.effect[j] / (1 + ratio*d)
		}
	}
	return means
}

// coordinates returns what the variance of Σ ℓ_i·mean_i depends on:
//
//	plain = Σ ℓ_i²/r_i,   m_j = Σ_i ℓ_i·share_ij
//
// A coordinate along d_j = 0 that is zero but for rounding is set to 0, since λ
// multiplies it.
func (c *canonical) coordinates(weights []float64) (plain float64, m []float64) {
	blocks := len(c.eigen)
	m = make([]float64, blocks)
	size := 0.0
	for i, w := range weights {
		if w == 0 {
			continue
		}
		plain += w * w / c.tests[i]
		size += math.Abs(w)
		for j := range m {
			m[j] += w * c.share[i*blocks+j]
		}
	}
	for j, d := range c.eigen {
		if d == 0 && math.Abs(m[j]) <= 1e-12*size {
			m[j] = 0
		}
	}
	return plain, m
}
