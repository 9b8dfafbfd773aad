package design

import (
	"fmt"
	"math/big"
	"slices"
)

// Unrestricted returns the number of orders that a problem could draw if it had no
// restrictions, see CountOrders.
func Unrestricted(p Problem) *big.Int {
	p.check()
	d := newDrawing(&p)
	number := big.NewInt(1)
	for _, b := range p.Blocks {
		number.Mul(number, arrangements(b.Contents, sequence(len(b.Contents))))
	}
	name := make([]int, len(p.Blocks)) // blocks that hold the same have one name
	for j := range name {
		name[j] = slices.IndexFunc(p.Blocks, func(b Block) bool { return sameContents(b, p.Blocks[j]) })
	}
	for _, blocks := range d.bySize {
		number.Mul(number, arrangements(name, blocks))
	}
	for _, class := range d.class {
		number.Mul(number, new(big.Int).MulRange(1, int64(len(class))))
	}
	return number.Quo(number, newSymmetry(&p).automorphisms())
}

// symmetry finds the relabellings within classes after which blocks of each size
// hold the same treatments as before.
type symmetry struct {
	p     *Problem
	class []int
	// together[t][u] names in how many blocks of which contents t and u stand
	// together: an automorphism keeps it.
	together [][]string
	key      string
	image    []int // of the treatments that have one
	used     []bool
}

func newSymmetry(p *Problem) *symmetry {
	s := &symmetry{p: p, class: p.Class, image: make([]int, p.Treatments), used: make([]bool, p.Treatments)}
	if s.class == nil {
		s.class = sequence(p.Treatments)
	}
	for t := range p.Treatments {
		s.together = append(s.together, make([]string, p.Treatments))
		for u := range p.Treatments {
			s.together[t][u] = s.link(t, u)
		}
	}
	s.key = s.contents(sequence(p.Treatments))
	return s
}

// link names the sizes of the blocks in which t and u stand, and how often.
func (s *symmetry) link(t, u int) string {
	var names []string
	for _, b := range s.p.Blocks {
		nt, nu := count(b.Contents, t), count(b.Contents, u)
		if nt > 0 && nu > 0 {
			names = append(names, fmt.Sprint(len(b.Contents), nt, nu))
		}
	}
	slices.Sort(names)
	return fmt.Sprint(names)
}

func count(values []int, x int) (n int) {
	for _, v := range values {
		if v == x {
			n++
		}
	}
	return n
}

// contents names what the blocks hold after a relabelling, whatever their order.
func (s *symmetry) contents(image []int) string {
	names := make([]string, len(s.p.Blocks))
	for j, b := range s.p.Blocks {
		held := make([]int, len(b.Contents))
		for i, t := range b.Contents {
			held[i] = image[t]
		}
		slices.Sort(held)
		names[j] = fmt.Sprint(held)
	}
	slices.Sort(names)
	return fmt.Sprint(names)
}

// automorphisms returns their number: the product, over treatments, of how many
// images a treatment can have when those before it stay, which is the order of
// the group by the orbits of its chain of stabilisers (Sims 1970; see Seress 2003,
// Permutation Group Algorithms, section 4.1; from memory).
func (s *symmetry) automorphisms() *big.Int {
	number := big.NewInt(1)
	for t := range s.p.Treatments {
		orbit := int64(0)
		for u := t; u < s.p.Treatments; u++ {
			if s.take(t, u) {
				if s.extend(t + 1) {
					orbit++
				}
				s.used[u] = false
			}
		}
		number.Mul(number, big.NewInt(orbit))
		s.take(t, t)
	}
	return number
}

// take gives treatment t the image u, if no pair of treatments speaks against it.
func (s *symmetry) take(t, u int) bool {
	if s.used[u] || s.class[t] != s.class[u] || s.together[t][t] != s.together[u][u] {
		return false
	}
	for v := range t {
		if s.together[v][t] != s.together[s.image[v]][u] {
			return false
		}
	}
	s.image[t], s.used[u] = u, true
	return true
}

// extend tells whether the treatments from t on can have images.
func (s *symmetry) extend(t int) bool {
	if t == s.p.Treatments {
		return s.contents(s.image) == s.key
	}
	for u := range s.p.Treatments {
		if s.take(t, u) {
			found := s.extend(t + 1)
			s.used[u] = false
			if found {
				return true
			}
		}
	}
	return false
}
