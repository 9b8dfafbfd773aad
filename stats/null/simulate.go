package null

import "math"

// A sample is drawn from the joint distribution of the t statistics.
//
// A t statistic does not change when all errors are scaled, and depends on the
// scale of the normals g against that of the χ² parts only through
// ω = S/R, R = |g|² ~ χ²(m), S = sum of the χ² parts ~ χ²(e), which is
// independent of their directions. For a study with given directions some
// question passes at look k when
//
//	ω ≤ X/critical² − Y,   X = max_q df·h_q²/(v_q·B),   Y = G/B
//
// with h the estimates for R = 1, v their variances, and G and B the shares of
// R and S that have entered RSSₖ. So the chance of passing anywhere is the
// distribution function of ω at the largest of these limits: the scale is
// integrated, the directions are simulated (Deák 1980, Numer Math 35:369, and
// for simultaneous t intervals Somerville 1997, Comput Stat Data Anal 25:217;
// both from memory).
type sample struct {
	stages int
	x, y   []float64 // stages numbers a study
	ratio  ratioTable
}

// simulate draws the studies.
func simulate(stages []stage, studies int, seed uint64) *sample {
	last := stages[len(stages)-1]
	normals, free := last.final.columns, 0
	for _, s := range stages {
		normals += s.step.columns
		free += s.free
	}
	k := len(stages)
	n := &sample{stages: k, x: make([]float64, studies*k), y: make([]float64, studies*k),
		ratio: newRatioTable(free, normals)}
	w := newWorker(stages, normals, seed)
	for i := range studies {
		w.study(n.x[i*k:(i+1)*k], n.y[i*k:(i+1)*k])
	}
	return n
}

// A worker holds the scratch space of one study.
type worker struct {
	stages    []stage
	precision [][]float64 // df/variance, by stage and place of the question
	normals   []float64   // of the last stage's estimates, then of the last step, and so on back
	squares   []float64   // |gₖ|² by stage
	chi       []float64   // χ² parts by stage
	estimate  []float64
	source    *source
}

func newWorker(stages []stage, normals int, seed uint64) *worker {
	k := len(stages)
	w := &worker{stages: stages, normals: make([]float64, normals), squares: make([]float64, k),
		chi: make([]float64, k), estimate: make([]float64, len(stages[k-1].questions)), source: newSource(seed)}
	for _, s := range stages {
		p := make([]float64, len(s.variance))
		for i, v := range s.variance {
			p[i] = float64(s.df) / v
		}
		w.precision = append(w.precision, p)
	}
	return w
}

// study fills X and Y of one study.
func (w *worker) study(x, y []float64) {
	k := len(w.stages)
	radius, scale := 0.0, 0.0 // R and S
	for i := range w.normals {
		w.normals[i] = w.source.normal()
		radius += w.normals[i] * w.normals[i]
	}
	for i, s := range w.stages {
		w.chi[i] = w.source.chiSquared(s.free)
		scale += w.chi[i]
	}
	left := w.normals
	clear(w.estimate)
	left = w.add(w.stages[k-1].final, left, nil)
	for i := k - 1; i >= 0; i-- {
		best := 0.0
		for q, p := range w.precision[i] {
			best = max(best, w.estimate[q]*w.estimate[q]*p)
		}
		x[i] = best / radius
		left = w.add(w.stages[i].step, left, &w.squares[i])
	}
	g, b := 0.0, 0.0
	for i := range k {
		g += w.squares[i]
		b += w.chi[i]
		share := b / scale
		x[i] /= share
		y[i] = g / radius / share
	}
}

// add adds the step l to the estimates and returns the normals not used.
func (w *worker) add(l loading, normals []float64, square *float64) (left []float64) {
	g := normals[:l.columns]
	for q := range l.rows {
		sum := 0.0
		for j, weight := range l.weights[q*l.columns : (q+1)*l.columns] {
			sum += weight * g[j]
		}
		w.estimate[q] += sum
	}
	if square != nil {
		*square = 0
		for _, v := range g {
			*square += v * v
		}
	}
	return normals[l.columns:]
}

// chance returns the probability that any question passes the critical value
// of its stage, and its Monte Carlo standard error.
func (n *sample) chance(critical []float64) (mean, standardError float64) {
	inverse := make([]float64, n.stages)
	for k, c := range critical {
		inverse[k] = 1 / (c * c)
	}
	sum, squares := 0.0, 0.0
	for i := 0; i < len(n.x); i += n.stages {
		limit := 0.0
		for k, v := range inverse {
			limit = max(limit, n.x[i+k]*v-n.y[i+k])
		}
		if limit > 0 {
			p := n.ratio.below(math.Log(limit))
			sum += p
			squares += p * p
		}
	}
	studies := float64(len(n.x) / n.stages)
	mean = sum / studies
	return mean, math.Sqrt(max(0, squares/studies-mean*mean) / (studies - 1))
}
