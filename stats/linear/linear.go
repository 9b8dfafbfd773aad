// Package linear fits linear models by least squares, also where the design
// does not have full rank, and says which combinations of the coefficients
// the data can estimate.
//
// Sizes that do not match are mistakes of the program and panic.
package linear

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/lapack64"
	"gonum.org/v1/gonum/mat"
)

// ErrNotEstimable says that a combination of coefficients has no unbiased
// estimate in this design: data that differ in it look the same.
var ErrNotEstimable = errors.New("not estimable from this design")

// Below this share of the largest diagonal element of R, for columns scaled to
// length 1, a column counts as a combination of the columns before it. The
// value is R's own in lm (tol 1e-7).
const rankTolerance = 1e-7

// A Fit is a least-squares fit of y = Xβ + error.
type Fit struct {
	Rank     int       // rank of X
	DF       int       // residual degrees of freedom, rows − Rank
	RSS      float64   // residual sum of squares
	Residual []float64 // y − fitted, one for each row
	Leverage []float64 // diagonal of the hat matrix, in [0, 1]

	scale []float64  // lengths of the columns of X, 1 for a column of zeros
	pivot []int      // pivot[j] is the column of X that stands at place j
	r     *mat.Dense // upper trapezoid of R, Rank rows
	q     *mat.Dense // rows × Rank, orthonormal
	qty   []float64  // the first Rank elements of Qᵀy
	shape [2]int     // rows and columns of X
}

// NewFit computes the least-squares fit by Householder QR with column pivoting
// (Golub and Van Loan, Matrix Computations, 4th ed. 2013, section 5.4.2),
// so that a design without full rank is recognised and not inverted.
// X and y are not changed. It panics when their sizes do not match or X is empty.
func NewFit(x *mat.Dense, y []float64) *Fit {
	n, p := x.Dims()
	if len(y) != n {
		panic("linear: y and X differ in their number of rows")
	}
	f := &Fit{shape: [2]int{n, p}, pivot: make([]int, p)}
	work := mat.DenseCopyOf(x)
	f.scale = normalise(work)
	tau := factorise(work, f.pivot)
	f.Rank = rank(work)
	f.DF = n - f.Rank
	f.r = upper(work, f.Rank)
	f.q = orthonormal(work, tau, f.Rank)
	f.project(y)
	return f
}

// normalise scales each column to length 1, so that the rank does not depend
// on units, and returns the lengths.
func normalise(a *mat.Dense) []float64 {
	n, p := a.Dims()
	lengths := make([]float64, p)
	for j := range lengths {
		lengths[j] = mat.Norm(a.ColView(j), 2)
		if lengths[j] == 0 {
			lengths[j] = 1
		}
		for i := range n {
			a.Set(i, j, a.At(i, j)/lengths[j])
		}
	}
	return lengths
}

// factorise overwrites a with its pivoted QR factors and fills pivot.
func factorise(a *mat.Dense, pivot []int) (tau []float64) {
	n, p := a.Dims()
	for j := range pivot {
		pivot[j] = -1 // free to move
	}
	tau = make([]float64, min(n, p))
	size := make([]float64, 1)
	lapack64.Geqp3(a.RawMatrix(), pivot, tau, size, -1)
	lapack64.Geqp3(a.RawMatrix(), pivot, tau, make([]float64, int(size[0])), int(size[0]))
	return tau
}

func rank(qr *mat.Dense) int {
	n, p := qr.Dims()
	r := 0
	for r < min(n, p) && math.Abs(qr.At(r, r)) > rankTolerance*math.Abs(qr.At(0, 0)) {
		r++
	}
	return r
}

func upper(qr *mat.Dense, rank int) *mat.Dense {
	_, p := qr.Dims()
	r := mat.NewDense(max(rank, 1), p, nil)
	for i := range rank {
		for j := i; j < p; j++ {
			r.Set(i, j, qr.At(i, j))
		}
	}
	return r
}

func orthonormal(qr *mat.Dense, tau []float64, rank int) *mat.Dense {
	n, _ := qr.Dims()
	q := mat.NewDense(n, max(rank, 1), nil)
	if rank == 0 {
		return q
	}
	q.Copy(qr.Slice(0, n, 0, rank))
	size := make([]float64, 1)
	lapack64.Orgqr(q.RawMatrix(), tau[:rank], size, -1)
	lapack64.Orgqr(q.RawMatrix(), tau[:rank], make([]float64, int(size[0])), int(size[0]))
	return q
}

// project fills what depends on y.
func (f *Fit) project(y []float64) {
	n := f.shape[0]
	f.qty = make([]float64, f.Rank)
	f.Residual = append([]float64(nil), y...)
	f.Leverage = make([]float64, n)
	// Projecting twice takes out what the first pass left by rounding.
	for range 2 {
		for j, dot := range f.Residuals(f.Residual) {
			f.qty[j] += dot
		}
	}
	for i := range n {
		for j := range f.Rank {
			f.Leverage[i] += f.q.At(i, j) * f.q.At(i, j)
		}
	}
	f.RSS = SumOfSquares(f.Residual)
}

// SumOfSquares is Σx² with what the additions round off carried along, so that
// thousands of terms keep the digits of a few (Kahan 1965, Commun ACM 8:40; in the
// form of Neumaier 1974, from memory).
func SumOfSquares(x []float64) float64 {
	sum, lost := 0.0, 0.0
	for _, v := range x {
		square := v * v
		next := sum + square
		if sum >= square {
			lost += sum - next + square
		} else {
			lost += square - next + sum
		}
		sum = next
	}
	return sum + lost
}

// Residuals takes what the design explains out of a vector, in place, and returns
// what it took out, in the coordinates of the orthonormal basis. It panics when
// the vector has not one value a row.
func (f *Fit) Residuals(values []float64) (explained []float64) {
	if len(values) != f.shape[0] {
		panic("linear: vector and X differ in their number of rows")
	}
	raw := f.q.RawMatrix()
	explained = make([]float64, f.Rank)
	for j := range explained {
		dot := 0.0
		for i, v := range values {
			dot += raw.Data[i*raw.Stride+j] * v
		}
		explained[j] = dot
		for i := range values {
			values[i] -= dot * raw.Data[i*raw.Stride+j]
		}
	}
	return explained
}

// SD returns the residual standard deviation √(RSS/DF), and false when there
// are no degrees of freedom to estimate it from.
func (f *Fit) SD() (sd float64, ok bool) {
	if f.DF <= 0 {
		return 0, false
	}
	return math.Sqrt(f.RSS / float64(f.DF)), true
}

// Weights returns the weight that each row's y has in the estimate of Σ cⱼβⱼ: the
// estimate is Σ weight·y, and u² of Combine is Σ weight². Errors and panics are those
// of Combine.
func (f *Fit) Weights(c []float64) ([]float64, error) {
	w, err := f.coordinates(c)
	if err != nil {
		return nil, err
	}
	raw := f.q.RawMatrix()
	out := make([]float64, f.shape[0])
	for i := range out {
		for j, x := range w {
			out[i] += x * raw.Data[i*raw.Stride+j]
		}
	}
	return out, nil
}

// Combine estimates the combination Σ cⱼβⱼ of the coefficients. It returns the
// estimate and the factor u by which the residual standard deviation is to be
// multiplied for the standard error of the estimate: u² = cᵀ(XᵀX)⁻c.
// The error is ErrNotEstimable when c does not lie in the row space of X
// (Searle 1971, Linear Models, section 5.4). It panics when c is not as long
// as X is wide.
func (f *Fit) Combine(c []float64) (value, u float64, err error) {
	weights, err := f.coordinates(c)
	if err != nil {
		return 0, 0, err
	}
	for j, w := range weights {
		value += w * f.qty[j]
		u += w * w
	}
	return value, math.Sqrt(u), nil
}

// coordinates returns the combination in the orthonormal basis of the columns.
func (f *Fit) coordinates(c []float64) ([]float64, error) {
	if len(c) != f.shape[1] {
		panic("linear: combination and X differ in their number of columns")
	}
	scaled, size := make([]float64, len(c)), 0.0 // Pᵀc for the scaled columns
	for j := range scaled {
		scaled[j] = c[f.pivot[j]] / f.scale[f.pivot[j]]
		size = math.Max(size, math.Abs(scaled[j]))
	}
	weights := append([]float64(nil), scaled[:f.Rank]...) // w with R₁₁ᵀw = the first Rank elements
	if f.Rank > 0 {
		r11 := blas64.Triangular{Uplo: blas.Upper, Diag: blas.NonUnit, N: f.Rank,
			Stride: f.r.RawMatrix().Stride, Data: f.r.RawMatrix().Data}
		blas64.Trsv(blas.Trans, r11, blas64.Vector{N: f.Rank, Inc: 1, Data: weights})
	}
	for j := f.Rank; j < len(c); j++ {
		left := scaled[j]
		for i, w := range weights {
			left -= f.r.At(i, j) * w
		}
		if math.Abs(left) > rankTolerance*size {
			return nil, ErrNotEstimable
		}
	}
	return weights, nil
}
