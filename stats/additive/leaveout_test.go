package additive

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// Without each observation the formula gives what a fit without it gives.
func TestWithoutEachIsAFitWithout(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		treatments, blocks := rapid.IntRange(2, 5).Draw(t, "treatments"), rapid.IntRange(1, 4).Draw(t, "blocks")
		var obs []Observation
		for b := range blocks {
			for k := range treatments {
				for range rapid.IntRange(0, 2).Draw(t, "times") {
					obs = append(obs, Observation{Treatment: k, Block: b, Value: rapid.Float64Range(0, 90).Draw(t, "value")})
				}
			}
		}
		if len(obs) < 2 {
			return
		}
		weights := func(n int) []float64 {
			w := make([]float64, max(n, 2))
			w[0], w[1] = 1, -1
			return w
		}
		f := NewFit(obs)
		if f.Treatments < 2 {
			return
		}
		without, ok, err := f.WithoutEach(weights(f.Treatments))
		if err != nil {
			return
		}
		for i := range obs {
			g := NewFit(slices.Delete(slices.Clone(obs), i, i+1))
			if g.Treatments < 2 {
				if ok[i] {
					t.Fatalf("without %d: estimated", i)
				}
				continue
			}
			want, err := g.Contrast(weights(g.Treatments))
			if (err == nil) != ok[i] {
				t.Fatalf("without %d: ok %v, %v", i, ok[i], err)
			}
			if err != nil {
				continue
			}
			got := without[i]
			if math.Abs(got.Value-want.Value) > 1e-8 || math.Abs(got.Factor-want.Factor) > 1e-9 || got.DF != want.DF || math.Abs(got.SE-want.SE) > 1e-5 {
				t.Fatalf("without %d: %+v, want %+v", i, got, want)
			}
		}
	})
}
