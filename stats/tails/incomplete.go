package tails

import "math"

const (
	tiny     = 1e-300
	rounding = 1e-16
	mostLoop = 2_000_000 // of a continued fraction; it needs about the root of the largest argument
)

// IncompleteBeta returns I_x(a, b), the regularised incomplete beta function, and
// 1 − I_x(a, b). y is 1 − x, which the caller often knows with more digits. It
// panics for a or b not above 0, or x or y outside [0, 1].
func IncompleteBeta(a, b, x, y float64) (lower, upper float64) {
	if !(a > 0 && b > 0 && x >= 0 && x <= 1 && y >= 0 && y <= 1) {
		panic("tails: incomplete beta function out of its domain")
	}
	lower, upper, _ = incompleteBeta(a, b, x, y)
	return lower, upper
}

// incompleteBeta also returns front = xᵃyᵇ/B(a, b). Continued fraction by
// Lentz's method: NIST Digital Library of Mathematical Functions, 8.17.22 and 1.12.
func incompleteBeta(a, b, x, y float64) (lower, upper, front float64) {
	switch {
	case x == 0 || y == 1 && x < tiny:
		return 0, 1, 0
	case y == 0:
		return 1, 0, 0
	}
	front = betaFront(a, b, x, y)
	if (b+1)*x <= (a+1)*y {
		lower = front / betaFraction(a, b, x, y)
		return lower, 1 - lower, front
	}
	upper = front / betaFraction(b, a, y, x)
	return 1 - upper, upper, front
}

// betaFraction is the continued fraction of I_x(a, b), front/betaFraction, in its
// even part, in which x and y near 1 lose no digits (Didonato and Morris 1992, ACM
// Trans Math Softw 18:360; from memory).
func betaFraction(a, b, x, y float64) float64 {
	h := nonzero(a * (a*y - b*x + 1) / (a + 1))
	c, d := h, 0.0
	for m := 1.0; m < mostLoop; m++ {
		s := a + 2*m - 1
		an := (a + m - 1) / s * (a + b + m - 1) / s * m * (b - m) * x * x
		bn := m + m*(b-m)*x/s + (a+m)*(a*y-b*x+1+m*(1+y))/(s+2)
		d = 1 / nonzero(bn+an*d)
		c = nonzero(bn + an/c)
		h *= c * d
		if math.Abs(c*d-1) < rounding {
			break
		}
	}
	return h
}

func nonzero(x float64) float64 {
	if math.Abs(x) < tiny {
		return tiny
	}
	return x
}

// incompleteGamma returns the regularised incomplete gamma functions P(a, x) and
// Q(a, x), and front = xᵃe⁻ˣ/Γ(a). Series and continued fraction: NIST Digital
// Library of Mathematical Functions, 8.11.4 and 8.9.2.
func incompleteGamma(a, x float64) (lower, upper, front float64) {
	front = gammaFront(a, x)
	if x < a+1 {
		sum, term := 1/a, 1/a
		for n := 1.0; n < mostLoop && term > sum*rounding; n++ {
			term *= x / (a + n)
			sum += term
		}
		lower = front * sum
		return lower, 1 - lower, front
	}
	b := x + 1 - a
	c, d := 1/tiny, 1/b
	h := d
	for i := 1.0; i < mostLoop; i++ {
		an := -i * (i - a)
		b += 2
		d = 1 / nonzero(an*d+b)
		c = nonzero(b + an/c)
		h *= d * c
		if math.Abs(d*c-1) < rounding {
			break
		}
	}
	upper = front * h
	return 1 - upper, upper, front
}

// betaFront is xᵃyᵇ/B(a, b), by the saddle point, which takes no difference of
// large logarithms (Loader 2000, Fast and accurate computation of binomial
// probabilities; from memory).
func betaFront(a, b, x, y float64) float64 {
	n := a + b
	return math.Sqrt(a*b/(2*math.Pi*n)) *
		math.Exp(stirlingError(n)-stirlingError(a)-stirlingError(b)-deviance(a, n*x)-deviance(b, n*y))
}

// gammaFront is xᵃe⁻ˣ/Γ(a), by the same.
func gammaFront(a, x float64) float64 {
	return math.Sqrt(a/(2*math.Pi)) * math.Exp(-stirlingError(a)-deviance(a, x))
}

// stirlingError is log Γ(n+1) − [(n + ½) log n − n + ½ log 2π].
func stirlingError(n float64) float64 {
	if n < 15 {
		l, _ := math.Lgamma(n + 1)
		return l - (n+0.5)*math.Log(n) + n - 0.5*math.Log(2*math.Pi)
	}
	n2 := n * n // NIST Digital Library of Mathematical Functions, 5.11.1
	return (1./12 - (1./360-(1./1260-(1./1680-(1./1188-691./360360/n2)/n2)/n2)/n2)/n2) / n
}

// deviance is x log(x/m) + m − x, also where x is near m.
func deviance(x, m float64) float64 {
	v := (x - m) / (x + m)
	if math.Abs(v) > 0.1 {
		if m == 0 {
			return math.Inf(1)
		}
		return x*(math.Log(x)-math.Log(m)) + m - x
	}
	s := (x - m) * v
	term := 2 * x * v
	for j := 1.0; j < 1000; j++ {
		term *= v * v
		next := s + term/(2*j+1)
		if next == s {
			break
		}
		s = next
	}
	return s
}
