package protocol

import (
	"fmt"
	"math"
	"slices"

	"mealtrial/stats"
	"mealtrial/stats/additive"
	"mealtrial/stats/anytime"
	"mealtrial/stats/null"
)

// A Family says how intervals that hold for all questions at once were made.
type Family struct {
	Questions     int    `json:"questions"`
	Level         Number `json:"level"`         // confidence that all intervals hold
	NominalLevel  Number `json:"nominal_level"` // confidence of each by itself
	Critical      Number `json:"critical_t"`
	CriticalError Number `json:"critical_t_relative_error"` // Monte Carlo standard error
	Studies       int    `json:"simulated_studies"`
	Seed          uint64 `json:"seed"`
	Method        string `json:"method"`
}

// What the simulation of the critical value takes; with so many studies its
// Monte Carlo error stays below 0.5 %.
const (
	familyStudies = 100_000
	familySeed    = 1
)

// fillFamily adds to each question the interval that holds together with those of
// all others: the critical t of this very layout under no difference, simulated
// (null.Find). Questions with the blank come from another fit and stay out.
func (a *Analysis) fillFamily(s *Study, m *sample) {
	d := null.Design{Treatments: m.fit.Treatments}
	var asked []int
	for i, q := range s.Questions {
		if answer := a.Questions[i]; answer.Low != nil && answer.Method == methodT {
			weights := make([]float64, d.Treatments)
			weights[s.Food(q.A)], weights[s.Food(q.B)] = 1, -1
			d.Contrasts = append(d.Contrasts, weights)
			asked = append(asked, i)
		}
	}
	if len(asked) < 2 {
		return
	}
	for _, o := range m.obs {
		d.Tests = append(d.Tests, null.Test{Treatment: o.Treatment, Block: o.Block})
	}
	d.Looks = []int{len(d.Tests)}
	bound, err := null.Find(d, null.Constant, 1-s.Level, familyStudies, familySeed)
	if err != nil || math.IsInf(bound.Critical[0], 0) {
		return
	}
	a.Family = &Family{Questions: len(asked), Level: Number(s.Level), NominalLevel: Number(1 - bound.Level[0]), Critical: Number(bound.Critical[0]),
		CriticalError: Number(bound.CriticalError[0]), Studies: bound.Studies, Seed: bound.Seed,
		Method: "t intervals with the critical value of this layout under no difference, simulated"}
	for _, i := range asked {
		q := &a.Questions[i]
		half := bound.Critical[0] * float64(*q.SE)
		limits := stats.Interval{Low: float64(*q.Estimate) - half, High: float64(*q.Estimate) + half, Level: s.Level}
		q.FamilyLow, q.FamilyHigh = some(limits.Low), some(limits.High)
		verdict := stats.Decide(limits, s.Margin)
		q.FamilyVerdict = &verdict
	}
}

// mixtureVariance is the g of the anytime-valid interval, fixed before the data:
// the interval is sharpest for differences of about one SD of a block difference.
const mixtureVariance = 1

// fillAnytime adds, to a study that is looked at before its end, the interval of
// each question that stays valid however often it is asked. It comes from the
// differences within blocks that hold both foods, whose nuisance has a fixed
// dimension (Lindon et al., arXiv 2210.08589).
func (a *Analysis) fillAnytime(s *Study, m *sample) {
	if a.Planned == 0 || a.Logged >= a.Planned {
		return
	}
	for i, q := range s.Questions {
		if q.Kind != Difference {
			continue
		}
		differences := blockDifferences(m.obs, s.Food(q.A), s.Food(q.B))
		a.Questions[i].Anytime = &Anytime{Blocks: len(differences)}
		if len(differences) < 2 {
			continue
		}
		var obs []additive.Observation
		for _, d := range differences {
			obs = append(obs, additive.Observation{Value: d})
		}
		fit := additive.NewFit(obs)
		mean, err := fit.Mean(0)
		if _, ok := fit.SD(); !ok || err != nil {
			continue
		}
		limits, ok := anytime.Interval(mean.Value, mean.SE, float64(mean.DF), float64(len(differences)), mixtureVariance, s.Level)
		if ok {
			a.Questions[i].Anytime.Low, a.Questions[i].Anytime.High = finite(limits.Low), finite(limits.High)
		}
	}
}

// blockDifferences returns the mean of a minus the mean of b in each block that
// holds both.
func blockDifferences(obs []additive.Observation, a, b int) (out []float64) {
	type sums struct {
		total [2]float64
		n     [2]float64
	}
	var blocks []sums
	for _, o := range obs {
		side := slices.Index([]int{a, b}, o.Treatment)
		if side < 0 {
			continue
		}
		for len(blocks) <= o.Block {
			blocks = append(blocks, sums{})
		}
		blocks[o.Block].total[side] += o.Value
		blocks[o.Block].n[side]++
	}
	for _, x := range blocks {
		if x.n[0] > 0 && x.n[1] > 0 {
			out = append(out, x.total[0]/x.n[0]-x.total[1]/x.n[1])
		}
	}
	return out
}

// Anytime is an interval that stays valid however often it is looked at; nil
// limits: it is not finite yet.
type Anytime struct {
	Low    *Number `json:"low"`
	High   *Number `json:"high"`
	Blocks int     `json:"blocks"` // that hold both foods
}

// familyWords words what several questions cost.
func (a *Analysis) familyWords() string {
	f := a.Family
	return fmt.Sprintf("There are %d questions about differences between foods, and each interval holds for its own. For all of them to hold together with %s they are wider, as shown below them (critical t %.3f, Monte Carlo error %s).",
		f.Questions, Percent(float64(f.Level)), float64(f.Critical), Percent(float64(f.CriticalError)))
}
