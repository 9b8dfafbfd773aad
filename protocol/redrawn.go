package protocol

import (
	"slices"

	"mealtrial/design"
)

// A drawnRest is what one random step of a schedule gave.
type drawnRest struct {
	tests   []PlannedTest // run-in tests among them
	problem design.Problem
	slots   []design.Slot
	blocks  []int // number in the schedule of each of the problem's blocks, from 1
}

// drawn returns what DrawSchedule drew. It panics for a schedule from a file.
func (s *Schedule) drawn(study *Study) drawnRest {
	out := drawnRest{tests: s.Tests, problem: s.layout.Problem}
	for _, t := range s.Tests {
		if !t.RunIn {
			out.slots = append(out.slots, design.Slot{Day: int(t.Date), Block: t.Block - 1, Treatment: study.Food(t.Food)})
		}
	}
	for i := range out.problem.Blocks {
		out.blocks = append(out.blocks, i+1)
	}
	return out
}

func (d drawnRest) part() design.Part {
	p := design.Part{Problem: d.problem, Slots: d.slots, Fate: make([]design.Fate, len(d.slots))}
	for _, b := range d.blocks {
		p.Blocks = append(p.Blocks, b-1)
	}
	return p
}

// parts draws the schedule and its amendments again, one after the other, from the
// seeds, the study file and the log, and returns them as the randomisation test
// takes them. ok is false when that does not give the schedule: the study file, a
// calendar or the log before an amendment has changed since, or the schedule was
// changed by hand.
func (f *Folder) parts() (parts []design.Part, ok bool) {
	if f.Schedule == nil || f.Study.mayPlan() != nil {
		return nil, false
	}
	again, err := DrawSchedule(f.Study, f.Schedule.Seed)
	if err != nil {
		return nil, false
	}
	parts = append(parts, again.drawn(f.Study).part())
	g := *f
	g.Ledger, g.later = nil, nil
	g.Schedule = again
	for _, a := range f.Schedule.Amendments {
		g.before(a, f.Log)
		for i := range parts {
			g.settle(&parts[i], a.From)
		}
		next, rest, err := g.replan(Amendment{From: a.From, Seed: a.Seed})
		if err != nil || !slices.Equal(next.Amendments[len(next.Amendments)-1].Replaced, a.Replaced) {
			return nil, false
		}
		parts = append(parts, rest.part())
		g.Schedule = next
	}
	return parts, slices.Equal(g.Schedule.Tests, f.Schedule.Tests)
}

// before puts the log, and the tests that were asked for in addition, back to
// what they were at an amendment.
func (f *Folder) before(a Amendment, whole *Log) {
	log := *whole
	log.Tests = slices.DeleteFunc(slices.Clone(log.Tests), func(t Test) bool { return t.Date >= a.From })
	f.Log, f.extra = &log, nil
	for _, id := range a.More {
		f.extra = append(f.extra, f.Study.Food(id))
	}
}

// settle finds out what became of the slots of a part when the rest was laid out
// again from a date on.
func (f *Folder) settle(p *design.Part, from Date) {
	responses, _ := f.Responses()
	for i, slot := range p.Slots {
		if p.Fate[i] != design.Kept {
			continue
		}
		at := slices.IndexFunc(responses, func(r Response) bool { return int(r.Date) == slot.Day && r.food == slot.Treatment })
		switch {
		case Date(slot.Day) >= from || at < 0:
			p.Fate[i] = design.Replaced
		case !responses[at].Counts():
			p.Fate[i] = design.PlannedAgain
		}
	}
}
