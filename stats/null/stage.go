package null

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// Shares below this of what they are compared with count as rounding. The
// entries of the information matrix are sums of few fractions, and true
// differences lie orders of magnitude above.
const tolerance = 1e-9

// A stage is a look at which there are t statistics, as the simulation needs it.
//
// Estimates of successive looks have independent increments: with Eₖ the
// residual space of look k (tests to come filled with zeros), E₁ ⊂ E₂ ⊂ …, and
// estimate k−1 minus estimate k lies in Eₖ beyond Eₖ₋₁. So
//
//	estimates of the last look K   N(0, C_K)
//	estimate k−1 = estimate k + Δₖ, Δₖ ~ N(0, Cₖ₋₁ − Cₖ), independent
//	RSSₖ = RSSₖ₋₁ + |gₖ|² + χ²(free),  gₖ the coordinates of Δₖ
//
// where Cₖ is the covariance of the estimates at error SD 1 (Jennison and
// Turnbull 1997, J Am Stat Assoc 92:1330; from memory). It replaces the n
// errors of a study by a few numbers a look, without approximation.
type stage struct {
	look      int   // index in Design.Looks
	questions []int // with a statistic, ordered by the look they first have one
	df        int
	share     float64   // tests at this look over tests at the last look
	variance  []float64 // of the estimates, by place in questions
	step      loading   // Δₖ of the questions of the stage before; empty at the first
	final     loading   // the estimates themselves; at the last stage only
	free      int       // degrees of freedom of RSSₖ − RSSₖ₋₁ beyond gₖ
}

// A loading is a rows × columns matrix by which independent normals become
// correlated ones.
type loading struct {
	rows, columns int
	weights       []float64 // row by row
}

// stages returns the looks that have statistics.
func (d Design) stages() ([]stage, error) {
	d.check()
	unit := d.unitContrasts()
	var stages []stage
	var before *mat.SymDense // covariance at the stage before
	var order []int
	for look, n := range d.Looks {
		inverse := d.information(n)
		df := d.residualDF(n)
		order = extend(order, unit, inverse)
		if df == 0 || len(order) == 0 {
			continue
		}
		c := inverse.covariance(unit, order)
		s := stage{look: look, questions: order[:len(order):len(order)], df: df, free: df,
			share: float64(n) / float64(d.Looks[len(d.Looks)-1])}
		for i := range order {
			s.variance = append(s.variance, c.At(i, i))
		}
		if len(stages) > 0 {
			gain := df - stages[len(stages)-1].df
			s.step = factor(difference(before, c), gain)
			s.free = gain - s.step.columns
		}
		stages, before = append(stages, s), c
	}
	if len(stages) == 0 {
		return nil, ErrNoStatistic
	}
	stages[len(stages)-1].final = factor(before, before.SymmetricDim())
	return stages, nil
}

func (d Design) check() {
	if d.Treatments <= 0 || len(d.Contrasts) == 0 || len(d.Looks) == 0 {
		panic("null: a design needs treatments, contrasts and looks")
	}
	for _, t := range d.Tests {
		if t.Treatment < 0 || t.Treatment >= d.Treatments || t.Block < 0 {
			panic("null: treatment or block out of range")
		}
	}
	if !(d.BlockVariance >= 0) || math.IsInf(d.BlockVariance, 1) || d.SpreadDF < 0 || len(d.Taken) >= len(d.Looks) && len(d.Taken) > 0 {
		panic("null: block variance or degrees of freedom below 0, or no look is left")
	}
	for _, l := range d.Taken {
		if !(l >= 0 && l < 1 || math.IsNaN(l)) {
			panic("null: level must lie between 0 and 1")
		}
	}
	for k, n := range d.Looks {
		if n <= 0 || n > len(d.Tests) || k > 0 && n <= d.Looks[k-1] {
			panic("null: looks must increase, within the number of tests")
		}
	}
	for _, c := range d.Contrasts {
		sum, size := 0.0, 0.0
		for _, w := range c {
			sum += w
			size += math.Abs(w)
		}
		if len(c) != d.Treatments || !(size > 0) || math.IsInf(size, 1) || math.Abs(sum) > 1e-12*size {
			panic("null: weights of a contrast must sum to zero, one a treatment, not all zero")
		}
	}
}

// unitContrasts scales the contrasts to length 1, which no t statistic notices.
func (d Design) unitContrasts() [][]float64 {
	unit := make([][]float64, len(d.Contrasts))
	for q, c := range d.Contrasts {
		length := 0.0
		for _, w := range c {
			length = math.Hypot(length, w)
		}
		for _, w := range c {
			unit[q] = append(unit[q], w/length)
		}
	}
	return unit
}

// extend appends to order the questions that became estimable. What was
// estimable once remains so: tests are only added.
func extend(order []int, unit [][]float64, inverse information) []int {
	seen := make([]bool, len(unit))
	for _, q := range order {
		seen[q] = true
	}
	for q, c := range unit {
		if !seen[q] && inverse.estimable(c) {
			order = append(order, q)
		}
	}
	return order
}

func difference(before, after *mat.SymDense) *mat.SymDense {
	n := before.SymmetricDim()
	gain := mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			gain.SetSym(i, j, before.At(i, j)-after.At(i, j))
		}
	}
	// A direction counts against the covariance it is taken from: a look that
	// adds nothing leaves rounding only.
	for i := range n {
		if gain.At(i, i) <= tolerance*before.At(i, i) {
			for j := range n {
				gain.SetSym(i, j, 0)
			}
		}
	}
	return gain
}

// factor returns L with LLᵀ = c by Cholesky decomposition with pivoting, so
// that c may be singular; it has at most limit columns. Symmetric layouts give
// equal pivots, of which rounding must not choose: the first is taken, or the
// simulated studies would be others on another processor.
func factor(c *mat.SymDense, limit int) loading {
	n := c.SymmetricDim()
	left := make([]float64, n) // of the diagonal
	largest := 0.0
	for i := range n {
		left[i] = c.At(i, i)
		largest = max(largest, left[i])
	}
	taken := make([]bool, n)
	var columns [][]float64
	for len(columns) < min(n, limit) {
		best := 0.0
		for i, x := range left {
			if !taken[i] {
				best = max(best, x)
			}
		}
		if best <= tolerance*largest {
			break
		}
		pivot := 0
		for taken[pivot] || left[pivot] < best*(1-tolerance) {
			pivot++
		}
		taken[pivot] = true
		column := make([]float64, n)
		column[pivot] = math.Sqrt(left[pivot])
		for i := range n {
			if taken[i] {
				continue
			}
			sum := c.At(i, pivot)
			for _, before := range columns {
				sum -= before[i] * before[pivot]
			}
			column[i] = sum / column[pivot]
			left[i] -= column[i] * column[i]
		}
		columns = append(columns, column)
	}
	l := loading{rows: n, columns: len(columns), weights: make([]float64, n*len(columns))}
	for j, column := range columns {
		for i, x := range column {
			l.weights[i*l.columns+j] = x
		}
	}
	return l
}
