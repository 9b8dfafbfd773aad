package null

import (
	"math"

	"gonum.org/v1/gonum/mathext"

	"mealtrial/stats/tails"
)

// A ratioTable holds the distribution function of log(S/R), S ~ χ²(free) and
// R ~ χ²(normals) independent,
//
//	P(S/R ≤ ω) = I_{ω/(1+ω)}(free/2, normals/2),
//
// at even steps, since it is wanted millions of times. Cubic Hermite
// interpolation between them errs by less than 1e-7.
type ratioTable struct {
	start, step float64
	value       []float64 // at start + i·step
	slope       []float64 // its derivative times step
}

func newRatioTable(free, normals int) ratioTable {
	a, b := float64(free)/2, float64(normals)/2
	// About the SD of log(S/R) over 24, and finer where that is wide, because
	// one of its tails may be steep all the same.
	step := min(math.Sqrt(1/a+1/b)/24, 0.02)
	at := func(theta float64) (value, slope float64) {
		below := 1 / (1 + math.Exp(-theta)) // ω/(1+ω)
		above := 1 / (1 + math.Exp(theta))
		slope = math.Exp(a*math.Log(below) + b*math.Log(above) - mathext.Lbeta(a, b))
		value, _ = tails.IncompleteBeta(a, b, below, above)
		return value, slope
	}
	const negligible = 1e-14
	t := ratioTable{start: math.Log(a / b), step: step}
	for {
		value, _ := at(t.start)
		if value < negligible {
			break
		}
		t.start -= step
	}
	for i := 0; ; i++ {
		value, slope := at(t.start + float64(i)*step)
		t.value = append(t.value, value)
		t.slope = append(t.slope, slope*step)
		if 1-value < negligible {
			return t
		}
	}
}

// below returns P(log(S/R) ≤ theta).
func (t *ratioTable) below(theta float64) float64 {
	place := (theta - t.start) / t.step
	if place <= 0 {
		return 0
	}
	i := int(place)
	if i >= len(t.value)-1 {
		return 1
	}
	u := place - float64(i)
	v := 1 - u
	return v*v*(1+2*u)*t.value[i] + u*v*v*t.slope[i] + u*u*(1+2*v)*t.value[i+1] - u*u*v*t.slope[i+1]
}
