package null

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// An information is the spectral form of the reduced information matrix of the
// treatments at error SD 1,
//
//	A = diag(r) − N diag(1/k) Nᵀ
//
// with r the tests of each treatment, k those of each block and N the incidence
// of treatments in blocks: the intra-block equations of a block design, in
// which the blocks have been eliminated (John and Williams 1995, Cyclic and
// Computer Generated Designs, 2nd ed., section 1.4; from memory). With random
// blocks of variance ρ the inverse of I + ρZZᵀ puts ρ/(1 + kρ) in the place of 1/k,
// and A is the information of the generalised least-squares means.
type information struct {
	vectors *mat.Dense // orthonormal, one column an eigenvalue above 0
	values  []float64
}

func (d Design) information(n int) information {
	a := mat.NewSymDense(d.Treatments, nil)
	blocks := map[int][]int{} // treatments of the tests of each block
	var order []int           // of the blocks, so that sums are the same in every run
	for _, t := range d.Tests[:n] {
		if blocks[t.Block] == nil {
			order = append(order, t.Block)
		}
		blocks[t.Block] = append(blocks[t.Block], t.Treatment)
	}
	count := make([]float64, d.Treatments)
	for _, b := range order {
		clear(count)
		for _, treatment := range blocks[b] {
			count[treatment]++
		}
		weight := d.blockWeight(float64(len(blocks[b])))
		for i, ci := range count {
			if ci == 0 {
				continue
			}
			a.SetSym(i, i, a.At(i, i)+ci)
			for j := i; j < d.Treatments; j++ {
				a.SetSym(i, j, a.At(i, j)-ci*count[j]*weight)
			}
		}
	}
	return spectrum(a)
}

func (d Design) blockWeight(size float64) float64 {
	if d.Random {
		return d.BlockVariance / (1 + size*d.BlockVariance)
	}
	return 1 / size
}

func spectrum(a *mat.SymDense) information {
	var eigen mat.EigenSym
	if !eigen.Factorize(a, true) {
		panic("null: spectrum of the information matrix not found")
	}
	values := eigen.Values(nil) // ascending
	var all mat.Dense
	eigen.VectorsTo(&all)
	t := len(values)
	first := 0
	for first < t && values[first] <= tolerance*max(values[t-1], 1) {
		first++
	}
	if first == t {
		return information{}
	}
	return information{vectors: mat.DenseCopyOf(all.Slice(0, t, first, t)), values: values[first:]}
}

// residualDF counts exactly: tests − blocks − treatments + linked groups, where
// treatments and blocks that share a test are linked. Random blocks take none.
func (d Design) residualDF(n int) int {
	if d.Random {
		seen := map[int]bool{}
		for _, t := range d.Tests[:n] {
			seen[t.Treatment] = true
		}
		return n - len(seen) + d.SpreadDF
	}
	parent := map[[2]int][2]int{}
	var root func(x [2]int) [2]int
	root = func(x [2]int) [2]int {
		p, known := parent[x]
		if !known || p == x {
			parent[x] = x
			return x
		}
		r := root(p)
		parent[x] = r
		return r
	}
	links := 0 // joins of two groups that were separate: the rank of the model
	for _, t := range d.Tests[:n] {
		a, b := root([2]int{0, t.Treatment}), root([2]int{1, t.Block})
		if a != b {
			parent[a] = b
			links++
		}
	}
	return n - links + d.SpreadDF
}

// estimable tells whether a contrast of length 1 lies in the row space of A.
func (f information) estimable(contrast []float64) bool {
	left := append([]float64(nil), contrast...)
	for j := range f.values {
		dot := 0.0
		for i, c := range contrast {
			dot += c * f.vectors.At(i, j)
		}
		for i := range left {
			left[i] -= dot * f.vectors.At(i, j)
		}
	}
	size := 0.0
	for _, l := range left {
		size = math.Hypot(size, l)
	}
	return size < 1e-7
}

// covariance returns cᵢᵀA⁺cⱼ for the questions named.
func (f information) covariance(contrasts [][]float64, questions []int) *mat.SymDense {
	n := len(questions)
	half := mat.NewDense(n, len(f.values), nil)
	for i, q := range questions {
		for j, value := range f.values {
			dot := 0.0
			for t, c := range contrasts[q] {
				dot += c * f.vectors.At(t, j)
			}
			half.Set(i, j, dot/math.Sqrt(value))
		}
	}
	c := mat.NewSymDense(n, nil)
	c.SymOuterK(1, half)
	return c
}
