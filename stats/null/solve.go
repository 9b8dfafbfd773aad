package null

import (
	"math"

	"mealtrial/stats"
)

// A family is the one-parameter set of bounds of a shape; its parameter is the
// nominal level at the last stage.
type family struct {
	shape  Shape
	stages []stage
	taken  []float64 // by look
	null   *sample
}

// levels returns the nominal level of every stage.
func (f family) levels(last float64) []float64 {
	levels := make([]float64, len(f.stages))
	c := math.Inf(1)
	if last > 0 {
		c = -stats.TQuantile(last/2, math.Inf(1))
	}
	for k, s := range f.stages {
		levels[k] = last
		switch {
		case s.look < len(f.taken) && !math.IsNaN(f.taken[s.look]):
			levels[k] = f.taken[s.look]
		case f.shape == OBrienFleming && k < len(f.stages)-1:
			levels[k] = math.Erfc(c / math.Sqrt(2*s.share))
		}
	}
	return levels
}

func (f family) criticals(last float64) []float64 {
	criticals := f.levels(last)
	for k, level := range criticals {
		criticals[k] = upperT(level, float64(f.stages[k].df))
	}
	return criticals
}

// excess is log(chance/alpha) at the parameter exp(theta): increasing, and
// nearly linear in theta.
func (f family) excess(theta, alpha float64) float64 {
	chance, _ := f.null.chance(f.criticals(math.Exp(theta)))
	return math.Log(max(chance, math.SmallestNonzeroFloat64) / alpha)
}

// solve returns the parameter whose chance is alpha, by regula falsi with the
// Illinois rule (Dowell and Jarratt 1971, BIT 11:168; from memory). The answer
// lies between alpha over the number of statistics, by Bonferroni, and alpha;
// the lower end is moved when chance or looks that were taken have it above the
// answer. ok is false when these have used up alpha.
func (f family) solve(alpha float64) (last float64, ok bool) {
	if used, _ := f.null.chance(f.criticals(0)); used >= alpha {
		return 0, false
	}
	statistics := 0
	for _, s := range f.stages {
		statistics += len(s.questions)
	}
	hi := math.Log(alpha)
	fhi := f.excess(hi, alpha)
	if fhi <= 0 {
		return alpha, true
	}
	lo := hi - math.Log(float64(statistics))
	flo := f.excess(lo, alpha)
	for step := 0.1; flo > 0; step *= 2 { // far down where little is left
		hi, fhi = lo, flo
		lo -= step
		flo = f.excess(lo, alpha)
	}
	side := 0 // of the end that moved last
	for range 100 {
		theta := lo + (hi-lo)*flo/(flo-fhi)
		value := f.excess(theta, alpha)
		switch {
		case math.Abs(value) < 1e-10 || hi-lo < 1e-12:
			return math.Exp(theta), true
		case value > 0:
			hi, fhi = theta, value
			if side > 0 {
				flo /= 2
			}
			side = 1
		default:
			lo, flo = theta, value
			if side < 0 {
				fhi /= 2
			}
			side = -1
		}
	}
	return math.Exp(lo), true
}

// relativeErrors returns the relative standard errors of the critical values
// from that of the chance, by the delta method along the family.
func (f family) relativeErrors(last, levelError float64) []float64 {
	const h = 0.01
	up, down := last*math.Exp(h), last*math.Exp(-h)
	upChance, _ := f.null.chance(f.criticals(up))
	downChance, _ := f.null.chance(f.criticals(down))
	high, low := f.criticals(down), f.criticals(up)
	errs := make([]float64, len(high))
	for k := range errs {
		if !math.IsInf(high[k], 1) {
			errs[k] = levelError * math.Log(high[k]/low[k]) / (upChance - downChance)
		}
	}
	return errs
}
