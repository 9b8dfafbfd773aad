package null

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// glsLook holds the generalised least-squares fit of a look by its textbook
// formula, (XᵀV⁻¹X)⁻¹XᵀV⁻¹y with V = I + ρZZᵀ.
type glsLook struct {
	n        int
	df       float64
	critical float64
	weights  [][]float64 // of the contrasts
	factor   []float64
	quadric  *mat.Dense // V⁻¹ − V⁻¹X(XᵀV⁻¹X)⁻¹XᵀV⁻¹
}

func newGLSLook(d Design, n int, critical float64, df int) glsLook {
	v := mat.NewDense(n, n, nil)
	var present []int
	column := map[int]int{}
	for i, a := range d.Tests[:n] {
		if _, ok := column[a.Treatment]; !ok {
			column[a.Treatment] = len(present)
			present = append(present, a.Treatment)
		}
		for j, b := range d.Tests[:n] {
			if a.Block == b.Block {
				v.Set(i, j, d.BlockVariance)
			}
		}
		v.Set(i, i, 1+d.BlockVariance)
	}
	x := mat.NewDense(n, len(present), nil)
	for i, a := range d.Tests[:n] {
		x.Set(i, column[a.Treatment], 1)
	}
	var inverse, xv, info, covariance, hat, estimator mat.Dense
	if inverse.Inverse(v) != nil {
		panic("V is singular")
	}
	xv.Mul(x.T(), &inverse)
	info.Mul(&xv, x)
	if covariance.Inverse(&info) != nil {
		panic("XᵀV⁻¹X is singular")
	}
	estimator.Mul(&covariance, &xv)
	hat.Mul(xv.T(), &estimator)
	inverse.Sub(&inverse, &hat)
	look := glsLook{n: n, df: float64(df), critical: critical, quadric: &inverse}
	for _, c := range d.Contrasts {
		known := mat.NewVecDense(len(present), nil)
		ok := true
		for t, w := range c {
			if at, there := column[t]; there {
				known.SetVec(at, w)
			} else if w != 0 {
				ok = false
			}
		}
		if !ok {
			continue
		}
		var weights, half mat.VecDense
		weights.MulVec(estimator.T(), known)
		half.MulVec(&covariance, known)
		look.weights = append(look.weights, weights.RawVector().Data)
		look.factor = append(look.factor, math.Sqrt(mat.Dot(known, &half)))
	}
	return look
}

// passes tells whether any |t| reaches the critical value; extra is the sum of
// squares behind a spread from elsewhere.
func (l glsLook) passes(y []float64, extra float64) bool {
	v := mat.NewVecDense(l.n, y[:l.n])
	s := math.Sqrt((mat.Inner(v, l.quadric, v) + extra) / l.df)
	for q, w := range l.weights {
		if math.Abs(dot(w, y[:l.n])) >= l.critical*l.factor[q]*s {
			return true
		}
	}
	return false
}

func normal(random *rand.Rand, n int) (squares float64) {
	for range n {
		x := random.NormFloat64()
		squares += x * x
	}
	return squares
}

// Random blocks and a spread from elsewhere, in whole studies.
func TestVariantsKeepTheLevelInWholeStudies(t *testing.T) {
	const studies = 40_000
	for _, c := range []struct {
		name   string
		design Design
		ratio  float64
		spread int
	}{
		{"incomplete, random blocks, ratio 0.7", crippled(), 0.7, 0},
		{"incomplete, random blocks, ratio 0", crippled(), 0, 0},
		{"complete, random blocks, ratio 3", complete(3, 4).asking(allPairs(3, 3)).looks(6, 9, 12), 3, 0},
		{"random blocks and a spread on 8 df", complete(3, 4).asking(allPairs(3, 3)).looks(3, 6, 12), 1, 8},
	} {
		for _, shape := range []Shape{Constant, OBrienFleming} {
			d := c.design
			d.Random, d.BlockVariance, d.SpreadDF = true, c.ratio, c.spread
			b := find(t, d, shape, 0.05, 100_000)
			random := rand.New(rand.NewPCG(15, 6))
			var looks []glsLook
			for k, n := range d.Looks {
				looks = append(looks, newGLSLook(d, n, b.Critical[k], b.DF[k]))
			}
			passed := 0
			y := make([]float64, len(d.Tests))
			for range studies {
				level := map[int]float64{}
				for i, test := range d.Tests {
					if _, ok := level[test.Block]; !ok {
						level[test.Block] = math.Sqrt(c.ratio) * random.NormFloat64()
					}
					y[i] = 7 + level[test.Block] + random.NormFloat64()
				}
				extra := normal(random, c.spread)
				for _, l := range looks {
					if l.passes(y, extra) {
						passed++
						break
					}
				}
			}
			got := float64(passed) / studies
			se := math.Hypot(b.LevelError, math.Sqrt(0.05*0.95/studies))
			if math.Abs(got-0.05) > 4*se {
				t.Errorf("%s, shape %d: %.4f, want 0.05 ± %.4f", c.name, shape, got, se)
			}
			t.Logf("%s, shape %d: %.4f ± %.4f", c.name, shape, got, se)
		}
	}
}

// With fixed blocks a spread from elsewhere only adds to RSS and to its degrees of
// freedom: one question at one look is the t test on all of them.
func TestSpreadFromElsewhere(t *testing.T) {
	d := complete(2, 3).asking(allPairs(2, 2))
	d.SpreadDF = 10
	b := find(t, d, Constant, 0.05, 0)
	// qt(0.975, 12) in R 4.2.2
	if b.DF[0] != 12 || math.Abs(b.Critical[0]-2.17881282966723) > 1e-12 {
		t.Errorf("critical %v on %d df", b.Critical[0], b.DF[0])
	}
	// Even one block each is enough with it.
	d = complete(2, 1).asking(allPairs(2, 2))
	d.SpreadDF = 4
	if b = find(t, d, Constant, 0.05, 0); math.Abs(b.Critical[0]-2.77644510519779) > 1e-12 {
		t.Errorf("critical %v", b.Critical[0])
	}
}

// Looks that were taken at the levels that Find gave leave the level of the later
// ones as it was; a change of what is to come moves those alone and keeps alpha.
func TestTakenLooksStay(t *testing.T) {
	for _, shape := range []Shape{Constant, OBrienFleming} {
		d := complete(3, 6).asking(allPairs(3, 3)).looks(6, 12, 18)
		whole := find(t, d, shape, 0.05, 100_000)
		again := d
		again.Taken = whole.Level[:2]
		if b := find(t, again, shape, 0.05, 100_000); math.Abs(b.Level[2]/whole.Level[2]-1) > 1e-6 || b.Level[0] != whole.Level[0] {
			t.Errorf("shape %d: levels %v, were %v", shape, b.Level, whole.Level)
		}
		longer := complete(3, 9).asking(allPairs(3, 3)).looks(6, 12, 21, 27)
		longer.Taken = whole.Level[:2]
		b := find(t, longer, shape, 0.05, 100_000)
		if b.Level[0] != whole.Level[0] || b.Level[1] != whole.Level[1] {
			t.Errorf("shape %d: taken levels moved: %v", shape, b.Level)
		}
		chance, se, err := Achieved(longer, b.Level, 100_000, 99)
		if err != nil || math.Abs(chance-0.05) > 4*math.Hypot(se, b.LevelError) {
			t.Errorf("shape %d: achieved %v ± %v, %v", shape, chance, se, err)
		}
	}
	spent := complete(3, 6).asking(allPairs(3, 3)).looks(9, 18)
	spent.Taken = []float64{0.05}
	if b := find(t, spent, Constant, 0.05, 0); b.Level[1] != 0 || !math.IsInf(b.Critical[1], 1) {
		t.Errorf("nothing is left, and yet %v", b.Level)
	}
}
