package null

import (
	"math"
	"math/rand/v2"
)

// A source draws normals and χ² numbers. Only the generator's bits come from
// the standard library, whose sequence is fixed; its own normals may change
// with a release.
type source struct {
	bits  *rand.PCG
	spare float64 // second normal of the last pair
	kept  bool
}

func newSource(seed uint64) *source {
	return &source{bits: rand.NewPCG(seed, 0x6e756c6c)}
}

// uniform returns a number in [0, 1) with 53 bits.
func (s *source) uniform() float64 { return float64(s.bits.Uint64()>>11) / (1 << 53) }

// normal uses the polar method (Marsaglia and Bray 1964, SIAM Rev 6:260; from memory).
func (s *source) normal() float64 {
	if s.kept {
		s.kept = false
		return s.spare
	}
	for {
		u, v := 2*s.uniform()-1, 2*s.uniform()-1
		r := u*u + v*v
		if r >= 1 || r == 0 {
			continue
		}
		f := math.Sqrt(-2 * math.Log(r) / r)
		s.spare, s.kept = v*f, true
		return u * f
	}
}

// chiSquared returns a χ² number; df may be 0. From 2 degrees of freedom on it
// is twice a gamma number by rejection (Marsaglia and Tsang 2000, ACM Trans
// Math Softw 26:363; from memory), which is exact.
func (s *source) chiSquared(df int) float64 {
	switch df {
	case 0:
		return 0
	case 1:
		z := s.normal()
		return z * z
	}
	d := float64(df)/2 - 1.0/3
	c := 1 / math.Sqrt(9*d)
	for {
		z := s.normal()
		v := 1 + c*z
		if v <= 0 {
			continue
		}
		v *= v * v
		u := 1 - s.uniform() // in (0, 1]
		if u < 1-0.0331*z*z*z*z || math.Log(u) < z*z/2+d*(1-v+math.Log(v)) {
			return 2 * d * v
		}
	}
}
