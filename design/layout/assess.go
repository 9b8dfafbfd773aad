package layout

import "math"

// An Assessment says what a layout shows. Variances are in units of σ², the
// variance of one test within a block.
type Assessment struct {
	// Variances holds the variance of each contrast; +Inf where the layout
	// cannot estimate it.
	Variances []float64

	// Average is the average of the variances, weighted by the contrasts'
	// weights; +Inf when one of them is.
	Average float64

	// Orthogonal is the same average for an orthogonal layout with the same
	// replicates, such as complete blocks: Σ cᵢ²/rᵢ for a contrast, which is
	// 1/ra + 1/rb for a difference.
	Orthogonal float64

	// Efficiency is Orthogonal/Average, in [0, 1]: the part of the tests' worth
	// that is left after comparing within blocks only.
	Efficiency float64

	// Connected says that every difference of two treatments can be estimated.
	Connected bool
}

// Assess computes the variances of contrasts of v treatments under
//
//	response = treatment + block + error
//
// with fixed blocks and independent errors of variance σ². With the incidence
// matrix N, replicates R = diag(r) and block sizes K = diag(k), the information
// matrix of the treatments and the variance of a contrast are
//
//	C = R − N K⁻¹ Nᵀ,   Var(cᵀτ) = cᵀ C⁻ c σ²
//
// for any generalised inverse C⁻. A contrast can be estimated when its
// coefficients add to 0 within each connected component of the layout; the
// others get +Inf. Blocks may have any sizes and may lack treatments, so a
// layout with lost tests can be assessed too.
//
// It panics when a block holds no such treatment, or on contrasts that do not
// fit v. John and Williams, Cyclic and Computer Generated Designs, 2nd ed. 1995,
// chapter 1 (from memory).
func Assess(v int, blocks [][]int, contrasts []Contrast) Assessment {
	checkContrasts(v, contrasts)
	counts := make([]int, v*len(blocks))
	for j, block := range blocks {
		for _, i := range block {
			if i < 0 || i >= v {
				panic("layout: no such treatment")
			}
			counts[i*len(blocks)+j]++
		}
	}
	return assess(newIncidence(v, len(blocks), counts), contrasts)
}

func assess(n *incidence, contrasts []Contrast) Assessment {
	v := n.v
	component, components := n.components()
	c := n.information()
	// Adding 11ᵀ on each component makes C regular and leaves the variance of
	// what can be estimated alone: C and 11ᵀ act on orthogonal spaces.
	for i := range v {
		for j := range v {
			if component[i] == component[j] {
				c[i*v+j]++
			}
		}
	}
	g, work := make([]float64, v*v), make([]float64, v*v)
	if !invert(v, c, g, work) {
		panic("layout: information matrix of a connected layout is not regular")
	}
	a := Assessment{Variances: make([]float64, len(contrasts)), Connected: components == 1}
	for q, share := range shares(contrasts) {
		coefficients := contrasts[q].Coefficients
		a.Variances[q] = math.Inf(1)
		if estimable(coefficients, component, components) {
			a.Variances[q] = quadratic(v, g, coefficients)
		}
		a.Average += float64(share * a.Variances[q])
		a.Orthogonal += float64(share * orthogonal(n.replicates, coefficients))
	}
	if !math.IsInf(a.Average, 1) {
		// Rounding may carry an orthogonal layout above 1.
		a.Efficiency = math.Min(1, a.Orthogonal/a.Average)
	}
	return a
}

// estimable says whether the coefficients add to 0 within each component.
func estimable(coefficients []float64, component []int, components int) bool {
	totals, largest := make([]float64, components), 0.0
	for i, x := range coefficients {
		totals[component[i]] += x
		largest = math.Max(largest, math.Abs(x))
	}
	for _, total := range totals {
		if math.Abs(total) > sumTolerance*largest*float64(len(coefficients)) {
			return false
		}
	}
	return true
}

// quadratic returns xᵀgx.
func quadratic(v int, g, x []float64) float64 {
	s := 0.0
	for i := range v {
		s += float64(x[i] * dot(g[i*v:i*v+v], x))
	}
	return s
}

// orthogonal returns Σ cᵢ²/rᵢ over the treatments with cᵢ ≠ 0.
func orthogonal(replicates []int, coefficients []float64) float64 {
	s := 0.0
	for i, x := range coefficients {
		if x != 0 {
			s += float64(x*x) / float64(replicates[i])
		}
	}
	return s
}
