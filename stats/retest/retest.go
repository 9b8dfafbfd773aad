// Package retest computes the chance that further tests settle a question that is
// still open.
//
// The model is response = treatment + block + error with normal errors. What is
// known of the contrast δ and the spread σ after the tests so far is their
// posterior under the prior 1/σ (Box and Tiao 1973, section 2.4; from memory):
//
//	σ² ~ s²ν/χ²(ν),   δ | σ ~ N(estimate, σ²·factor²)
//
// and the further blocks, each with one test of every treatment of the contrast,
// are predicted from it, so that the uncertainty of the spread is carried along
// (Spiegelhalter, Freedman and Blackburn 1986, Controlled Clinical Trials 7:8;
// from memory).
package retest

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/stat/distuv"
)

// A State is what the tests so far say of one contrast.
type State struct {
	Estimate float64
	Factor   float64 // standard error in units of the SD, above 0
	SD       float64 // residual SD, above 0
	DF       float64 // behind the SD, above 0
	// Size is Σ w² over the weights of the contrast: 2 for a difference. A block
	// with each of its treatments once gives the contrast with variance Size·σ².
	Size float64
}

// A Future is the same contrast after further blocks.
type Future struct {
	Estimate, SE, DF float64
	// Blocks are the contrasts of the further blocks, in order; reused from one
	// future to the next.
	Blocks []float64
}

// Chance returns the share of simulated futures, after so many further blocks,
// for which settled is true, with its Monte Carlo standard error. The estimate is
// then that of least squares on all tests,
//
//	1/factor′² = 1/factor² + blocks/size
//
// and the residual sum of squares grows by that within the new blocks and by
// (new mean − old estimate)²/(factor² + size/blocks). It panics for values out of
// range, no blocks or no simulations.
func (s State) Chance(blocks, simulations int, seed uint64, settled func(Future) bool) (chance, standardError float64) {
	if !(s.Factor > 0 && s.SD > 0 && s.DF > 0 && s.Size > 0) || blocks < 1 || simulations < 1 {
		panic("retest: values must be above zero")
	}
	source := rand.New(rand.NewPCG(seed, 0x726574657374))
	chi := distuv.ChiSquared{K: s.DF, Src: source}
	f := Future{DF: s.DF + float64(blocks), Blocks: make([]float64, blocks)}
	rss := s.SD * s.SD * s.DF
	hits := 0
	for range simulations {
		sigma := math.Sqrt(rss / chi.Rand())
		delta := s.Estimate + sigma*s.Factor*source.NormFloat64()
		mean, within := 0.0, 0.0
		for i := range f.Blocks {
			f.Blocks[i] = delta + sigma*math.Sqrt(s.Size)*source.NormFloat64()
			mean += f.Blocks[i] / float64(blocks)
		}
		for _, x := range f.Blocks {
			within += (x - mean) * (x - mean) / s.Size
		}
		old, added := 1/(s.Factor*s.Factor), float64(blocks)/s.Size
		gap := mean - s.Estimate
		all := rss + within + gap*gap/(1/old+1/added)
		f.Estimate = (old*s.Estimate + added*mean) / (old + added)
		f.SE = math.Sqrt(all / f.DF / (old + added))
		if settled(f) {
			hits++
		}
	}
	chance = float64(hits) / float64(simulations)
	return chance, math.Sqrt(chance * (1 - chance) / float64(simulations))
}
