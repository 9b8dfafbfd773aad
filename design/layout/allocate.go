package layout

import "math"

// ReferenceReplicates returns how many tests to give a reference against which
// a number of treatments with each tests apiece are compared:
//
//	r₀ = each·√treatments, to the nearest whole number
//
// which for a fixed total makes 1/each + 1/r₀, the variance of a treatment minus
// the reference, smallest up to rounding. The nearest whole number is found in
// whole-number arithmetic and has no ties, as 4·treatments·each² is never the
// square of an odd number. It panics when an argument is below 1.
// Dunnett 1955, J. Am. Stat. Assoc. 50:1096 (from memory).
func ReferenceReplicates(treatments, each int) int {
	if treatments < 1 || each < 1 {
		panic("layout: treatments or replicates below 1")
	}
	square := 4 * treatments * each * each
	r := int(math.Sqrt(float64(square))) / 2
	for (2*r+1)*(2*r+1) < square {
		r++
	}
	for (2*r-1)*(2*r-1) > square {
		r--
	}
	return r
}

// SplitWithReference shares out a total number of tests between a reference and
// a number of treatments, which all get the same number because they are
// compared alike. Of all such splits, total = reference + treatments·each, it
// takes the one with the smallest 1/each + 1/reference; what does not divide
// goes to the reference. Of two equally good splits it takes the one with more
// tests of the reference. ok is false when there are not enough tests to give
// each at least one. It panics for treatments below 1.
// Dunnett 1955, J. Am. Stat. Assoc. 50:1096 (from memory).
func SplitWithReference(total, treatments int) (reference, each int, ok bool) {
	if treatments < 1 {
		panic("layout: treatments below 1")
	}
	for e := 1; total-treatments*e >= 1; e++ {
		r := total - treatments*e
		// (e + r)/(er) < (each + reference)/(each·reference), in whole numbers.
		if !ok || (e+r)*each*reference < (each+reference)*e*r {
			reference, each, ok = r, e, true
		}
	}
	return reference, each, ok
}

// Raise returns the replicates with extra tests given to the treatments that
// the contrasts ask about, so that
//
//	Σ w Σᵢ cᵢ²/rᵢ,
//
// the weighted variance of the contrasts in an orthogonal layout, becomes as
// small as extra tests can make it. With only the contrasts of a primary
// question, it raises the treatments under that question and no other; give as
// many extra tests as there are such treatments, or a multiple, to raise equal
// ones equally. Starting from one test each with AgainstReference it leads to
// about √k times as many tests of the reference.
//
// Each test goes where it lowers the sum most, of equals to the lower number;
// for a convex sum this is exact (Fox 1966, Management Science 13:210, from
// memory). It panics for negative extra, replicates below 1, or contrasts that
// do not fit.
func Raise(replicates []int, contrasts []Contrast, extra int) []int {
	v := len(replicates)
	checkContrasts(v, contrasts)
	if extra < 0 {
		panic("layout: negative number of extra tests")
	}
	raised := make([]int, v)
	for i, r := range replicates {
		if r < 1 {
			panic("layout: replicates, block size or most per block below 1")
		}
		raised[i] = r
	}
	weights := weightMatrix(v, contrasts)
	gain := func(i int) float64 {
		return weights[i*v+i] / float64(raised[i]*(raised[i]+1))
	}
	for range extra {
		best := 0
		for i := range v {
			if gain(i) > gain(best)*(1+improvement) {
				best = i
			}
		}
		raised[best]++
	}
	return raised
}
