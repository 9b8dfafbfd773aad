package layout

import (
	"errors"
	"fmt"
	"strings"

	"mealtrial/design/chance"
)

// ErrNoLayout is wrapped by errors of problems whose replicates and blocks no
// layout can have at once.
var ErrNoLayout = errors.New("no layout exists")

// place fills the blocks in an order drawn from random: every treatment its
// replicates, every block its size, every cell within its bounds. It finds such
// a table whenever there is one, by augmenting paths (Ford and Fulkerson 1956,
// Canad. J. Math. 8:399), and otherwise says which treatments are too many.
func place(p Problem, random *chance.Source) (*incidence, error) {
	v, b := p.treatments(), len(p.BlockSizes)
	if tests, room := sum(p.Replicates), sum(p.BlockSizes); tests != room {
		return nil, fmt.Errorf("%w: the treatments have %d tests and the blocks hold %d", ErrNoLayout, tests, room)
	}
	f := filling{v: v, b: b, counts: make([]int, v*b), least: p.least(), most: p.most()}
	f.rowLeft = append(f.rowLeft, p.Replicates...)
	f.columnLeft = append(f.columnLeft, p.BlockSizes...)
	if err := f.placeRequired(p); err != nil {
		return nil, err
	}
	treatments, blocks := random.Permutation(v), random.Permutation(b)
	for _, i := range treatments {
		for f.rowLeft[i] > 0 {
			if tooMany := f.augment(i, blocks); tooMany != nil {
				return nil, f.noRoom(p, tooMany)
			}
		}
	}
	return newIncidence(v, b, f.counts), nil
}

// mix carries out random exchanges of two tests that the bounds allow, as many
// as ten times the number of tests are tried. Augmenting paths alone would give
// starts that differ in little more than names.
func mix(n *incidence, least, most []int, random *chance.Source) {
	type test struct{ treatment, block int }
	var tests []test
	for j, block := range n.blocks() {
		for _, i := range block {
			tests = append(tests, test{i, j})
		}
	}
	for range 10 * len(tests) {
		x, y := &tests[random.Below(len(tests))], &tests[random.Below(len(tests))]
		e := exchange{i: x.treatment, a: x.block, j: y.treatment, b: y.block}
		if e.a != e.b && n.allows(e, least, most) {
			n.swap(e)
			x.treatment, y.treatment = y.treatment, x.treatment
		}
	}
}

// A filling is a table on the way to its margins.
type filling struct {
	v, b                int
	counts              []int
	least, most         []int // bounds of a cell, for each treatment
	rowLeft, columnLeft []int // tests not yet placed, places not yet filled
}

// placeRequired puts one test of each required treatment into every block.
func (f *filling) placeRequired(p Problem) error {
	for i := range f.v {
		if f.least[i] == 0 {
			continue
		}
		if f.rowLeft[i] -= f.b; f.rowLeft[i] < 0 {
			return fmt.Errorf("%w: treatment %d must be in all %d blocks and has %d tests",
				ErrNoLayout, i, f.b, p.Replicates[i])
		}
		for j := range f.b {
			f.counts[i*f.b+j] = 1
			f.columnLeft[j]--
		}
	}
	for j, left := range f.columnLeft {
		if left < 0 {
			return fmt.Errorf("%w: block %d holds %d tests and %d treatments must be in every block",
				ErrNoLayout, j, p.BlockSizes[j], sum(f.least))
		}
	}
	return nil
}

// augment places one more test of a treatment, pushing others to further blocks
// where needed. When it cannot, it returns the treatments that compete for the
// same full blocks: together they have more tests than there is room.
func (f *filling) augment(treatment int, blocks []int) (tooMany []int) {
	from := make([]int, f.b) // the treatment that would enter the block
	for j := range from {
		from[j] = -1
	}
	via := make([]int, f.v) // the block that the treatment would leave
	for i := range via {
		via[i] = -1
	}
	reached := []int{treatment}
	for next := 0; next < len(reached); next++ {
		i := reached[next]
		for _, j := range blocks {
			if from[j] >= 0 || f.counts[i*f.b+j] >= f.most[i] {
				continue
			}
			from[j] = i
			if f.columnLeft[j] > 0 {
				f.shift(treatment, j, from, via)
				return nil
			}
			for h := range f.v {
				if h != treatment && via[h] < 0 && f.counts[h*f.b+j] > f.least[h] {
					via[h] = j
					reached = append(reached, h)
				}
			}
		}
	}
	return reached
}

// shift carries out the augmenting path that ends in a block with a free place.
func (f *filling) shift(treatment, block int, from, via []int) {
	f.columnLeft[block]--
	f.rowLeft[treatment]--
	for {
		i := from[block]
		f.counts[i*f.b+block]++
		if i == treatment {
			return
		}
		block = via[i]
		f.counts[i*f.b+block]--
	}
}

func (f *filling) noRoom(p Problem, treatments []int) error {
	tests, room := 0, 0
	names := make([]bool, f.v)
	for _, i := range treatments {
		names[i] = true
		tests += p.Replicates[i]
		room += p.Replicates[i] - f.rowLeft[i]
	}
	var list []int
	for i, in := range names {
		if in {
			list = append(list, i)
		}
	}
	noun := "treatments"
	if len(list) == 1 {
		noun = "treatment"
	}
	return fmt.Errorf("%w: %s %s: %d tests, and the blocks hold at most %d of them",
		ErrNoLayout, noun, numbers(list), tests, room)
}

// numbers writes 0, 3, 4.
func numbers(list []int) string {
	texts := make([]string, len(list))
	for i, n := range list {
		texts[i] = fmt.Sprint(n)
	}
	return strings.Join(texts, ", ")
}
