package null

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"

	"mealtrial/stats/linear"
)

// A brute look holds, from package linear, what turns the responses of a look
// into its t statistics: nothing of the machinery under test.
type bruteLook struct {
	n, df    int
	critical float64
	residual [][]float64 // symmetric projection onto the residual space
	weights  [][]float64 // of every question that is estimable
	factor   []float64   // its standard error over the residual SD
}

func newBruteLook(d Design, n int, critical float64) bruteLook {
	blocks := 0
	for _, t := range d.Tests {
		blocks = max(blocks, t.Block+1)
	}
	x := mat.NewDense(n, d.Treatments+blocks, nil)
	for i, t := range d.Tests[:n] {
		x.Set(i, t.Treatment, 1)
		x.Set(i, d.Treatments+t.Block, 1)
	}
	look := bruteLook{n: n, critical: critical}
	var fits []*linear.Fit
	for i := range n {
		y := make([]float64, n)
		y[i] = 1
		fits = append(fits, linear.NewFit(x, y))
		look.residual = append(look.residual, fits[i].Residual)
	}
	look.df = fits[0].DF
	for _, c := range d.Contrasts {
		padded := append(append([]float64(nil), c...), make([]float64, blocks)...)
		weights, u := make([]float64, n), 0.0
		var err error
		for i, f := range fits {
			if weights[i], u, err = f.Combine(padded); err != nil {
				break
			}
		}
		if err == nil {
			look.weights, look.factor = append(look.weights, weights), append(look.factor, u)
		}
	}
	return look
}

// passes tells whether any |t| of the responses reaches the critical value.
func (l bruteLook) passes(y []float64) bool {
	if l.df == 0 {
		return false
	}
	rss := 0.0
	for i, row := range l.residual {
		rss += y[i] * dot(row, y[:l.n])
	}
	se := math.Sqrt(rss / float64(l.df))
	for q, w := range l.weights {
		if math.Abs(dot(w, y[:l.n])) >= l.critical*l.factor[q]*se {
			return true
		}
	}
	return false
}

// brute is the share of whole simulated studies, effects of blocks included, in
// which some question passes at some look.
func brute(d Design, b Bound, studies int, seed uint64) float64 {
	var looks []bruteLook
	for k, n := range d.Looks {
		looks = append(looks, newBruteLook(d, n, b.Critical[k]))
	}
	random := rand.New(rand.NewPCG(seed, 99))
	y, passed := make([]float64, len(d.Tests)), 0
	for range studies {
		for i, t := range d.Tests {
			y[i] = 7*float64(t.Block%3) + random.NormFloat64()
		}
		for _, l := range looks {
			if l.passes(y) {
				passed++
				break
			}
		}
	}
	return float64(passed) / float64(studies)
}

var bruteDesigns = map[string]Design{
	"4, 8, 12 pairs":           complete(2, 12).asking(allPairs(2, 2)).looks(8, 16, 24),
	"incomplete, lost, single": crippled(),
	"looks within blocks":      complete(4, 5).asking(allPairs(4, 4)).looks(5, 10, 13, 20),
	"lost tests":               complete(4, 4).without(0, 5, 6, 15).asking(againstFirst(3, 4)).looks(7, 12),
	"no blocks":                oneWay(1, 2, 6).asking(allPairs(3, 3)).looks(4, 6, 9),
}

// The levels must be kept in studies simulated test by test and fitted by least
// squares, with another generator and seed.
func TestBoundsKeepTheLevelInWholeStudies(t *testing.T) {
	checkWholeStudies(t, 60_000)
}

func checkWholeStudies(t *testing.T, studies int) {
	for name, d := range bruteDesigns {
		for _, shape := range []Shape{Constant, OBrienFleming, SpendOBrienFleming, SpendPocock} {
			b := find(t, d, shape, 0.05, 100_000)
			got := brute(d, b, studies, 77)
			se := math.Hypot(b.LevelError, math.Sqrt(0.05*0.95/float64(studies)))
			if math.Abs(got-0.05) > 4*se {
				t.Errorf("%s, shape %d: some question passes in %.4f of the studies, want 0.05 ± %.4f", name, shape, got, se)
			}
			t.Logf("%s, shape %d: %.4f ± %.4f", name, shape, got, se)
		}
	}
}
