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
	Seed        uint64        `json:"seed"`
	StudyDigest string        `json:"study_sha256"` // of the study file at the amendment
	Replaced    []PlannedTest `json:"replaced"`     // tests that were planned before and are not any more
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
// block where it goes on, else in make-up blocks with the reference, so that
// they can be compared. Foods that the study file has gained get their repeats.
// A seed of 0 stands for one derived from the first lock, the digest of the study
// file and the number of the amendment. The error is a problem.List.
func (f *Folder) Replan(from, made Date, who, why string, seed uint64) (*Schedule, error) {
	if err := f.mayReplan(from, why); err != nil {
		return nil, err
	}
	old := f.Schedule
	next := *old
	next.Program = "mealtrial " + Version
	if seed == 0 {
		seed = SeedFromDigest(Digest([]byte(fmt.Sprintf("%s %s amendment %d", old.StudyDigest, f.Study.Digest, len(old.Amendments)+1))))
	}
	amendment := Amendment{Made: made, From: from, Who: who, Why: why, Seed: seed, StudyDigest: f.Study.Digest}
	next.Tests = nil
	for _, t := range old.Tests {
		if t.Date < from && f.logged(t.Date) {
			next.Tests = append(next.Tests, t)
		} else {
			amendment.Replaced = append(amendment.Replaced, t)
		}
	}
	drawn, err := f.drawRest(f.remaining(from), next.Tests, from, seed)
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
	if f.Schedule.Masked || f.Schedule.Unmasked != "" {
		return problem.List{{File: ScheduleFile, Found: "a masked schedule", Expected: "one that was not masked", Mend: "finish it as it is; a masked study is not laid out again, as that would need new codes"}}
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

// A remainder is a block with what is still to be tested in it.
type remainder struct {
	block    int
	contents []int // food indexes
}

// remaining returns what is still to be tested, by block.
func (f *Folder) remaining(from Date) []remainder {
	wanted := map[int][]int{} // by block: foods that were planned
	goesOn := map[int]bool{}
	last := 0
	for _, t := range f.Schedule.Tests {
		if t.RunIn {
			continue
		}
		wanted[t.Block] = append(wanted[t.Block], f.Study.Food(t.Food))
		goesOn[t.Block] = goesOn[t.Block] || t.Date >= from
		last = max(last, t.Block)
	}
	responses, _ := f.Responses()
	for _, r := range responses {
		if i := slices.Index(wanted[r.Block], r.food); r.Counts() && i >= 0 {
			wanted[r.Block] = slices.Delete(wanted[r.Block], i, i+1)
		}
	}
	var rest []remainder
	var lost []int
	for block := 1; block <= last; block++ {
		switch {
		case len(wanted[block]) == 0:
		case goesOn[block]:
			rest = append(rest, remainder{block, wanted[block]})
		default:
			lost = append(lost, wanted[block]...)
		}
	}
	lost = append(lost, f.gained(rest)...)
	return append(rest, f.makeUp(lost, last)...)
}

// gained adds foods that the schedule does not know to the blocks that go on,
// and returns those that do not fit there.
func (f *Folder) gained(rest []remainder) (over []int) {
	for i, food := range f.Study.Foods {
		if slices.ContainsFunc(f.Schedule.Tests, func(t PlannedTest) bool { return t.Food == food.ID }) {
			continue
		}
		repeats := f.Study.Plan.Repeats
		if food.Repeats > 0 {
			repeats = food.Repeats
		}
		for n := range repeats {
			if n < len(rest) {
				rest[n].contents = append(rest[n].contents, i)
			} else {
				over = append(over, i)
			}
		}
	}
	return over
}

// makeUp puts foods into new blocks, each food once a block and the reference in
// every one.
func (f *Folder) makeUp(foods []int, last int) (blocks []remainder) {
	ref := f.Study.Reference()
	for _, food := range foods {
		at := slices.IndexFunc(blocks, func(b remainder) bool { return !slices.Contains(b.contents, food) })
		if at < 0 {
			at = len(blocks)
			blocks = append(blocks, remainder{block: last + 1 + at})
		}
		blocks[at].contents = append(blocks[at].contents, food)
	}
	for i := range blocks {
		if ref >= 0 && !slices.Contains(blocks[i].contents, ref) {
			blocks[i].contents = append(blocks[i].contents, ref)
		}
	}
	return blocks
}

// drawRest draws the remaining blocks on the days from a date on, behind the
// washout of the last test that was kept.
func (f *Folder) drawRest(rest []remainder, kept []PlannedTest, from Date, seed uint64) ([]PlannedTest, error) {
	s := f.Study
	earliest := int(from)
	if n := len(kept); n > 0 {
		gap := max(s.Plan.Washout, s.Plan.After[kept[n-1].Food])
		earliest = max(earliest, int(kept[n-1].Date)+1+gap)
	}
	draw := func(until Date) ([]design.Slot, error) {
		places, err := s.blockPlaces(s.freeDays(until))
		if err != nil {
			return nil, err
		}
		for i := range places {
			places[i].days = slices.DeleteFunc(places[i].days, func(d int) bool { return d < earliest })
		}
		p := design.Problem{Treatments: len(s.Foods), Washout: s.Plan.Washout, Blocks: placeBlocks(rest, places, s.Plan.Washout)}
		s.restrict(&p)
		p.Wanted = slices.DeleteFunc(p.Wanted, func(d int) bool { return d < earliest })
		return design.Draw(p, seed)
	}
	slots, err := draw(s.Plan.Until)
	var none design.DoesNotFit
	if errors.As(err, &none) {
		return nil, s.explainRest(none, from, func(until Date) bool { _, err := draw(until); return err == nil })
	}
	if err != nil {
		return nil, err
	}
	var tests []PlannedTest
	for _, slot := range slots {
		tests = append(tests, s.planned(Date(slot.Day), rest[slot.Block].block, s.Foods[slot.Treatment].ID))
	}
	return tests, nil
}

// placeBlocks gives each block to the first place that still has room for it;
// what fits nowhere goes to the last.
func placeBlocks(rest []remainder, places []place, washout int) (blocks []design.Block) {
	at, used := 0, 0
	for _, r := range rest {
		for at < len(places)-1 && design.Room(places[at].days, washout, 0) < used+len(r.contents) {
			at, used = at+1, 0
		}
		used += len(r.contents)
		blocks = append(blocks, design.Block{Contents: r.contents, Days: places[at].days})
	}
	return blocks
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

// SaveReplanned writes a schedule that Replan made.
func (f *Folder) SaveReplanned(s *Schedule) error { return WriteWhole(f.Dir, ScheduleFile, s.Format()) }
