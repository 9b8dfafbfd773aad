// Package null finds the bounds that several questions at several looks must
// pass, by simulating the t statistics of one layout of tests under "no
// difference". A t statistic depends neither on the mean nor on the spread, so
// the layout alone is enough and no data are needed.
//
// The model is that of package additive, response = treatment + block + error
// with independent normal errors, fitted by least squares to the tests that
// are in at a look.
//
// Sizes that do not match are mistakes of the program and panic. Everything
// random follows from a seed.
package null

import (
	"errors"
	"math"

	"mealtrial/stats/tails"
)

// ErrNoStatistic says that no question has a t statistic at any look.
var ErrNoStatistic = errors.New("no question can be tested at any look: too few tests, or treatments that no block links")

// DefaultStudies is the number of simulated studies when 0 is asked for. The
// standard error of the critical value at the last look is then 0.2 % of it or
// less at alpha 0.05, in all layouts of testdata/calibration.csv. At a first
// look with 1 or 2 degrees of freedom it reaches 0.7 % with the constant shape;
// Bound.CriticalError tells what it was.
const DefaultStudies = 200_000

// The fewest studies from which a standard error means something.
const fewestStudies = 100

// A Test is one test of the layout. Treatments and blocks count from 0; without
// blocks, Block is 0 throughout.
type Test struct{ Treatment, Block int }

// A Design is a layout of tests with its questions and looks.
type Design struct {
	Tests      []Test      // in order of time
	Treatments int         // how many there are, tested or not
	Contrasts  [][]float64 // one a question: a weight a treatment, sum zero, not all zero
	Looks      []int       // number of tests that are in, strictly increasing, at most len(Tests)

	// Random says that blocks are random; their variance is BlockVariance, in units
	// of that of the error, and it is taken as known. Estimates are the generalised
	// least-squares ones then, on tests − treatments degrees of freedom.
	Random        bool
	BlockVariance float64
	// SpreadDF are degrees of freedom behind an estimate of the error SD from
	// elsewhere, independent of the tests, that is pooled with theirs; 0: none.
	SpreadDF int
	// Taken are the nominal levels of the first looks where they were taken before,
	// perhaps of a layout that was another one then: they stay, and the later looks
	// have what is left. NaN: that one was not taken and keeps to the shape. A level of
	// 0 is never passed. Nil: none was taken.
	Taken []float64
}

// A Shape says how the nominal level is spread over the looks.
type Shape int

const (
	// Constant uses the same nominal level at every look (Pocock 1977,
	// Biometrika 64:191; from memory).
	Constant Shape = iota
	// OBrienFleming uses at the share s of the tests of the last look the
	// nominal level 2(1 − Φ(c/√s)): strict early, nearly the full level at the
	// end (O'Brien and Fleming 1979, Biometrics 35:549; from memory).
	OBrienFleming
	// SpendOBrienFleming spends alpha by the share t of the tests of the last look
	// that are in: until then any question passes with a chance of
	//
	//	α(t) = 4(1 − Φ(z(1 − α/4)/√t))
	//
	// which is Lan and DeMets' function for each of two one-sided bounds at α/2 (1983,
	// Biometrika 70:659; from memory). Much like OBrienFleming, and it needs not know
	// how many looks there will be.
	SpendOBrienFleming
	// SpendPocock spends α·log(1 + (e − 1)t) (the same paper; from memory).
	SpendPocock
)

// spent returns what a spending shape has spent at a share t of the tests.
func (s Shape) spent(alpha, t float64) float64 {
	if s == SpendPocock {
		return alpha * math.Log1p((math.E-1)*t)
	}
	z := tails.StudentQuantileUpper(alpha/4, math.Inf(1))
	return 2 * math.Erfc(z/math.Sqrt(2*t))
}

func (s Shape) spends() bool { return s == SpendOBrienFleming || s == SpendPocock }

// A Bound tells, look by look, what a question must pass.
type Bound struct {
	Alpha float64 // chance that any question passes at any look, in (0, 1)
	// Level is the nominal two-sided level αₖ: a question passes when its
	// ordinary p-value is at most αₖ. It is 0 at a look without statistics.
	Level []float64
	// Critical is t(1 − αₖ/2; DF): the repeated confidence interval is
	// estimate ± Critical·SE. It is +Inf where nothing can pass.
	Critical []float64
	// Price is Critical over t(1 − Alpha/2; DF), the factor by which
	// the interval is wider than that of one question at one look. +Inf as above.
	Price []float64
	DF    []int // residual degrees of freedom
	// Estimable tells by look and question whether there is a t statistic: the
	// contrast is estimable and DF > 0.
	Estimable [][]bool

	Studies int    // simulated; 0 when the answer is exact
	Seed    uint64 // of the simulation
	// LevelError is the Monte Carlo standard error of Alpha as achieved by Level.
	LevelError float64
	// CriticalError is the relative Monte Carlo standard error of Critical, by
	// look; 0 where Critical is +Inf.
	CriticalError []float64
}

// Find returns the bounds with
//
//	P(p_qk ≤ αₖ for any question q at any look k) = alpha
//
// when no treatments differ; p_qk is the two-sided p-value of
//
//	t_qk = estimate / (factor · √(RSSₖ/dfₖ))
//
// with the degrees of freedom of its own look, which keeps the level where
// they are few (normal bounds would not: with 4, 8 and 12 pairs they triple
// it). The αₖ follow the shape. By duality the intervals estimate ±
// Critical·SE hold all true differences at all looks with probability
// 1 − alpha (Jennison and Turnbull 1989, J R Stat Soc B 51:305; from memory).
//
// The t_qk are simulated jointly for the very layout, so that it may be
// incomplete, unbalanced or have lost tests; the scale of each study is
// integrated exactly (Deák 1980, Numer Math 35:369; from memory). One question
// at one look gets alpha itself. studies is at least 100, or 0 for DefaultStudies.
//
// Where looks were taken before and have used up alpha, the later ones have level 0.
//
// The error is ErrNoStatistic. Find panics for alpha outside (0, 1), fewer
// studies, an unknown shape or a malformed design.
func Find(d Design, shape Shape, alpha float64, studies int, seed uint64) (Bound, error) {
	if !(alpha > 0 && alpha < 1) {
		panic("null: level must lie between 0 and 1")
	}
	if shape < Constant || shape > SpendPocock {
		panic("null: unknown shape")
	}
	studies = countStudies(studies)
	stages, err := d.stages()
	if err != nil {
		return Bound{}, err
	}
	b := d.newBound(alpha, seed, stages)
	f := family{shape: shape, stages: stages, taken: d.Taken}
	if len(stages) == 1 && stages[0].final.columns == 1 && len(d.Taken) == 0 {
		b.fill(stages, f.levels(alpha), nil)
		return b, nil
	}
	f.null, b.Studies = simulate(stages, studies, seed), studies
	if shape.spends() {
		levels, errs := f.spend(alpha)
		b.fill(stages, levels, errs)
		_, b.LevelError = f.null.chance(f.bounds(levels))
		return b, nil
	}
	last, ok := f.solve(alpha)
	if !ok {
		b.fill(stages, f.levels(0), nil)
		return b, nil
	}
	_, b.LevelError = f.null.chance(f.criticals(last))
	b.fill(stages, f.levels(last), f.relativeErrors(last, b.LevelError))
	return b, nil
}

// Achieved returns the chance, when no treatments differ, that any question has
// p ≤ level[k] at any look k, with its Monte Carlo standard error. Its use is
// to see what a change of the layout, such as lost tests, does to levels that
// were fixed before. A level of 0 is never passed. The model, studies, seed and
// the error are those of Find. It panics unless there is one level a look,
// each in [0, 1).
func Achieved(d Design, level []float64, studies int, seed uint64) (probability, standardError float64, err error) {
	if len(level) != len(d.Looks) {
		panic("null: one level a look is needed")
	}
	for _, l := range level {
		if !(l >= 0 && l < 1) {
			panic("null: level must lie between 0 and 1")
		}
	}
	studies = countStudies(studies)
	stages, err := d.stages()
	if err != nil {
		return 0, 0, err
	}
	critical := make([]float64, len(stages))
	for k, s := range stages {
		critical[k] = upperT(level[s.look], float64(s.df))
	}
	probability, standardError = simulate(stages, studies, seed).chance(critical)
	return probability, standardError, nil
}

func countStudies(studies int) int {
	if studies == 0 {
		return DefaultStudies
	}
	if studies < fewestStudies {
		panic("null: at least 100 studies are needed")
	}
	return studies
}

func (d Design) newBound(alpha float64, seed uint64, stages []stage) Bound {
	looks := len(d.Looks)
	b := Bound{
		Alpha: alpha, Seed: seed,
		Level: make([]float64, looks), Critical: make([]float64, looks), Price: make([]float64, looks),
		DF: make([]int, looks), Estimable: make([][]bool, looks), CriticalError: make([]float64, looks),
	}
	for k, n := range d.Looks {
		b.DF[k] = d.residualDF(n)
		b.Critical[k], b.Price[k] = math.Inf(1), math.Inf(1)
		b.Estimable[k] = make([]bool, len(d.Contrasts))
	}
	for _, s := range stages {
		for _, q := range s.questions {
			b.Estimable[s.look][q] = true
		}
	}
	return b
}

func (b *Bound) fill(stages []stage, levels, errs []float64) {
	for k, s := range stages {
		df := float64(s.df)
		b.Level[s.look] = levels[k]
		b.Critical[s.look] = upperT(levels[k], df)
		b.Price[s.look] = b.Critical[s.look] / upperT(b.Alpha, df)
		if errs != nil {
			b.CriticalError[s.look] = errs[k]
		}
	}
}

// upperT returns t(1 − level/2; df), and +Inf for a level below 1e-150, which
// counts as 0: beyond it t² leaves the range of the numbers when df is 1.
func upperT(level, df float64) float64 {
	if level < 1e-150 {
		return math.Inf(1)
	}
	return tails.StudentQuantileUpper(level/2, df)
}
