package layout

import "math"

// Products are wrapped in float64(…) throughout the search. The language lets
// a processor fuse x*y + z into one rounding; the conversion forbids it, so
// that ties between layouts break the same way on every platform. The linear
// algebra is written out here for the same reason: library kernels add in
// orders that depend on the processor.

// invert returns the inverse of the symmetric positive definite v×v matrix a,
// by rows, through the Cholesky factor: a = LLᵀ, a⁻¹ = L⁻ᵀL⁻¹. It writes into
// inverse and work, both v×v, and says whether a is positive definite to working
// precision.
// Golub and Van Loan, Matrix Computations, 4th ed. 2013, section 4.2 (from memory).
func invert(v int, a, inverse, work []float64) bool {
	l := work
	for j := range v {
		for i := j; i < v; i++ {
			s := a[i*v+j]
			for m := range j {
				s -= float64(l[i*v+m] * l[j*v+m])
			}
			if i > j {
				l[i*v+j] = s / l[j*v+j]
				continue
			}
			if !(s > 1e-14*a[j*v+j]) {
				return false
			}
			l[j*v+j] = math.Sqrt(s)
		}
	}
	invertLower(v, l)
	for i := range v {
		for j := range i + 1 {
			s := 0.0
			for m := i; m < v; m++ {
				s += float64(l[m*v+i] * l[m*v+j])
			}
			inverse[i*v+j], inverse[j*v+i] = s, s
		}
	}
	return true
}

// invertLower replaces the lower triangle l by its inverse.
func invertLower(v int, l []float64) {
	for j := range v {
		l[j*v+j] = 1 / l[j*v+j]
		for i := j + 1; i < v; i++ {
			s := 0.0
			for m := j; m < i; m++ {
				s -= float64(l[i*v+m] * l[m*v+j])
			}
			l[i*v+j] = s / l[i*v+i]
		}
	}
}

// multiply writes the product ab of v×v matrices into product.
func multiply(v int, a, b, product []float64) {
	clear(product)
	for i := range v {
		row := product[i*v : i*v+v]
		for m := range v {
			x := a[i*v+m]
			if x == 0 {
				continue
			}
			for j, y := range b[m*v : m*v+v] {
				row[j] += float64(x * y)
			}
		}
	}
}

func dot(a, b []float64) float64 {
	s := 0.0
	for i, x := range a {
		s += float64(x * b[i])
	}
	return s
}
