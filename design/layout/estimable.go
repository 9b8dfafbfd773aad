package layout

import "fmt"

// A NotEstimable error says which contrasts the blocks cannot answer.
type NotEstimable struct {
	Contrasts []int // the contrasts that the best layout found cannot estimate
	Total     int   // number of contrasts asked

	// Needed is the number of independent contrasts asked, and Free the number
	// that the blocks leave room for: Σ (kⱼ−1), tests minus blocks.
	Needed, Free int

	// Proven says that no layout can estimate all contrasts, as Needed exceeds
	// Free. Otherwise the search found none.
	Proven bool
}

func newNotEstimable(p Problem, lost []int, rank int) NotEstimable {
	free := sum(p.BlockSizes) - len(p.BlockSizes)
	return NotEstimable{Contrasts: lost, Total: len(p.Contrasts), Needed: rank, Free: free, Proven: rank > free}
}

func (e NotEstimable) Error() string {
	noun := "contrasts"
	if len(e.Contrasts) == 1 {
		noun = "contrast"
	}
	head := fmt.Sprintf("%s %s of %d cannot be estimated", noun, numbers(e.Contrasts), e.Total)
	if e.Proven {
		return fmt.Sprintf("%s: %d independent contrasts are asked and the blocks leave room for %d", head, e.Needed, e.Free)
	}
	return head + " in any layout found: no chain of shared blocks joins their treatments"
}
