package mixed

import "math"

// The criterion has to fall by more than this, a few units in its last digits,
// for a ratio above zero to be preferred to zero.
const criterionTie = 1e-11

// scaled returns the sum of squares free of treatments, each weighted by its
// variance in units of σ²:
//
//	Q(λ) = errorSS + Σ_j d_j·effect_j²/(1 + λd_j)
//
// Q/df estimates σ² at this λ.
func (c *canonical) scaled(ratio float64) float64 {
	q := c.errorSS
	for j, d := range c.eigen {
		q += d * c.effect[j] * c.effect[j] / (1 + ratio*d)
	}
	return q
}

// criterion returns −2 log of the restricted likelihood, maximised over σ²:
//
//	Σ log r_i + Σ_j log(1 + λd_j) + df·(1 + log(2π Q(λ)/df)),   df = tests − treatments
//
// It equals log|V| + log|XᵀV⁻¹X| + df·(1 + log(2πQ/df)) with V = I + λZZᵀ, since
// |V|·|XᵀV⁻¹X| = |XᵀX|·|I + λA| (the criterion of Bates et al. 2015,
// J Stat Softw 67(1), section 3.4; from memory).
func (c *canonical) criterion(ratio float64) float64 {
	df := float64(c.df())
	sum := df * (1 + math.Log(2*math.Pi*c.scaled(ratio)/df))
	for _, r := range c.tests {
		if r > 0 {
			sum += math.Log(r)
		}
	}
	for _, d := range c.eigen {
		sum += math.Log1p(ratio * d)
	}
	return sum
}

// slope returns the first and second derivative of the criterion:
//
//	D′ = Σ d/(1+λd) + df·Q′/Q,   D″ = −Σ (d/(1+λd))² + df·(Q″/Q − (Q′/Q)²)
func (c *canonical) slope(ratio float64) (first, second float64) {
	q, q1, q2 := c.errorSS, 0.0, 0.0
	for j, d := range c.eigen {
		v := 1 + ratio*d
		w := d / v
		s := d * c.effect[j] * c.effect[j] / v
		q += s
		q1 -= s * w
		q2 += 2 * s * w * w
		first += w
		second -= w * w
	}
	df := float64(c.df())
	return first + df*q1/q, second + df*(q2/q-(q1/q)*(q1/q))
}

// minimise returns the ratio λ ≥ 0 with the lowest criterion. It brackets every
// change of the slope from falling to rising on a grid of doubling ratios and
// polishes each, so that of several local minima the lowest is taken. The grid
// begins where λd_j is so small that the criterion is nearly quadratic, and ends
// where its slope is surely positive: D′ is when 1 + λd_j exceeds
// df·d_j·effect_j²/errorSS for each j.
func (c *canonical) minimise() (ratio float64, end End, evaluations int) {
	if c.blockDF == 0 {
		return 0, NotIdentified, 0
	}
	largest, last := 0.0, 0.0
	for j, d := range c.eigen {
		largest = math.Max(largest, d)
		last = math.Max(last, float64(c.df())*c.effect[j]*c.effect[j]/c.errorSS)
	}
	best := c.criterion(0) - criterionTie
	end = AtZero
	low := 0.0
	fall, _ := c.slope(low)
	evaluations = 2
	for high := 1e-3 / largest; low <= last; high *= 2 {
		rise, _ := c.slope(high)
		evaluations++
		if fall < 0 && rise >= 0 {
			at, steps := c.root(low, high)
			value := c.criterion(at)
			evaluations += steps + 1
			if value < best {
				best, ratio, end = value, at, Inside
			}
		}
		low, fall = high, rise
	}
	return ratio, end, evaluations
}

// root returns where the slope, negative at low and not at high, is zero:
// Newton's steps, with bisection where one would leave the bracket.
func (c *canonical) root(low, high float64) (at float64, evaluations int) {
	at = (low + high) / 2
	for evaluations < 100 {
		first, second := c.slope(at)
		evaluations++
		step := -first / second
		if math.Abs(step) <= 1e-15*at {
			break // also where rounding alone moves the slope off zero
		}
		if first < 0 {
			low = at
		} else {
			high = at
		}
		next := at + step
		if !(next > low && next < high) {
			next = (low + high) / 2
		}
		if next == at {
			break
		}
		at = next
	}
	return at, evaluations
}
