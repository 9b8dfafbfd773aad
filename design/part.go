package design

import "errors"

// ErrNotDrawn says that a schedule is not one that its problem draws, so that
// nothing follows from how it was drawn.
var ErrNotDrawn = errors.New("the schedule is not one that its layout problem draws")

// A Part is a schedule, or that part of an amended schedule that was drawn at
// once. Parts stand in the order of their draws.
type Part struct {
	Problem Problem // as it was drawn
	Slots   []Slot  // as Draw returned them
	Fate    []Fate  // by slot; nil: each was held, and none planned again
	// Blocks are the numbers, in the whole schedule, of the problem's blocks, where a
	// block began in an earlier part; nil: they are the same.
	Blocks []int
}

// A Fate says what became of a slot when the rest of its schedule was drawn again.
type Fate uint8

// The fates.
const (
	Kept Fate = iota // held, or lost without another in its place
	// Replaced: not held, as a later part was drawn in its place.
	Replaced
	// PlannedAgain: held, but lost, so that its treatment was put into a later part.
	PlannedAgain
)

// A Place is where a response was or was not measured: what of a schedule stays
// when treatments change places.
type Place struct {
	Treatment int // that was drawn for it
	Block     int // in the whole schedule
	Kept      bool
}

// Places returns the places of all parts, one after the other.
func Places(parts []Part) []Place {
	var places []Place
	for _, p := range parts {
		for i, s := range p.Slots {
			block := s.Block
			if p.Blocks != nil {
				block = p.Blocks[block]
			}
			places = append(places, Place{s.Treatment, block, p.fate(i) == Kept})
		}
	}
	return places
}

func (p *Part) fate(i int) Fate {
	if p.Fate == nil {
		return Kept
	}
	return p.Fate[i]
}

// check panics for parts that cannot be meant.
func (p *Part) check() {
	p.Problem.check()
	ok := len(p.Slots) == p.Problem.Tests() &&
		(p.Fate == nil || len(p.Fate) == len(p.Slots)) && (p.Blocks == nil || len(p.Blocks) == len(p.Problem.Blocks))
	if ok {
		for i, own := range newDrawing(&p.Problem).slots {
			s := p.Slots[i]
			ok = ok && s.Block == own.Block && s.Treatment >= 0 && s.Treatment < p.Problem.Treatments
		}
	}
	if !ok {
		panic("design: slots do not belong to the problem")
	}
}
