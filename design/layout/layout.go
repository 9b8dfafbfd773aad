// Package layout chooses which treatments share a block, how many tests each
// treatment gets, and in which order treatments follow each other, so that the
// questions of a study are answered with the smallest variance. Treatments,
// blocks and contrasts are numbered from 0; names and days are for the caller.
//
// Sizes that cannot be meant (a negative number of tests, coefficients of the
// wrong length) are mistakes of the program and panic; a problem that has no
// solution is an error. Inputs are not changed. For the same arguments the
// answer is the same on every platform and in every release: random steps take
// a seed, and the searches use only arithmetic that is rounded alike everywhere.
package layout

// A Problem asks which treatments stand in which blocks.
type Problem struct {
	Replicates   []int      // tests of each treatment over all blocks, at least 1
	BlockSizes   []int      // tests in each block, at least 1
	MostPerBlock []int      // most tests of each treatment in one block, at least 1; nil means 1 for all
	InEveryBlock []int      // treatments that every block must hold, such as a reference
	Contrasts    []Contrast // the questions, at least one
}

// A Layout says which treatments stand in which block, and what that shows.
type Layout struct {
	// Blocks[j] lists the treatments of block j in ascending order, a treatment
	// as often as it is tested there. The order within a block carries no
	// meaning and is for the caller to randomise.
	Blocks [][]int

	Assessment

	// LowerBound is a variance that no layout of the problem can fall below;
	// see Find. It is in units of σ².
	LowerBound float64

	// Optimal says that no layout of the problem has a smaller average
	// variance. False means not proven.
	Optimal bool
}

func (p Problem) treatments() int { return len(p.Replicates) }

// most returns the most tests of each treatment in one block.
func (p Problem) most() []int {
	if p.MostPerBlock != nil {
		return p.MostPerBlock
	}
	most := make([]int, p.treatments())
	for i := range most {
		most[i] = 1
	}
	return most
}

// least returns the fewest tests of each treatment in one block, 0 or 1.
func (p Problem) least() []int {
	least := make([]int, p.treatments())
	for _, i := range p.InEveryBlock {
		least[i] = 1
	}
	return least
}

// check panics on a problem that cannot be meant.
func (p Problem) check() {
	v := p.treatments()
	if v < 2 || len(p.BlockSizes) < 1 {
		panic("layout: fewer than two treatments or no block")
	}
	if p.MostPerBlock != nil && len(p.MostPerBlock) != v {
		panic("layout: number of treatments differs between replicates and most per block")
	}
	for _, sizes := range [][]int{p.Replicates, p.BlockSizes, p.MostPerBlock} {
		for _, n := range sizes {
			if n < 1 {
				panic("layout: replicates, block size or most per block below 1")
			}
		}
	}
	for _, i := range p.InEveryBlock {
		if i < 0 || i >= v {
			panic("layout: no such treatment")
		}
	}
	checkContrasts(v, p.Contrasts)
}

func sum(numbers []int) int {
	total := 0
	for _, n := range numbers {
		total += n
	}
	return total
}
