package layout

import (
	"math"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"mealtrial/design/chance"
)

func TestFindKeepsTheProblemAndItsRestrictions(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := smallProblem(t, 7)
		replicates, sizes := slices.Clone(p.Replicates), slices.Clone(p.BlockSizes)
		s := Search{Seed: rapid.Uint64().Draw(t, "seed"), Exchanges: 2000}
		l, err := Find(p, s)
		if err != nil {
			return
		}
		if !slices.Equal(replicates, p.Replicates) || !slices.Equal(sizes, p.BlockSizes) {
			t.Fatal("the problem was changed")
		}
		checkKept(t, p, l.Blocks)
		if !(l.Efficiency > 0 && l.Efficiency <= 1) || l.LowerBound > l.Average*(1+1e-9) {
			t.Fatalf("efficiency %g, bound %g, average %g", l.Efficiency, l.LowerBound, l.Average)
		}
		if diff := cmp.Diff(l.Assessment, Assess(len(p.Replicates), l.Blocks, p.Contrasts)); diff != "" {
			t.Fatal(diff)
		}
		again, _ := Find(p, s)
		if diff := cmp.Diff(l, again); diff != "" {
			t.Fatal("a second search of the same seed differs: " + diff)
		}
	})
}

// Names of treatments and blocks carry no information.
func TestRelabellingKeepsTheOptimalVariance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := smallProblem(t, 5)
		v := len(p.Replicates)
		label := rapid.Permutation(chance.New(1, stream).Permutation(v)).Draw(t, "labels")
		q := Problem{
			Replicates: make([]int, v), MostPerBlock: make([]int, v),
			BlockSizes: rapid.Permutation(p.BlockSizes).Draw(t, "blocks"),
		}
		for i, to := range label {
			q.Replicates[to], q.MostPerBlock[to] = p.Replicates[i], p.MostPerBlock[i]
		}
		for _, i := range p.InEveryBlock {
			q.InEveryBlock = append(q.InEveryBlock, label[i])
		}
		for _, c := range p.Contrasts {
			moved := Contrast{Coefficients: make([]float64, v), Weight: c.Weight}
			for i, to := range label {
				moved.Coefficients[to] = c.Coefficients[i]
			}
			q.Contrasts = append(q.Contrasts, moved)
		}
		a, errA := Find(p, Search{Exchanges: 20_000})
		b, errB := Find(q, Search{Exchanges: 20_000})
		if (errA == nil) != (errB == nil) {
			t.Fatalf("%v, and relabelled %v", errA, errB)
		}
		if errA == nil && !near(a.Average, b.Average, 1e-9) {
			t.Fatalf("%.12f, and relabelled %.12f", a.Average, b.Average)
		}
	})
}

// Scaling all weights changes nothing; scaling coefficients scales variances.
func TestScalingOfContrasts(t *testing.T) {
	blocks := [][]int{{0, 1, 2}, {2, 3, 0}, {1, 3}}
	plain, scaled := Pairwise(4), Pairwise(4)
	for q := range scaled {
		scaled[q].Weight = 7
		for i := range scaled[q].Coefficients {
			scaled[q].Coefficients[i] *= 3
		}
	}
	a, b := Assess(4, blocks, plain), Assess(4, blocks, scaled)
	if !near(9*a.Average, b.Average, 1e-12) || !near(a.Efficiency, b.Efficiency, 1e-12) {
		t.Errorf("%+v, %+v", a, b)
	}
}

// The score of an exchange must be what carrying it out gives.
func TestScoreOfAnExchangeIsTheChange(t *testing.T) {
	checked := 0
	rapid.Check(t, func(t *rapid.T) {
		p := smallProblem(t, 7)
		const ridge = 1e-3
		s := newState(p, weightMatrix(len(p.Replicates), p.Contrasts), ridge)
		n, err := place(p, chance.New(rapid.Uint64().Draw(t, "seed"), stream))
		if err != nil {
			t.Fatal(err)
		}
		s.incidence = n
		s.refresh()
		for a := range s.b {
			for b := range s.b {
				for i := range s.v {
					for j := range s.v {
						e := exchange{i: i, a: a, j: j, b: b}
						if a == b || !s.allows(e, s.least, s.most) {
							continue
						}
						before, change := s.value, s.change(e)
						s.apply(e)
						if margin := 1e-6 * math.Max(before, s.value); math.Abs(s.value-before-change) > margin {
							t.Fatalf("%+v: scored %.9g, and it was %.9g", e, change, s.value-before)
						}
						s.apply(exchange{i: j, a: a, j: i, b: b})
						checked++
					}
				}
			}
		}
	})
	if checked == 0 {
		t.Error("no exchange was checked")
	}
}
