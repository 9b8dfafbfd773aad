package null

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"

	"mealtrial/stats/additive"
)

// estimators returns, at a look of n tests, the weights on the responses by
// which package additive estimates the question, from its answers to unit
// responses; nil when it is not estimable.
func estimators(d Design, n int, contrast []float64) (weights []float64, df int) {
	for i := range n {
		obs := make([]additive.Observation, n)
		largest := 0
		for j, t := range d.Tests[:n] {
			obs[j] = additive.Observation{Treatment: t.Treatment, Block: t.Block}
			largest = max(largest, t.Treatment)
		}
		obs[i].Value = 1
		f := additive.NewFit(obs)
		df = f.DF
		for _, w := range contrast[largest+1:] {
			if w != 0 {
				return nil, df
			}
		}
		e, err := f.Contrast(contrast[:largest+1])
		if err != nil {
			return nil, df
		}
		weights = append(weights, e.Value)
	}
	return weights, df
}

func dot(a, b []float64) (sum float64) {
	for i := range min(len(a), len(b)) {
		sum += a[i] * b[i]
	}
	return sum
}

func (l loading) row(q int) []float64 {
	if q >= l.rows {
		return nil
	}
	return l.weights[q*l.columns : (q+1)*l.columns]
}

// checkStages compares the independent increments with the covariances of the
// estimators themselves, at every pair of looks.
func checkStages(t interface{ Fatalf(string, ...any) }, d Design) {
	stages, err := d.stages()
	unit := d.unitContrasts()
	weights := make([][][]float64, len(d.Looks)) // by look and question
	statistics := 0
	for look, n := range d.Looks {
		weights[look] = make([][]float64, len(unit))
		for q, c := range unit {
			w, df := estimators(d, n, c)
			if df != d.residualDF(n) {
				t.Fatalf("look %d: %d degrees of freedom, additive has %d", look, d.residualDF(n), df)
			}
			if df > 0 && w != nil {
				weights[look][q] = w
				statistics++
			}
		}
	}
	if errors.Is(err, ErrNoStatistic) {
		if statistics > 0 {
			t.Fatalf("%d statistics, but %v", statistics, err)
		}
		return
	}
	free := 0
	for k, s := range stages {
		statistics -= len(s.questions)
		if free += s.free + s.step.columns; free != s.df || s.free < 0 {
			t.Fatalf("stage %d: parts have %d degrees of freedom, want %d", k, free, s.df)
		}
		for i, q := range s.questions {
			for k2 := k; k2 < len(stages); k2++ {
				for j, q2 := range stages[k2].questions {
					// Common to both: what is added after the later look.
					want := dot(weights[s.look][q], weights[stages[k2].look][q2])
					got := 0.0
					for later := k2 + 1; later < len(stages); later++ {
						got += dot(stages[later].step.row(i), stages[later].step.row(j))
					}
					final := stages[len(stages)-1].final
					got += dot(final.row(i), final.row(j))
					if math.Abs(got-want) > 1e-8*math.Max(1, s.variance[i]) {
						t.Fatalf("stages %d, %d, questions %d, %d: covariance %g, want %g", k, k2, q, q2, got, want)
					}
				}
			}
			if want := dot(weights[s.look][q], weights[s.look][q]); math.Abs(s.variance[i]/want-1) > 1e-8 {
				t.Fatalf("stage %d, question %d: variance %g, want %g", k, q, s.variance[i], want)
			}
		}
	}
	if statistics != 0 {
		t.Fatalf("%d statistics not found", statistics)
	}
}

func TestStagesAgainstLeastSquares(t *testing.T) {
	checkStages(t, crippled())
	checkStages(t, complete(4, 5).asking(allPairs(4, 4)).looks(4, 6, 7, 13, 20))
	checkStages(t, complete(4, 4).without(0, 5, 6, 15).asking(againstFirst(3, 4)).looks(5, 9, 12))
	checkStages(t, oneWay(2, 3, 1).asking(allPairs(3, 3)).looks(2, 4, 5, 6))
}

func TestStagesOfAnyDesign(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) { checkStages(t, anyDesign(t)) })
}
