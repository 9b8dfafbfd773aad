package additive

import (
	"math"
	"math/rand/v2"
	"testing"

	"mealtrial/stats"
)

// A layout of a simulated study; lost tests are left out by their number.
type layout struct {
	name               string
	treatments, blocks int
	lost               []int
}

var layouts = []layout{
	{"complete, 4 treatments in 4 blocks", 4, 4, nil},
	{"complete, 3 treatments in 3 blocks", 3, 3, nil},
	{"three of 16 tests lost", 4, 4, []int{0, 5, 6}},
	{"one block left with a single test", 3, 4, []int{0, 1}},
	{"no blocks, 5 treatments of 3", 5, 1, nil}, // tests of one treatment stand in one block
}

func (l layout) simulate(random *rand.Rand) []Observation {
	var obs []Observation
	for b := range l.blocks {
		shift := 10 * random.NormFloat64()
		repeats := 1
		if l.blocks == 1 {
			repeats, shift = 3, 0
		}
		for i := range l.treatments * repeats {
			number := b*l.treatments + i
			lost := false
			for _, n := range l.lost {
				lost = lost || n == number
			}
			if !lost {
				obs = append(obs, Observation{Treatment: i % l.treatments, Block: b, Value: 5*float64(i%l.treatments) + shift + 3*random.NormFloat64()})
			}
		}
	}
	return obs
}

// Tallies of what held in simulated studies, as shares.
type tally struct{ difference, sd, outlier, trend, unequal float64 }

// simulate counts how often the 95 % intervals of a difference and of the SD
// hold the truth, and how often the checks for an outlier and a trend raise a
// false alarm at 5 %.
func (l layout) tally(studies int, seed uint64) tally {
	random := rand.New(rand.NewPCG(seed, 1))
	var t tally
	for range studies {
		obs := l.simulate(random)
		f := NewFit(obs)
		sd, _ := f.SD()
		weights := make([]float64, f.Treatments)
		weights[1], weights[0] = 1, -1
		e, err := f.Contrast(weights)
		if err != nil {
			panic(err)
		}
		t.difference += hit(stats.TInterval(e.Value, e.SE, float64(e.DF), 0.95).Contains(5))
		t.sd += hit(stats.SDInterval(sd, float64(f.DF), 0.95).Contains(3))
		worst, ok := f.WorstOutlier()
		t.outlier += hit(ok && worst.P < 0.05)
		at := make([]float64, len(obs)) // random order, else order is treatment and block again
		for i, place := range random.Perm(len(obs)) {
			at[i] = float64(place)
		}
		trend, err := f.Trend(at)
		p, ok := f.UnequalSpread(99, uint64(random.IntN(1<<30)))
		t.unequal += hit(ok && p <= 0.05)
		t.trend += hit(err == nil && trend.DF > 0 && stats.TwoSidedP(trend.Value/trend.SE, float64(trend.DF)) < 0.05)
	}
	n := float64(studies)
	return tally{t.difference / n, t.sd / n, t.outlier / n, t.trend / n, t.unequal / n}
}

func hit(yes bool) float64 {
	if yes {
		return 1
	}
	return 0
}

// The short form of the simulation in calibration_test.go: coverage of 95 %
// and at most 5 % false alarms, within four standard errors of 2000 studies.
func TestIntervalsHoldTheTruthInSimulatedStudies(t *testing.T) {
	const studies = 2000
	slack := 4 * math.Sqrt(0.05*0.95/studies)
	for _, l := range layouts {
		got := l.tally(studies, 11)
		if math.Abs(got.difference-0.95) > slack || math.Abs(got.sd-0.95) > slack {
			t.Errorf("%s: coverage %.3f of a difference, %.3f of the SD, want 0.95", l.name, got.difference, got.sd)
		}
		if got.outlier > 0.05+slack || math.Abs(got.trend-0.05) > slack {
			t.Errorf("%s: false alarms %.3f for an outlier, %.3f for a trend, want at most 0.05 and 0.05", l.name, got.outlier, got.trend)
		}
		if got.unequal > 0.05+slack {
			t.Errorf("%s: false alarms %.3f for unequal spread, want at most 0.05", l.name, got.unequal)
		}
	}
}

// Where the spread grows in step with the response, the check finds it more often
// than not with twelve tests of each of four foods, and not the other way round.
// With few tests it is weak, as any such check is.
func TestUnequalSpreadIsFound(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 1))
	growing, falling := 0.0, 0.0
	const studies = 200
	for range studies {
		var up, down []Observation
		for b := range 12 {
			for i := range 4 {
				level := 10 * float64(i+1)
				up = append(up, Observation{i, b, level + 0.3*level*random.NormFloat64()})
				down = append(down, Observation{i, b, level + 0.3*(50-level)*random.NormFloat64()})
			}
		}
		p, _ := NewFit(up).UnequalSpread(99, 1)
		q, _ := NewFit(down).UnequalSpread(99, 1)
		growing += hit(p <= 0.05) / studies
		falling += hit(q <= 0.05) / studies
	}
	if growing < 0.5 || falling > 0.05 {
		t.Errorf("found in %.2f of studies with growing and %.2f with falling spread", growing, falling)
	}
}
