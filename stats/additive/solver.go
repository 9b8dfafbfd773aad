package additive

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// A Solver estimates contrasts in many sets of responses to one layout: all that
// does not depend on the responses is computed once.
type Solver struct {
	Factors []float64 // standard error of each contrast in units of the residual SD
	DF      int       // residual degrees of freedom

	n         int
	estimate  []float64 // weights of the responses in each contrast, row by row
	residual  []float64 // orthonormal rows of the residual space
	contrasts int
}

// NewSolver prepares a layout, of which the values are not looked at. Weights are
// those of Contrast, one row a contrast; the error is linear.ErrNotEstimable for
// any of them.
//
// With H the matrix that takes responses to fitted values, I − H = QQᵀ, Q having DF
// orthonormal columns; so the residual sum of squares is |Qᵀy|², a sum of DF squares.
func NewSolver(layout []Observation, weights [][]float64) (*Solver, error) {
	n := len(layout)
	s := &Solver{n: n, contrasts: len(weights), estimate: make([]float64, len(weights)*n)}
	unit := make([]Observation, n)
	copy(unit, layout)
	space := mat.NewSymDense(n, nil)
	for i := range unit {
		for j := range unit {
			unit[j].Value = 0
		}
		unit[i].Value = 1
		f := NewFit(unit)
		s.DF = f.DF
		for j, r := range f.linear.Residual {
			if j <= i {
				space.SetSym(i, j, r)
			}
		}
		for q, w := range weights {
			e, err := f.Contrast(w)
			if err != nil {
				return nil, err
			}
			s.estimate[q*n+i] = e.Value
			if i == 0 {
				s.Factors = append(s.Factors, e.Factor)
			}
		}
	}
	var eigen mat.EigenSym
	if !eigen.Factorize(space, true) {
		panic("additive: the spectrum of a projection was not found")
	}
	var vectors mat.Dense
	eigen.VectorsTo(&vectors) // eigenvalues ascend: the last DF are 1
	for k := n - s.DF; k < n; k++ {
		for i := range n {
			s.residual = append(s.residual, vectors.At(i, k))
		}
	}
	return s, nil
}

// Solve writes the estimate of each contrast and returns the residual SD, 0
// without degrees of freedom. It panics for slices of another length.
func (s *Solver) Solve(responses, estimates []float64) (sd float64) {
	if len(responses) != s.n || len(estimates) != s.contrasts {
		panic("additive: responses or estimates of another length than the layout")
	}
	for q := range estimates {
		estimates[q] = dot(s.estimate[q*s.n:(q+1)*s.n], responses)
	}
	rss := 0.0
	for k := range s.DF {
		x := dot(s.residual[k*s.n:(k+1)*s.n], responses)
		rss += x * x
	}
	if s.DF == 0 {
		return 0
	}
	return math.Sqrt(rss / float64(s.DF))
}

func dot(a, b []float64) (sum float64) {
	b = b[:len(a)]
	for i, x := range a {
		sum += x * b[i]
	}
	return sum
}
