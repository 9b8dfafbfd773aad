package protocol

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"

	"mealtrial/protocol/yamldoc"
	"mealtrial/stats/null"
)

// Looks are the declared moments at which the study may be analysed and stopped,
// counted in finished blocks.
type Looks struct {
	After []int // blocks; empty with Every 0: one look at the end
	Every int   // a look after every block from this one on; 0: as After says
	Shape null.Shape
}

const looksExpected = "\"at the end\", \"every block from 3\" or numbers of finished blocks such as [3, 5, 6]"

var everyBlock = regexp.MustCompile(`^every block from (\d+)$`)

// readLooks reads the looks: words or a list, or a map with that and its shape.
func readLooks(n yamldoc.Node) (looks Looks) {
	at := n
	if n.IsMap() {
		m := n.Map("after", "shape")
		at = m["after"]
		looks.Shape = shapeOf(m["shape"].OneOf(shapeNames...))
	}
	if !at.Present() {
		return looks
	}
	if at.IsList() {
		for _, item := range at.List() {
			looks.After = append(looks.After, item.Whole(1, mostRepeats, 1))
		}
		if !slices.IsSorted(looks.After) || len(slices.Compact(slices.Clone(looks.After))) < len(looks.After) {
			at.Reject("looks out of order", "numbers of finished blocks, each larger than the one before", "")
		}
		return looks
	}
	text := at.Text()
	if found := everyBlock.FindStringSubmatch(text); found != nil {
		looks.Every, _ = strconv.Atoi(found[1])
		if looks.Every < 1 || looks.Every > mostRepeats {
			at.Reject(at.Found(), looksExpected, "")
		}
		return looks
	}
	if text != "at the end" {
		at.Reject(at.Found(), looksExpected, "")
	}
	return looks
}

// of returns the looks of a study of so many blocks. Those behind its end fall
// away; the end itself is always one.
func (l Looks) of(blocks int) (after []int) {
	if l.Every > 0 {
		for b := l.Every; b < blocks; b++ {
			after = append(after, b)
		}
	}
	for _, b := range l.After {
		if b < blocks {
			after = append(after, b)
		}
	}
	return append(after, blocks)
}

// beyond returns the first declared look that a study of so many blocks does not
// reach; 0: none.
func (l Looks) beyond(blocks int) int {
	for _, b := range append(slices.Clone(l.After), l.Every) {
		if b > blocks {
			return b
		}
	}
	return 0
}

// shapeNames are the words for how the error rate is spread over the looks, by
// null.Shape.
var shapeNames = []string{"constant", "obrien_fleming", "spending_obrien_fleming", "spending_pocock"}

func shapeName(s null.Shape) string { return shapeNames[s] }

func shapeOf(name string) null.Shape {
	return null.Shape(max(0, slices.Index(shapeNames, name)))
}

// A LookState says at which of the declared looks an analysis is.
type LookState struct {
	After    []int  `json:"after_blocks"` // of the declared looks: finished blocks
	Shape    string `json:"shape"`        // constant or obrien_fleming nominal levels
	Finished int    `json:"finished_blocks"`
	Now      int    `json:"now"` // this is the n-th declared look; 0: not a declared one
	Anytime  bool   `json:"anytime"`
	Why      string `json:"why,omitempty"` // intervals are the anytime-valid ones
	Taken    int    `json:"looks_taken"`   // earlier ones in the ledger
	// Undeclared are those of the earlier looks that nobody had declared.
	Undeclared int `json:"undeclared_looks"`
	// Nominal are the levels of this look; nil where it is not a declared one.
	Nominal *Nominal `json:"nominal_levels"`
	// Price is how many times as wide intervals are as that of one question at one
	// look; nil where they are not made so.
	Price *Number `json:"price"`
}

// lookState finds out how far the study is. Without a schedule, or without blocks,
// the analysis is the one at the end.
func (f *Folder) lookState() LookState {
	state := LookState{Shape: shapeName(f.Study.Looks.Shape), After: []int{}}
	for _, l := range f.Ledger {
		state.Taken++
		if !l.Declared {
			state.Undeclared++
		}
	}
	blocks := f.blocksInTime()
	if len(blocks) == 0 {
		state.Now = 1
		return state
	}
	finished, begun := f.finishedBlocks(blocks)
	if n := len(f.Ledger); n > 0 && finished < begun {
		l := f.Ledger[n-1]
		responses, _ := f.Responses()
		if l.Declared && l.Nominal != nil && l.Blocks == begun && l.Data == dataDigest(responses) {
			finished = begun // the same data as then, though a test was planned again in the block
		}
	}
	state.Finished = finished
	state.After = f.Study.Looks.of(len(blocks))
	over := 0     // blocks at the look that was to be the last, if others were begun since
	last := false // that look is this one
	for _, l := range f.Ledger {
		if l.Declared && l.Blocks <= finished && l.Nominal != nil && !slices.Contains(state.After, l.Blocks) {
			state.After = append(state.After, l.Blocks) // declared then, and taken
			slices.Sort(state.After)
		}
		if l.Final && l.Blocks < begun {
			over = l.Blocks
		}
		last = last || l.Final && l.Blocks == begun && l.Nominal != nil
	}
	if last { // blocks that were planned since are beyond it
		state.After = slices.DeleteFunc(state.After, func(after int) bool { return after > finished })
	}
	if at := slices.Index(state.After, finished); at >= 0 && begun == finished {
		state.Now = at + 1
	}
	switch {
	case state.Now == 0 && over > 0:
		state.Why = fmt.Sprintf("the last declared look was taken after %s", Count(over, "block", "blocks"))
	case state.Now == 0 && begun > finished:
		state.Why = fmt.Sprintf("block %d is not finished, and no look was declared in mid-block; a test that was lost is finished with once it is in the log with exclude: and the reason", blocks[finished])
	case state.Now == 0:
		state.Why = fmt.Sprintf("no look was declared after %s", Count(finished, "block", "blocks"))
	case over > 0:
		state.Why = fmt.Sprintf("the last declared look was taken after %s", Count(over, "block", "blocks"))
	case state.Undeclared > 0:
		state.Why = fmt.Sprintf("the ledger has %s that nobody had declared", Count(state.Undeclared, "look", "looks"))
	}
	state.Anytime = state.Why != ""
	return state
}

// taken returns the levels that the look after so many blocks took, the last time
// that it was taken; nil: it was not, or they are not known.
func (f *Folder) taken(blocks int) (n *Nominal) {
	for _, l := range f.Ledger {
		if l.Declared && l.Blocks == blocks && l.Nominal != nil {
			n = l.Nominal
		}
	}
	return n
}

// takenNow returns the levels that this look took when it was taken before: it keeps
// them, whatever was laid out again or corrected since. Nil: it is a new one.
func (f *Folder) takenNow(state LookState) *Nominal {
	if state.Now < 1 || state.Now > len(state.After) {
		return nil
	}
	return f.taken(state.After[state.Now-1])
}

// blocksInTime returns the numbers of the planned blocks in order of time.
func (f *Folder) blocksInTime() (blocks []int) {
	if f.Schedule == nil {
		return nil
	}
	for _, t := range f.Schedule.Tests {
		if !t.RunIn && !slices.Contains(blocks, t.Block) {
			blocks = append(blocks, t.Block)
		}
	}
	return blocks
}

// done tells of each planned test whether it is in the log: on its day, or the food in
// the block on a day that was not planned.
func (f *Folder) done() []bool {
	type held struct {
		block int
		food  string
	}
	moved := map[held]int{} // tests on days that were not planned
	for _, t := range f.Log.Tests {
		if f.Schedule.On(t.Date) == nil {
			moved[held{t.Block, t.Food}]++
		}
	}
	out := make([]bool, len(f.Schedule.Tests))
	for i, t := range f.Schedule.Tests {
		at := held{t.Block, t.Food}
		if out[i] = f.logged(t.Date); !out[i] && !t.RunIn && moved[at] > 0 {
			moved[at]--
			out[i] = true
		}
	}
	return out
}

// finishedBlocks counts, in order of time, the blocks that are finished: every
// test of them is in the log, or a later block was begun; and those begun.
func (f *Folder) finishedBlocks(blocks []int) (finished, begun int) {
	done := f.done()
	whole := make([]bool, len(blocks))
	for i, b := range blocks {
		whole[i] = true
		for j, t := range f.Schedule.Tests {
			if t.RunIn || t.Block != b {
				continue
			}
			if done[j] {
				begun = i + 1
			} else {
				whole[i] = false
			}
		}
	}
	finished = begun
	if begun > 0 && !whole[begun-1] {
		finished--
	}
	return finished, begun
}
