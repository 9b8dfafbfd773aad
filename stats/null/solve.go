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

func (f family) criticals(last float64) []float64 { return f.bounds(f.levels(last)) }

// bounds returns the critical values of nominal levels.
func (f family) bounds(levels []float64) []float64 {
	criticals := make([]float64, len(levels))
	for k, level := range levels {
		criticals[k] = upperT(level, float64(f.stages[k].df))
	}
	return criticals
}

// spend returns the nominal levels that spend alpha by the shape, stage by stage,
// and the relative standard errors of the critical values: that of the chance of
// the stage over its derivative.
func (f family) spend(alpha float64) (levels, errs []float64) {
	levels, errs = make([]float64, len(f.stages)), make([]float64, len(f.stages))
	for k, s := range f.stages {
		if s.look < len(f.taken) && !math.IsNaN(f.taken[s.look]) {
			levels[k] = f.taken[s.look]
			continue
		}
		target := f.shape.spent(alpha, s.share)
		chance := func(level float64) float64 {
			levels[k] = level
			p, se := f.null.chance(f.bounds(levels)) // later levels are still 0
			errs[k] = se
			return p
		}
		if chance(0) >= target {
			levels[k] = 0 // looks that were taken have spent more
			continue
		}
		// chance lies between the level and, by Bonferroni, what was used and the level
		// times the number of questions.
		used := chance(0)
		excess := func(theta float64) float64 { return math.Log(chance(math.Exp(theta)) / target) }
		theta := root(excess, math.Log((target-used)/float64(len(s.questions))), math.Log(target))
		const h = 0.02
		up, down := chance(math.Exp(theta+h)), chance(math.Exp(theta-h))
		chance(math.Exp(theta))
		df := float64(s.df)
		errs[k] *= math.Log(upperT(math.Exp(theta-h), df)/upperT(math.Exp(theta+h), df)) / (up - down)
	}
	return levels, errs
}

// excess is log(chance/alpha) at the parameter exp(theta): increasing, and
// nearly linear in theta.
func (f family) excess(theta, alpha float64) float64 {
	chance, _ := f.null.chance(f.criticals(math.Exp(theta)))
	return math.Log(max(chance, math.SmallestNonzeroFloat64) / alpha)
}

// solve returns the parameter whose chance is alpha. The answer
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
	return math.Exp(between(func(theta float64) float64 { return f.excess(theta, alpha) }, lo, flo, hi, fhi)), true
}

// root returns where a function that increases from lo to hi is 0; an end where it
// does not change its sign.
func root(f func(theta float64) float64, lo, hi float64) float64 {
	flo, fhi := f(lo), f(hi)
	if flo >= 0 {
		return lo
	}
	if fhi <= 0 {
		return hi
	}
	return between(f, lo, flo, hi, fhi)
}

// between is root by regula falsi with the Illinois rule (Dowell and Jarratt 1971,
// BIT 11:168; from memory), from values of opposite signs at both ends.
func between(f func(theta float64) float64, lo, flo, hi, fhi float64) float64 {
	side := 0 // of the end that moved last
	for range 100 {
		theta := lo + (hi-lo)*flo/(flo-fhi)
		value := f(theta)
		switch {
		case math.Abs(value) < 1e-10 || hi-lo < 1e-12:
			return theta
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
	return lo
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
