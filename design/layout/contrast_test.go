package layout

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestContrastsOfThree(t *testing.T) {
	d := func(a, b, c float64) Contrast { return Contrast{Coefficients: []float64{a, b, c}, Weight: 1} }
	if diff := cmp.Diff([]Contrast{d(1, -1, 0), d(1, 0, -1), d(0, 1, -1)}, Pairwise(3)); diff != "" {
		t.Error(diff)
	}
	if diff := cmp.Diff([]Contrast{d(1, -1, 0), d(0, -1, 1)}, AgainstReference(3, 1)); diff != "" {
		t.Error(diff)
	}
}

func TestMistakesPanic(t *testing.T) {
	good := Problem{Replicates: repeat(2, 3), BlockSizes: repeat(3, 2), Contrasts: Pairwise(3)}
	with := func(change func(*Problem)) func() {
		return func() {
			p := good
			change(&p)
			_, _ = Find(p, Search{Exchanges: 10})
		}
	}
	contrast := func(weight float64, coefficients ...float64) func() {
		return with(func(p *Problem) { p.Contrasts = []Contrast{{coefficients, weight}} })
	}
	for _, c := range []struct {
		want string
		call func()
	}{
		{"layout: fewer than two treatments or no block", with(func(p *Problem) { p.BlockSizes = nil })},
		{"layout: number of treatments differs between replicates and most per block", with(func(p *Problem) { p.MostPerBlock = []int{1} })},
		{"layout: replicates, block size or most per block below 1", with(func(p *Problem) { p.Replicates = []int{2, 0, 4} })},
		{"layout: no such treatment", with(func(p *Problem) { p.InEveryBlock = []int{3} })},
		{"layout: no contrast", with(func(p *Problem) { p.Contrasts = nil })},
		{"layout: a contrast has the wrong number of coefficients", contrast(1, 1, -1)},
		{"layout: the weight of a contrast is not positive and finite", contrast(0, 1, -1, 0)},
		{"layout: the weight of a contrast is not positive and finite", contrast(math.NaN(), 1, -1, 0)},
		{"layout: the coefficients of a contrast are all 0 or not finite", contrast(1, 0, 0, 0)},
		{"layout: the coefficients of a contrast are all 0 or not finite", contrast(1, math.NaN(), 1, -1)},
		{"layout: the coefficients of a contrast do not add to 0", contrast(1, 1, 0, 0)},
		{"layout: negative number of exchanges", func() { _, _ = Find(good, Search{Exchanges: -1}) }},
		{"layout: no such treatment, or a difference with itself", func() { Difference(3, 1, 1, 1) }},
		{"layout: no such treatment", func() { Assess(3, [][]int{{3}}, Pairwise(3)) }},
		{"layout: no such treatment", func() { CarryOver(2, [][]int{{-1}}, Order{}) }},
		{"layout: no treatment", func() { CarryOver(0, nil, Order{}) }},
		{"layout: fewer than two treatments", func() { Williams(1) }},
		{"layout: treatments, index or type of a series out of range", func() { _, _ = SeriallyBalanced(3, Type1, 0, 1) }},
		{"layout: treatments, index or type of a series out of range", func() { _, _ = SeriallyBalanced(3, 2, 1, 1) }},
		{"layout: treatments or replicates below 1", func() { ReferenceReplicates(0, 1) }},
		{"layout: treatments below 1", func() { SplitWithReference(5, 0) }},
		{"layout: negative number of extra tests", func() { Raise(repeat(1, 3), Pairwise(3), -1) }},
	} {
		t.Run(c.want, func(t *testing.T) {
			defer func() {
				if got := recover(); got != c.want {
					t.Errorf("panic %v, want %s", got, c.want)
				}
			}()
			c.call()
		})
	}
}
