package ratio

import (
	"math"
	"math/rand/v2"
	"testing"
)

// study draws two means of n responses with correlation 0.3, and an
// independent estimate of the spread on 2n − 2 degrees of freedom.
func study(random *rand.Rand, n int, a, b, sd float64) Pair {
	p := Pair{A: a, B: b, VAA: 1 / float64(n), VBB: 1 / float64(n), VAB: 0.3 / float64(n), DF: float64(2*n - 2)}
	x, y := random.NormFloat64(), random.NormFloat64()
	scale := sd / math.Sqrt(float64(n))
	p.A += scale * x
	p.B += scale * (0.3*x + math.Sqrt(1-0.09)*y)
	sum := 0.0
	for range 2*n - 2 {
		e := sd * random.NormFloat64()
		sum += e * e
	}
	p.SD = math.Sqrt(sum / p.DF)
	return p
}

// setting is a truth to draw studies from.
type setting struct {
	name        string
	n           int
	a, b, level float64
}

var settings = []setting{
	{"clear denominator", 4, 2, 5, 0.95},
	{"uncertain denominator", 3, 2, 1, 0.95},
	{"denominator close to zero", 3, 1, 0.05, 0.95},
	{"denominator and numerator close to zero", 3, 0.02, -0.05, 0.95},
	{"two responses each", 2, 3, 2, 0.8},
	{"ratio zero", 5, 0, 2, 0.9},
}

// tally returns the share of sets that hold the true ratio, and the shares of
// the shapes.
func (s setting) tally(studies int, seed uint64) (coverage float64, shapes map[Shape]float64) {
	random := rand.New(rand.NewPCG(seed, 1))
	shapes = map[Shape]float64{}
	for range studies {
		set, err := Fieller(study(random, s.n, s.a, s.b, 1), s.level)
		if err != nil {
			panic(err)
		}
		shapes[set.Shape] += 1 / float64(studies)
		if set.Contains(s.a / s.b) {
			coverage += 1 / float64(studies)
		}
	}
	return coverage, shapes
}

// The coverage is exactly the level, also for a denominator near zero, where
// only the shapes change: within four standard errors of 4000 studies.
func TestCoverageIsTheLevel(t *testing.T) {
	const studies = 4000
	for _, s := range settings {
		got, shapes := s.tally(studies, 7)
		if slack := 4 * math.Sqrt(s.level*(1-s.level)/studies); math.Abs(got-s.level) > slack {
			t.Errorf("%s: coverage %.4f, want %.2f ± %.4f", s.name, got, s.level, slack)
		}
		if clear := s.name == "clear denominator"; clear != (shapes[Bounded] > 0.999) {
			t.Errorf("%s: %v", s.name, shapes)
		}
	}
}
