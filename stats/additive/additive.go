// Package additive fits the model of a randomised block experiment,
//
//	response = treatment + block + error,
//
// by least squares, for complete, incomplete and unbalanced layouts, and names
// what the layout cannot estimate. Without blocks it is the one-way layout.
// Cochran and Cox, Experimental Designs, 2nd ed. 1957, chapters 4 and 9.
//
// Index errors are mistakes of the program and panic.
package additive

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"mealtrial/stats/linear"
)

// An Observation is one response with the indexes of its treatment and block.
// Where the layout has no blocks, Block is 0 throughout.
type Observation struct {
	Treatment, Block int
	Value            float64
}

// An Estimate is a linear combination of the effects.
type Estimate struct {
	Value  float64
	Factor float64 // standard error in units of the residual SD
	SE     float64 // Factor × residual SD; 0 and without meaning when DF is 0
	DF     int     // residual degrees of freedom behind SE
}

// A Fit holds the fitted model.
type Fit struct {
	Treatments, Blocks int
	DF                 int
	RSS                float64

	// A spread from elsewhere, see Pool: its degrees of freedom and sum of squares.
	otherDF      int
	otherSquares float64

	obs    []Observation
	origin float64 // subtracted from the responses before fitting
	values []float64
	linear *linear.Fit
	others *otherFits
}

// NewFit fits the model. Treatments and blocks are numbered from 0, and the
// largest index seen gives their number; a treatment without an observation is
// allowed and not estimable. It panics without observations.
func NewFit(obs []Observation) *Fit {
	if len(obs) == 0 {
		panic("additive: no observations")
	}
	f := &Fit{obs: obs, origin: obs[0].Value, others: &otherFits{}}
	for _, o := range obs {
		f.Treatments = max(f.Treatments, o.Treatment+1)
		f.Blocks = max(f.Blocks, o.Block+1)
		// The difference of neighbouring numbers is exact, so a large common
		// level does not cost digits of the spread.
		f.values = append(f.values, o.Value-f.origin)
	}
	f.linear = linear.NewFit(f.design(nil), f.values)
	f.DF, f.RSS = f.linear.DF, f.linear.RSS
	return f
}

// design has one indicator column a treatment, one for each block but the
// first, and one for the covariate if there is one.
func (f *Fit) design(covariate []float64) *mat.Dense {
	p := f.Treatments + f.Blocks - 1
	if covariate != nil {
		p++
	}
	x := mat.NewDense(len(f.obs), p, nil)
	for i, o := range f.obs {
		x.Set(i, o.Treatment, 1)
		if o.Block > 0 {
			x.Set(i, f.Treatments+o.Block-1, 1)
		}
		if covariate != nil {
			x.Set(i, p-1, covariate[i])
		}
	}
	return x
}

// Pool returns the fit with the spread of its residuals pooled with that of other
// data, a residual SD on df degrees of freedom from the same normal errors:
//
//	s² = (RSS + df·sd²) / (DF + df)
//
// SD, Mean, Contrast and Adjusted rest on s and on DF + df from then on; DF and RSS
// stay those of the fit alone. It panics for sd ≤ 0 or df < 1.
func (f *Fit) Pool(sd float64, df int) *Fit {
	if !(sd > 0) || df < 1 {
		panic("additive: a spread to pool with needs an SD and degrees of freedom")
	}
	pooled := *f
	pooled.otherDF += df
	pooled.otherSquares += float64(df) * sd * sd
	return &pooled
}

// OwnSD is SD of the residuals alone.
func (f *Fit) OwnSD() (sd float64, ok bool) {
	alone := *f
	alone.otherDF, alone.otherSquares = 0, 0
	return alone.SD()
}

// SpreadDF returns the degrees of freedom behind SD.
func (f *Fit) SpreadDF() int { return f.DF + f.otherDF }

// pool adds the spread from elsewhere to that of a least-squares fit.
func (f *Fit) pool(l *linear.Fit) (sd float64, df int, ok bool) {
	if f.otherDF == 0 {
		sd, ok = l.SD()
		return sd, l.DF, ok
	}
	df = l.DF + f.otherDF
	return math.Sqrt((l.RSS + f.otherSquares) / float64(df)), df, true
}

// SD returns the residual standard deviation: the spread of repeated responses
// to one treatment, pooled over treatments, block differences removed. ok is
// false when there are no degrees of freedom, or when the residuals vanish
// against the responses (below 1e-9 of their range), which is no spread that
// could be believed.
func (f *Fit) SD() (sd float64, ok bool) {
	sd, _, ok = f.pool(f.linear)
	lo, hi := f.values[0], f.values[0]
	for _, v := range f.values {
		lo, hi = math.Min(lo, v), math.Max(hi, v)
	}
	if !ok || sd <= 1e-9*(hi-lo) {
		return 0, false
	}
	return sd, true
}

// Mean estimates the marginal mean of a treatment: its expected response
// averaged over the blocks with equal weights, as if it had been in each
// (Searle, Speed and Milliken 1980, American Statistician 34:216).
// The error is linear.ErrNotEstimable.
func (f *Fit) Mean(treatment int) (Estimate, error) {
	c := make([]float64, f.Treatments+f.Blocks-1)
	c[treatment] = 1
	for j := 1; j < f.Blocks; j++ {
		c[f.Treatments+j-1] = 1 / float64(f.Blocks)
	}
	e, err := f.combine(f.linear, c)
	e.Value += f.origin
	return e, err
}

// Contrast estimates Σ weights[i]·treatment[i]. The weights must sum to zero
// and be as many as there are treatments, else it panics; the error is
// linear.ErrNotEstimable.
func (f *Fit) Contrast(weights []float64) (Estimate, error) {
	sum, size := 0.0, 0.0
	for _, w := range weights {
		sum += w
		size += math.Abs(w)
	}
	if len(weights) != f.Treatments || math.Abs(sum) > 1e-12*size {
		panic("additive: weights of a contrast must sum to zero, one a treatment")
	}
	c := make([]float64, f.Treatments+f.Blocks-1)
	copy(c, weights)
	return f.combine(f.linear, c)
}

func (f *Fit) combine(l *linear.Fit, c []float64) (Estimate, error) {
	value, factor, err := l.Combine(c)
	if err != nil {
		return Estimate{}, err
	}
	sd, df, ok := f.pool(l)
	e := Estimate{Value: value, Factor: factor, DF: df}
	if ok {
		e.SE = factor * sd
	}
	return e, nil
}

// An FTest compares the mean square of the treatments, adjusted for blocks,
// with the residual mean square.
type FTest struct {
	F                      float64
	Treatment, Residual    float64 // sums of squares
	TreatmentDF, ResidueDF int
}

// TreatmentTest tests that all treatments are alike: the extra sum of squares
// of the treatments after the blocks. ok is false without residual or
// treatment degrees of freedom.
func (f *Fit) TreatmentTest() (test FTest, ok bool) {
	blocksOnly := *f
	blocksOnly.obs = make([]Observation, len(f.obs))
	for i, o := range f.obs {
		blocksOnly.obs[i] = Observation{Block: o.Block}
	}
	blocksOnly.Treatments = 1
	small := linear.NewFit(blocksOnly.design(nil), f.values)
	test.TreatmentDF, test.ResidueDF = small.DF-f.DF, f.DF
	test.Residual = f.RSS
	// The distance between the two fits keeps more digits than the difference
	// of the two residual sums of squares.
	between := make([]float64, len(f.values))
	for i := range between {
		between[i] = small.Residual[i] - f.linear.Residual[i]
	}
	test.Treatment = linear.SumOfSquares(between)
	if test.TreatmentDF <= 0 || test.ResidueDF <= 0 {
		return test, false
	}
	test.F = test.Treatment / float64(test.TreatmentDF) / (test.Residual / float64(test.ResidueDF))
	return test, true
}
