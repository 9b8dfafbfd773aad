package additive

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"mealtrial/stats"
	"mealtrial/stats/linear"
)

// Adjusted estimates Σ weights[i]·treatment[i] with covariates added to the
// model, each one value an observation: an analysis of covariance. Weights are
// as in Contrast; the error is linear.ErrNotEstimable, and the estimate has no
// standard error when its DF is 0. It panics for a covariate of another length.
func (f *Fit) Adjusted(weights []float64, covariates ...[]float64) (Estimate, error) {
	c := make([]float64, f.Treatments+f.Blocks-1+len(covariates))
	copy(c, weights)
	return f.combine(f.others.with(covariates, func() *linear.Fit { return linear.NewFit(f.withCovariates(covariates), f.values) }), c)
}

func (f *Fit) withCovariates(covariates [][]float64) *mat.Dense {
	plain := f.design(nil)
	n, p := plain.Dims()
	x := mat.NewDense(n, p+len(covariates), nil)
	x.Slice(0, n, 0, p).(*mat.Dense).Copy(plain)
	for j, c := range covariates {
		if len(c) != n {
			panic("additive: the covariate needs one value an observation")
		}
		x.SetCol(p+j, c)
	}
	return x
}

// CarryOver returns one covariate for each treatment but the first that was
// just before another: 1 where it was the treatment of the observation before
// (first-order carry-over, Jones and Kenward 2014, chapter 5; from memory). The
// observations have to be in order of time.
func (f *Fit) CarryOver() (covariates [][]float64) {
	first := true
	for t := range f.Treatments {
		c := make([]float64, len(f.obs))
		for i := 1; i < len(f.obs); i++ {
			if f.obs[i-1].Treatment == t {
				c[i] = 1
			}
		}
		if !slices.Contains(c, 1) {
			continue
		}
		if first { // its effect is in the treatments and the others' differences
			first = false
			continue
		}
		covariates = append(covariates, c)
	}
	return covariates
}

// Autoregressive estimates Σ weights[i]·treatment[i] when the error of each
// observation is correlated with the one before: the residuals' correlation ρ at
// lag one, then least squares on the transformed rows √(1 − ρ²)·y₁ and
// yₜ − ρ·yₜ₋₁ (Prais and Winsten 1954, Cowles Commission Paper 383; from
// memory). With few observations ρ is estimated too near to zero. Weights and
// errors are those of Contrast; the observations have to be in order of time.
func (f *Fit) Autoregressive(weights []float64) (e Estimate, rho float64, err error) {
	r := f.linear.Residual
	var product, square float64
	for i := 1; i < len(r); i++ {
		product += r[i] * r[i-1]
		square += r[i-1] * r[i-1]
	}
	if square > 0 {
		rho = math.Max(-0.95, math.Min(0.95, product/square))
	}
	c := make([]float64, f.Treatments+f.Blocks-1)
	copy(c, weights)
	e, err = f.combine(f.others.correlated(func() *linear.Fit { return f.transformed(rho) }), c)
	return e, rho, err
}

// transformed fits the rows from which the correlation ρ is taken out.
func (f *Fit) transformed(rho float64) *linear.Fit {
	x := f.design(nil)
	n, p := x.Dims()
	rows, y := mat.NewDense(n, p, nil), make([]float64, n)
	start := math.Sqrt(1 - rho*rho)
	for i := range n {
		for j := range p {
			if i == 0 {
				rows.Set(i, j, start*x.At(i, j))
			} else {
				rows.Set(i, j, x.At(i, j)-rho*x.At(i-1, j))
			}
		}
		if i == 0 {
			y[i] = start * f.values[i]
		} else {
			y[i] = f.values[i] - rho*f.values[i-1]
		}
	}
	return linear.NewFit(rows, y)
}

// BlockContrast estimates Σ weights[i]·treatment[i] from the treatments' means
// within each block that holds all those with a weight, without the spread of any
// other treatment: the mean of the blocks' contrasts with their own spread, DF
// blocks less one. ok is false with fewer than two such blocks or without spread.
func BlockContrast(obs []Observation, weights []float64) (e Estimate, ok bool) {
	var contrasts []Observation
	for _, x := range BlockContrasts(obs, weights) {
		contrasts = append(contrasts, Observation{Value: x})
	}
	if len(contrasts) < 2 {
		return e, false
	}
	fit := NewFit(contrasts)
	e, err := fit.Mean(0)
	_, ok = fit.SD()
	return e, ok && err == nil
}

// BlockContrasts returns the weighted sum of the treatments' means in each block
// that holds all of them.
func BlockContrasts(obs []Observation, weights []float64) (out []float64) {
	blocks := 0
	for _, o := range obs {
		blocks = max(blocks, o.Block+1)
	}
	for b := range blocks {
		total, n := make([]float64, len(weights)), make([]float64, len(weights))
		for _, o := range obs {
			if o.Block == b {
				total[o.Treatment] += o.Value
				n[o.Treatment]++
			}
		}
		sum, whole := 0.0, true
		for i, w := range weights {
			if w == 0 {
				continue
			}
			if whole = whole && n[i] > 0; whole {
				sum += w * total[i] / n[i]
			}
		}
		if whole {
			out = append(out, sum)
		}
	}
	return out
}

// BlockPairs returns the means of two treatments in each block that holds both.
func BlockPairs(obs []Observation, a, b int) (first, second []float64) {
	type sum struct{ total, n float64 }
	blocks := map[int]*[2]sum{}
	var order []int
	for _, o := range obs {
		if o.Treatment != a && o.Treatment != b {
			continue
		}
		if blocks[o.Block] == nil {
			blocks[o.Block] = &[2]sum{}
			order = append(order, o.Block)
		}
		at := &blocks[o.Block][0]
		if o.Treatment == b {
			at = &blocks[o.Block][1]
		}
		at.total += o.Value
		at.n++
	}
	for _, j := range order {
		if x := blocks[j]; x[0].n > 0 && x[1].n > 0 {
			first, second = append(first, x[0].total/x[0].n), append(second, x[1].total/x[1].n)
		}
	}
	return first, second
}

// Limits returns the t interval of an estimate.
func (e Estimate) Limits(level float64) stats.Interval {
	return stats.TInterval(e.Value, e.SE, float64(e.DF), level)
}

// Satterthwaite estimates Σ weights[i]·mean[i] of treatments that each have a
// spread of their own, in a layout without blocks: the standard error is
// √(Σ wᵢ²sᵢ²/nᵢ), with the degrees of freedom of Satterthwaite (1946, Biometrics
// Bulletin 2:110), as in Welch's test. ok is false when a treatment with a weight
// has fewer than two observations, or none spreads.
func Satterthwaite(obs []Observation, weights []float64) (value, se, df float64, ok bool) {
	values := make([][]float64, len(weights))
	for _, o := range obs {
		values[o.Treatment] = append(values[o.Treatment], o.Value)
	}
	var variance, below float64
	for i, w := range weights {
		if w == 0 {
			continue
		}
		n := float64(len(values[i]))
		if n < 2 {
			return 0, 0, 0, false
		}
		mean, square := 0.0, 0.0
		for _, v := range values[i] {
			mean += v / n
		}
		for _, v := range values[i] {
			square += (v - mean) * (v - mean)
		}
		part := w * w * square / (n - 1) / n
		value += w * mean
		variance += part
		below += part * part / (n - 1)
	}
	if variance <= 0 {
		return 0, 0, 0, false
	}
	return value, math.Sqrt(variance), variance * variance / below, true
}

// AdjustedMean estimates the marginal mean of a treatment, as Mean does, with
// covariates added to the model and each at its average over the observations. The
// error is linear.ErrNotEstimable.
func (f *Fit) AdjustedMean(treatment int, covariates ...[]float64) (Estimate, error) {
	centred := make([][]float64, len(covariates))
	for j, c := range covariates {
		mean := 0.0
		for _, x := range c {
			mean += x / float64(len(c))
		}
		for _, x := range c {
			centred[j] = append(centred[j], x-mean)
		}
	}
	weights := make([]float64, f.Treatments+f.Blocks-1)
	weights[treatment] = 1
	for j := 1; j < f.Blocks; j++ {
		weights[f.Treatments+j-1] = 1 / float64(f.Blocks)
	}
	e, err := f.Adjusted(weights, centred...)
	e.Value += f.origin
	return e, err
}
