package additive

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"mealtrial/stats"
	"mealtrial/stats/linear"
)

// The solver says what the fit says.
func TestSolverIsTheFit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		treatments, blocks := rapid.IntRange(2, 5).Draw(t, "treatments"), rapid.IntRange(1, 5).Draw(t, "blocks")
		n := rapid.IntRange(3, 25).Draw(t, "tests")
		random := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		var obs []Observation
		var values []float64
		for range n {
			y := 40 + 10*random.NormFloat64()
			obs = append(obs, Observation{Treatment: random.IntN(treatments), Block: random.IntN(blocks), Value: y})
			values = append(values, y)
		}
		f := NewFit(obs)
		weights := make([]float64, f.Treatments)
		if f.Treatments < 2 {
			t.Skip("one treatment")
		}
		weights[0], weights[1] = 1, -1
		e, err := f.Contrast(weights)
		s, solverErr := NewSolver(obs, [][]float64{weights})
		if (err == nil) != (solverErr == nil) || solverErr != nil && !errors.Is(solverErr, linear.ErrNotEstimable) {
			t.Fatalf("fit: %v, solver: %v", err, solverErr)
		}
		if err != nil {
			return
		}
		estimates := make([]float64, 1)
		sd := s.Solve(values, estimates)
		want, _ := f.SD()
		if math.Abs(estimates[0]-e.Value) > 1e-8 || math.Abs(s.Factors[0]-e.Factor) > 1e-10 || s.DF != e.DF || f.DF > 0 && math.Abs(sd-want) > 1e-7 {
			t.Fatalf("%v, factor %v, SD %v on %d; the fit has %+v, SD %v", estimates[0], s.Factors[0], sd, s.DF, e, want)
		}
	})
}

// 10 000 studies of five treatments in six blocks, all four questions against the
// first treatment decided; the aim is 100 ms.
func BenchmarkTenThousandStudiesDecided(b *testing.B) {
	var layout []Observation
	for i := range 30 {
		layout = append(layout, Observation{Treatment: i % 5, Block: i / 5})
	}
	weights := [][]float64{{-1, 1, 0, 0, 0}, {-1, 0, 1, 0, 0}, {-1, 0, 0, 1, 0}, {-1, 0, 0, 0, 1}}
	s, err := NewSolver(layout, weights)
	if err != nil {
		b.Fatal(err)
	}
	critical := stats.TQuantile(0.975, float64(s.DF))
	for b.Loop() {
		random := rand.New(rand.NewPCG(1, 1))
		y, estimates := make([]float64, len(layout)), make([]float64, len(weights))
		verdicts := map[stats.Verdict]int{}
		for range 10_000 {
			for i := range y {
				y[i] = random.NormFloat64()
			}
			sd := s.Solve(y, estimates)
			for q, e := range estimates {
				half := critical * s.Factors[q] * sd
				verdicts[stats.Decide(stats.Interval{Low: e - half, High: e + half, Level: 0.95}, 1)]++
			}
		}
		if verdicts[stats.Open] == 0 {
			b.Fatal(verdicts)
		}
	}
}
