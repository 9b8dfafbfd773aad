package protocol

import (
	"errors"
	"fmt"
	"slices"
	"sort"
	"strings"

	"mealtrial/design"
	"mealtrial/protocol/problem"
)

// An Amendment is a change of the schedule after it was drawn: who made it,
// when and why, and what it replaced.
type Amendment struct {
	Made        Date          `json:"made"`
	From        Date          `json:"from"` // first day that was drawn again
	Who         string        `json:"who"`
	Why         string        `json:"why"`
	Seed        uint64        `json:"seed,omitempty"` // in the key while masked
	StudyDigest string        `json:"study_sha256"`   // of the study file at the amendment
	Replaced    []PlannedTest `json:"replaced"`       // tests that were planned before and are not any more
}

// Lock returns the digest of the study file at the last draw.
func (s *Schedule) Lock() string {
	if n := len(s.Amendments); n > 0 {
		return s.Amendments[n-1].StudyDigest
	}
	return s.StudyDigest
}

// Replan draws the rest of a schedule again, from a date on. What was eaten
// stays. Tests that were lost or do not count are planned again: in their own
// block where it goes on, else in a block that is still to come, else in make-up
// blocks (see remainders). Foods and repeats that the study file has gained are
// added. A seed of 0 stands for one derived from the first lock, the digest of
// the study file and the number of the amendment; for a masked schedule the seed
// has to be one that nobody knows. The schedule has codes again where it is
// masked: Save writes it and the key. The error is a problem.List.
func (f *Folder) Replan(from, made Date, who, why string, seed uint64) (*Replanned, error) {
	if err := f.mayReplan(from, why); err != nil {
		return nil, err
	}
	var key *Key
	open := f
	if f.Schedule.Masked {
		var err error
		if key, err = f.readKey(); err != nil {
			return nil, err
		}
		open = f.revealed(key)
	}
	next, err := open.replan(Amendment{Made: made, From: from, Who: who, Why: why, Seed: seed, StudyDigest: f.Study.Digest})
	if err != nil {
		return nil, err
	}
	out := &Replanned{Shown: next, file: next}
	if key != nil {
		known := len(key.Foods)
		out.file, out.key = next.encoded(key), key
		if f.Masked() {
			out.Shown = out.file
			if len(key.Foods) > known {
				out.Telling = "the new codes are those of the foods that the study file has gained"
			}
		}
	}
	return out, nil
}

// Replanned is a schedule that was laid out again.
type Replanned struct {
	Shown   *Schedule // with codes while the tester is not to know the foods
	Telling string    // what lets a tester guess foods in spite of the masking

	file *Schedule // as it is written
	key  *Key      // of a masked schedule
}

// Save writes the key, where there is one, and then the schedule, so that there is
// never a code without its food.
func (r *Replanned) Save(dir string) error {
	if r.key != nil {
		if err := WriteWhole(dir, KeyFile, r.key.Format()); err != nil {
			return err
		}
	}
	return WriteWhole(dir, ScheduleFile, r.file.Format())
}

// replan makes the amendment of a schedule whose foods are known.
func (f *Folder) replan(amendment Amendment) (*Schedule, error) {
	old := f.Schedule
	next := *old
	next.Program = "mealtrial " + Version
	if amendment.Seed == 0 {
		amendment.Seed = SeedFromDigest(Digest([]byte(fmt.Sprintf("%s %s amendment %d", old.StudyDigest, f.Study.Digest, len(old.Amendments)+1))))
	}
	next.Tests = nil
	for _, t := range old.Tests {
		if t.Date < amendment.From && f.logged(t.Date) {
			next.Tests = append(next.Tests, t)
		} else {
			amendment.Replaced = append(amendment.Replaced, t)
		}
	}
	drawn, err := f.drawRest(next.Tests, amendment.From, amendment.Seed)
	if err != nil {
		return nil, err
	}
	next.Tests = append(next.Tests, drawn...)
	next.Amendments = append(slices.Clone(old.Amendments), amendment)
	next.Efficiency = 0
	return &next, nil
}

func (f *Folder) mayReplan(from Date, why string) error {
	if err := f.Study.mayPlan(); err != nil {
		return err
	}
	if f.Schedule == nil {
		return problem.List{{File: ScheduleFile, Found: "no such file", Expected: "a schedule to lay out again", Mend: "draw one with mealtrial plan"}}
	}
	if why == "" {
		return problem.List{{File: ScheduleFile, Found: "an amendment without a reason", Expected: "why the rest is laid out again", Mend: "add for example --why \"flu\""}}
	}
	for _, t := range f.Log.Tests {
		if t.Date >= from {
			return problem.List{{File: LogFile, Line: t.Line, Found: fmt.Sprintf("a test on %s", t.Key()), Expected: fmt.Sprintf("no test from %s on, as what was eaten is not moved", from),
				Mend: "lay out again from a later date: --from " + (t.Date + 1).String()}}
		}
	}
	return nil
}

// drawRest draws the remaining tests on the days from a date on. Of the ways to
// lay them out it takes the first that fits; the error is that of the first.
func (f *Folder) drawRest(kept []PlannedTest, from Date, seed uint64) ([]PlannedTest, error) {
	s := f.Study
	var first error
	for _, rest := range f.remainders(from) {
		if sumOf(sizesOf(rest)) == 0 {
			return nil, problem.List{{File: ScheduleFile, Found: "every planned test eaten and counted", Expected: "something that is still to be tested",
				Mend: "for more repeats, raise repeats of a food in " + StudyFile + ", or see mealtrial analyse"}}
		}
		slots, err := s.drawRemainder(rest, kept, from, s.Plan.Until, seed)
		if err == nil {
			var tests []PlannedTest
			for _, slot := range slots {
				tests = append(tests, s.planned(Date(slot.Day), rest[slot.Block].block, s.Foods[slot.Treatment].ID))
			}
			return tests, nil
		}
		var none design.DoesNotFit
		if errors.As(err, &none) {
			err = s.explainRest(none, from, func(until Date) bool { _, err := s.drawRemainder(rest, kept, from, until, seed); return err == nil })
		}
		if first == nil {
			first = err
		}
	}
	return nil, first
}

func (s *Study) drawRemainder(rest []remainder, kept []PlannedTest, from, until Date, seed uint64) ([]design.Slot, error) {
	places, err := s.blockPlaces(s.freeDays(until))
	if err != nil {
		return nil, err
	}
	for i := range places {
		places[i].days = slices.DeleteFunc(places[i].days, func(d int) bool { return d < int(from) })
	}
	p := design.Problem{Treatments: len(s.Foods), Washout: s.Plan.Washout, Blocks: s.placeBlocks(rest, places)}
	for _, t := range kept {
		p.Held = append(p.Held, design.Held{Day: int(t.Date), Treatment: s.Food(t.Food)})
	}
	s.restrict(&p)
	p.Wanted = slices.DeleteFunc(p.Wanted, func(d int) bool { return d < int(from) })
	return design.Draw(p, seed)
}

func (s *Study) explainRest(e design.DoesNotFit, from Date, fits func(until Date) bool) error {
	mend := "take up until: in " + StudyFile
	const longest = 366
	if fits(s.Plan.Until + longest) {
		more := 1 + sort.Search(longest, func(n int) bool { return fits(s.Plan.Until + Date(n+1)) })
		mend = "this makes it fit: until: " + (s.Plan.Until + Date(more)).String()
	}
	if e.Placed == 0 {
		return problem.List{{File: StudyFile, Line: s.Plan.line, Field: "plan", Found: fmt.Sprintf("no order of the %s among %d drawn that keeps to the restrictions; what binds most is: %s",
			Count(e.Needed, "remaining test", "remaining tests"), e.Tries, strings.ReplaceAll(string(e.Worst()), "treatment", "food")),
			Expected: "an order that does", Mend: "write consecutive: allowed in " + StudyFile + ", or lay out again from another date"}}
	}
	return problem.List{{File: StudyFile, Line: s.Plan.line, Field: "plan.until",
		Found:    fmt.Sprintf("%s still to be held, but room for %s from %s to %s", Count(e.Needed, "test", "tests"), Count(e.Placed, "test", "tests"), from, s.Plan.Until),
		Expected: fmt.Sprintf("room for %d", e.Needed), Mend: mend}}
}
