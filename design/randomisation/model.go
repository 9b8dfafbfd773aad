package randomisation

import (
	"math"

	"mealtrial/design"
)

// A model is the fit of response = treatment + block + error for many orders of
// the same responses: what does not change with the order is computed once.
//
// Let w be the responses less their block means. The reduced normal equations
// of the treatments are Cτ = T, Tₜ = Σ w over the places of treatment t,
//
//	C = diag(r) − N·diag(1/k)·Nᵀ
//
// with the tests rₜ of each treatment, N those by block and k the sizes of the
// blocks. The treatments' sum of squares is TᵀC⁻T, the rest wᵀw less that (John
// and Williams 1995, Cyclic and Computer Generated Designs, section 1.3; from
// memory). C = LDLᵀ is solved by forward substitution alone.
type model struct {
	treatments int
	residual   []float64 // w by place; 0 where there is no response
	block      []int     // by place; −1 where there is no response
	size       []float64 // responses of each block
	total      float64   // wᵀw
	tests      int
	blocks     int       // with a response
	weights    []float64 // of a contrast; nil: the F ratio
	varies     bool      // C changes with the order
	known      bool      // c holds the factors of C

	perBlock []float64 // N
	c        []float64 // C, then L below the diagonal
	inverse  []float64 // 1/D, or 0 for a pivot of 0
	rank     int
	sums     []float64 // T, then L⁻¹T
	contrast []float64 // L⁻¹ weights
	// Of the contrast: wᵀC⁻w; 0 when it is not estimable.
	variance float64
	to, from []int // treatments that stand for each other, see alike
}

// pivotTolerance is the share of a treatment's tests below which a pivot is 0.
// Pivots are fractions with small denominators.
const pivotTolerance = 1e-8

func missing(y float64) bool { return math.IsNaN(y) }

func newModel(places []design.Place, response []float64, treatments int, varies bool, weights []float64) *model {
	m := &model{treatments: treatments, varies: varies, weights: weights,
		residual: make([]float64, len(places)), block: make([]int, len(places)),
		c: make([]float64, treatments*treatments), inverse: make([]float64, treatments),
		sums: make([]float64, treatments), contrast: make([]float64, treatments),
		to: make([]int, treatments), from: make([]int, treatments)}
	for i, p := range places {
		m.block[i] = -1
		if p.Kept && math.IsInf(response[i], 0) {
			panic("randomisation: a response is infinite")
		}
		if p.Kept && !missing(response[i]) {
			m.block[i] = p.Block
			for len(m.size) <= p.Block {
				m.size = append(m.size, 0)
			}
			m.size[p.Block]++
			m.tests++
		}
	}
	m.perBlock = make([]float64, treatments*len(m.size))
	m.centre(response)
	return m
}

// centre takes the block means out of the responses.
func (m *model) centre(response []float64) {
	first := make([]float64, len(m.size)) // a number of the block's level, so that no digits are lost
	mean := make([]float64, len(m.size))
	for i := len(response) - 1; i >= 0; i-- {
		if j := m.block[i]; j >= 0 {
			first[j] = response[i]
		}
	}
	for i, j := range m.block {
		if j >= 0 {
			mean[j] += (response[i] - first[j]) / m.size[j]
		}
	}
	for _, n := range m.size {
		if n > 0 {
			m.blocks++
		}
	}
	for i, j := range m.block {
		if j >= 0 {
			m.residual[i] = response[i] - first[j] - mean[j]
			m.total += m.residual[i] * m.residual[i]
		}
	}
}

// check says whether the observed order has a statistic.
func (m *model) check(drawn []int) error {
	m.statistic(drawn)
	switch {
	case m.rank == 0 || m.weights != nil && m.variance == 0:
		return ErrNotEstimable
	case m.freedom() <= 0:
		return ErrNoResidual
	}
	return nil
}

// freedom returns the residual degrees of freedom.
func (m *model) freedom() int { return m.tests - m.blocks - m.rank }

// statistic returns S/(S + s²), which grows with the F ratio S/s². s² is the
// residual mean square; S is the mean square of the treatments or, of a contrast
// with estimate e and variance v·s², e²/v. It is 0 where there is none.
func (m *model) statistic(order []int) float64 {
	m.sum(order)
	if m.varies || !m.known {
		m.information(order)
		m.factorise()
		m.reduceWeights()
		m.known = true
	}
	squares, estimate := m.solve()
	df := m.freedom()
	if df <= 0 || m.rank == 0 || m.total == 0 {
		return 0
	}
	rest := math.Max(0, m.total-squares) / float64(df)
	effect := squares / float64(m.rank)
	if m.weights != nil {
		if m.variance == 0 {
			return 0
		}
		effect = estimate * estimate / m.variance
	}
	return effect / (effect + rest)
}

// sum adds up T.
func (m *model) sum(order []int) {
	const few = 16
	if residual := m.residual[:len(order)]; m.treatments <= few {
		var sums [few]float64 // without a look at its bounds: half the time
		for i, t := range order {
			sums[uint(t)%few] += residual[i]
		}
		copy(m.sums, sums[:])
		return
	}
	clear(m.sums)
	for i, t := range order {
		m.sums[t] += m.residual[i]
	}
}

// information computes C.
func (m *model) information(order []int) {
	k, blocks := m.treatments, len(m.size)
	clear(m.perBlock)
	clear(m.c)
	for i, j := range m.block {
		if j >= 0 {
			m.perBlock[order[i]*blocks+j]++
		}
	}
	for j, size := range m.size {
		for t := range k {
			n := m.perBlock[t*blocks+j]
			if n == 0 {
				continue
			}
			m.c[t*k+t] += n
			for u := range t + 1 {
				m.c[t*k+u] -= n * m.perBlock[u*blocks+j] / size
			}
		}
	}
}

// factorise overwrites the lower half of C with L. C has no negative eigenvalue,
// so that a column under a pivot of 0 is 0 too.
func (m *model) factorise() {
	k := m.treatments
	m.rank = 0
	for t := range k {
		tests := 0.0
		for j := range m.size {
			tests += m.perBlock[t*len(m.size)+j]
		}
		pivot := m.c[t*k+t]
		m.inverse[t] = 0
		if pivot > pivotTolerance*tests {
			m.inverse[t] = 1 / pivot
			m.rank++
		}
		for u := t + 1; u < k; u++ {
			l := m.c[u*k+t] * m.inverse[t]
			for v := t + 1; v <= u; v++ {
				m.c[u*k+v] -= l * m.c[v*k+t]
			}
		}
		for u := t + 1; u < k; u++ {
			m.c[u*k+t] *= m.inverse[t]
		}
	}
}

// reduceWeights computes L⁻¹ weights. The contrast is estimable when nothing is
// left of it at the pivots of 0.
func (m *model) reduceWeights() {
	if m.weights == nil {
		return
	}
	k, size := m.treatments, 0.0
	copy(m.contrast, m.weights)
	m.variance = 0
	for t := range k {
		size = math.Max(size, math.Abs(m.weights[t]))
		for u := t + 1; u < k; u++ {
			m.contrast[u] -= m.c[u*k+t] * m.contrast[t]
		}
		m.variance += m.contrast[t] * m.contrast[t] * m.inverse[t]
	}
	for t := range k {
		if m.inverse[t] == 0 && math.Abs(m.contrast[t]) > pivotTolerance*size {
			m.variance = 0
		}
	}
}

// solve returns TᵀC⁻T and, of a contrast, weightsᵀC⁻T.
func (m *model) solve() (squares, estimate float64) {
	k := m.treatments
	for t := range k {
		z := m.sums[t]
		for u, l := range m.c[t*k : t*k+t] {
			z -= l * m.sums[u]
		}
		m.sums[t] = z
		squares += z * z * m.inverse[t]
		if m.weights != nil {
			estimate += z * m.contrast[t] * m.inverse[t]
		}
	}
	return squares, estimate
}

// alike tells whether two orders give the same statistic whatever the responses:
// they put the same places together, and weigh them alike up to the sign.
func (m *model) alike(drawn, order []int) bool {
	to, from := m.to, m.from
	for t := range to {
		to[t], from[t] = -1, -1
	}
	plus, minus := true, true
	for i, j := range m.block {
		if j < 0 {
			continue
		}
		a, b := drawn[i], order[i]
		if to[a] < 0 && from[b] < 0 {
			to[a], from[b] = b, a
		}
		if to[a] != b || from[b] != a {
			return false
		}
		if m.weights != nil {
			plus = plus && m.weights[a] == m.weights[b]
			minus = minus && m.weights[a] == -m.weights[b]
		}
	}
	return m.weights == nil || plus || minus
}
