package protocol

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"mealtrial/design"
)

// A split is a way to share the tests out over blocks.
type split struct {
	sizes   []int // of the blocks
	at      []int // place of each block
	repeats []int // of each food
}

// same tells whether two splits have blocks of the same sizes at the same places.
func (x split) same(y split) bool { return slices.Equal(x.sizes, y.sizes) && slices.Equal(x.at, y.at) }

// splits returns the ways to try, the fewest places and blocks first: the tests
// over as few places as hold them, in blocks as equal as they can be, and then
// with more blocks, up to two more than the food with the most tests needs.
func (s *Study) splits(places []place) (out []split) {
	fewest := 0 // blocks for the food with the most tests
	for i, n := range s.wantedRepeats(math.MaxInt) {
		if i != s.Reference() {
			fewest = max(fewest, (n+s.foodPerBlock()-1)/s.foodPerBlock())
		}
	}
	for used := 1; used <= len(places); used++ {
		for extra := range 3 + fewest {
			if x, ok := s.split(places[:used], extra); ok && len(x.sizes) >= fewest && !slices.ContainsFunc(out, x.same) {
				out = append(out, x)
			}
		}
	}
	return out
}

// split makes one of the splits. The reference is in every block, so more blocks
// may need more tests: the number of blocks is raised until all fits.
func (s *Study) split(places []place, extra int) (x split, ok bool) {
	more := extra * s.blockSize()
	blocks := s.blocksOn(places, sumOf(s.wantedRepeats(len(places)))+more)
	for range 20 {
		again := s.blocksOn(places, sumOf(s.wantedRepeats(len(blocks)))+more)
		if len(again) == len(blocks) {
			break
		}
		blocks = again
	}
	x.repeats = s.wantedRepeats(len(blocks))
	x.sizes, x.at, ok = spread(sumOf(x.repeats), blocks)
	return x, ok
}

func sumOf(list []int) int {
	sum := 0
	for _, x := range list {
		sum += x
	}
	return sum
}

// A slotBlock is a block that is not yet filled.
type slotBlock struct{ place, room int }

// blocksOn returns the blocks that so many tests take on these places: of the
// wanted size, or large enough for every food, and as many as are needed.
func (s *Study) blocksOn(places []place, n int) []slotBlock {
	var blocks []slotBlock
	for i, p := range places {
		room := design.Room(p.days, s.Plan.Washout, s.Plan.PerWeek) - s.Plan.slack
		size := s.blockSize()
		for ; room > 1 && n > 0; room, n = room-size, n-size {
			blocks = append(blocks, slotBlock{i, min(room, size)})
		}
	}
	return blocks
}

// blockSize is the size that blocks have where there is room.
func (s *Study) blockSize() int {
	if s.Plan.BlockSize > 0 {
		return s.Plan.BlockSize
	}
	return s.mostInBlock()
}

// foodPerBlock is how often a food may stand in one block: once, or more often where
// blocks are larger than the foods fill.
func (s *Study) foodPerBlock() int {
	return max(1, (s.Plan.BlockSize+s.mostInBlock()-1)/s.mostInBlock())
}

// mostInBlock is the size of a block that holds all it may.
func (s *Study) mostInBlock() int {
	most := len(s.Foods)
	if s.Reference() >= 0 {
		most += s.Plan.ReferenceMax - 1
	}
	return most
}

// spread shares n tests out over blocks, as evenly as their room allows.
func spread(n int, blocks []slotBlock) (sizes, at []int, ok bool) {
	sizes = make([]int, len(blocks))
	for ; n > 0; n-- {
		least := -1
		for j, b := range blocks {
			if sizes[j] < b.room && (least < 0 || sizes[j] < sizes[least]) {
				least = j
			}
		}
		if least < 0 {
			return nil, nil, false
		}
		sizes[least]++
	}
	for j := len(sizes) - 1; j >= 0; j-- {
		if sizes[j] == 0 {
			sizes, blocks = slices.Delete(sizes, j, j+1), slices.Delete(slices.Clone(blocks), j, j+1)
		}
	}
	for _, b := range blocks {
		at = append(at, b.place)
	}
	return sizes, at, true
}

// classes puts foods into one class when changing their places changes nothing:
// the same repeats and the same part in the questions.
func (s *Study) classes(repeats []int) []int {
	class := make([]int, len(s.Foods))
	for i := range class {
		class[i] = i
		for j := range i {
			if class[j] == j && repeats[i] == repeats[j] && s.alike(i, j) {
				class[i] = j
				break
			}
		}
	}
	return class
}

// alike tells whether the questions stay the same, but for their sign, when two
// foods change places.
func (s *Study) alike(i, j int) bool {
	if s.Foods[i].Role != s.Foods[j].Role {
		return false
	}
	asked, swapped := map[string]int{}, map[string]int{}
	for _, q := range s.comparisons() {
		n := 1
		if q.Primary {
			n = primaryWeight
		}
		w := s.Weights(q)
		asked[unsigned(w)] += n
		w[i], w[j] = w[j], w[i]
		swapped[unsigned(w)] += n
	}
	return maps.Equal(asked, swapped)
}

// unsigned writes weights so that those with opposite signs are the same.
func unsigned(w []float64) string {
	for _, x := range w {
		if x == 0 {
			continue
		}
		if x < 0 {
			w = slices.Clone(w)
			for i := range w {
				w[i] = -w[i]
			}
		}
		break
	}
	return fmt.Sprint(w)
}
