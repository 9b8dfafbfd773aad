package design

import (
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"mealtrial/stats"
	"mealtrial/stats/additive"
	"mealtrial/stats/linear"
)

// A Sequence is a layout that is looked at while it grows: at each look the
// t interval of one contrast decides, at the nominal level of the look.
type Sequence struct {
	Layout   []additive.Observation // in order of time; values are not looked at
	Contrast []float64              // one weight a treatment, sum zero
	Looks    []Decision             // in order
	Margin   float64                // smallest difference that matters; 0: none
}

// A Decision is a look.
type Decision struct {
	Tests int     // that are in
	Level float64 // nominal two-sided error rate; 0: nothing is decided
}

// A Settled share says how often a study was settled by a look.
type Settled struct {
	By    float64 // at this look or before: any verdict but open
	Wrong float64 // settled at this look or before with an interval that leaves out the truth
}

// Settle simulates studies in which the contrast is truly of this size, with normal
// errors of spread sd, and returns how often each was settled by each look, and the
// mean number of tests when testing stops with the first verdict. Where sd was
// itself estimated on df degrees of freedom, each study has a true spread of its own,
// σ² = sd²·df/χ²(df); +Inf: sd is known. The Monte Carlo error of a share p is
// √(p(1 − p)/studies). The error is linear.ErrNotEstimable, of a look at which the
// contrast cannot be estimated though its level is above 0. It panics for sd ≤ 0,
// df ≤ 0 or no studies.
func (s Sequence) Settle(size, sd, df float64, studies int, seed uint64) (looks []Settled, tests float64, err error) {
	if !(sd > 0 && df > 0) || studies < 1 {
		panic("design: spread, degrees of freedom or studies out of range")
	}
	type prepared struct {
		*additive.Solver
		half float64 // of the interval in units of the estimated SD
	}
	solvers := make([]prepared, len(s.Looks))
	for k, look := range s.Looks {
		if look.Level <= 0 {
			continue
		}
		layout := s.Layout[:look.Tests]
		present := 0
		for _, o := range layout {
			present = max(present, o.Treatment+1)
		}
		present = min(present, len(s.Contrast))
		if slices.ContainsFunc(s.Contrast[present:], func(w float64) bool { return w != 0 }) { // not tested yet
			return nil, 0, linear.ErrNotEstimable
		}
		solver, err := additive.NewSolver(layout, [][]float64{s.Contrast[:present]})
		if err != nil {
			return nil, 0, err
		}
		if solver.DF > 0 {
			solvers[k] = prepared{solver, -stats.TQuantile(look.Level/2, float64(solver.DF)) * solver.Factors[0]}
		}
	}
	random := rand.New(rand.NewPCG(seed, 0x736574746c65))
	chi := distuv.ChiSquared{K: df, Src: random}
	looks = make([]Settled, len(s.Looks))
	y, estimate := make([]float64, len(s.Layout)), make([]float64, 1)
	for range studies {
		sigma := sd
		if !math.IsInf(df, 1) {
			sigma *= math.Sqrt(df / chi.Rand())
		}
		for i := range y {
			y[i] = sigma * random.NormFloat64()
		}
		used := len(s.Layout)
		for k, p := range solvers {
			if p.Solver == nil {
				continue
			}
			scatter := p.Solve(y[:s.Looks[k].Tests], estimate)
			limits := stats.Interval{Low: size + estimate[0] - p.half*scatter, High: size + estimate[0] + p.half*scatter}
			if stats.Decide(limits, s.Margin) == stats.Open {
				continue
			}
			used = s.Looks[k].Tests
			for j := k; j < len(looks); j++ {
				looks[j].By++
				if !limits.Contains(size) {
					looks[j].Wrong++
				}
			}
			break
		}
		tests += float64(used)
	}
	for k := range looks {
		looks[k].By /= float64(studies)
		looks[k].Wrong /= float64(studies)
	}
	return looks, tests / float64(studies), nil
}
