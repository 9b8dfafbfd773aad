package protocol

import (
	"errors"
	"fmt"
	"slices"
	"sort"

	"mealtrial/design"
	"mealtrial/protocol/problem"
	"mealtrial/protocol/store"
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
	More        []string      `json:"more,omitempty"` // foods that were asked for once more each
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
		if err := key.clash(f.Study); err != nil {
			return nil, err
		}
	}
	amendment := Amendment{Made: made, From: from, Who: who, Why: why, Seed: seed, StudyDigest: f.Study.Digest}
	for _, i := range f.extra {
		amendment.More = append(amendment.More, f.Study.Foods[i].ID)
	}
	next, _, err := open.replan(amendment)
	if err != nil {
		return nil, err
	}
	out := &Replanned{Shown: next, folder: f, file: next}
	if key != nil {
		known := len(key.Foods)
		out.file, out.key = next.encoded(key, f.Study), key
		if f.Masked() {
			out.Shown = out.file
			if len(key.Foods) > known {
				out.Telling = "the new codes are those of the foods that the study file has gained"
			}
		}
	}
	// With codes while the tester is not to know the foods, in the log as well.
	if err := f.HeldBack(out.Shown.from(from)); err != nil {
		return nil, err
	}
	return out, nil
}

// Replanned is a schedule that was laid out again.
type Replanned struct {
	Shown   *Schedule // with codes while the tester is not to know the foods
	Telling string    // what lets a tester guess foods in spite of the masking

	folder *Folder
	file   *Schedule // as it is written
	key    *Key      // of a masked schedule
}

// Save writes the schedule, and with it the key of a masked one: both or neither,
// so that there is never a code without its food.
func (r *Replanned) Save() error {
	f := r.folder
	return f.save("replan", []string{StudyFile, ScheduleFile, LogFile, KeyFile}, func() error {
		files := []store.File{{Name: ScheduleFile, Data: r.file.Format()}}
		if r.key != nil {
			files = append(files, store.File{Name: KeyFile, Data: r.key.Format()})
		}
		return f.write(files...)
	})
}

// replan makes the amendment of a schedule whose foods are known, and returns what
// was drawn for it as well.
func (f *Folder) replan(amendment Amendment) (*Schedule, drawnRest, error) {
	old := f.Schedule
	next := *old
	next.Program = "mealtrial " + Version
	if amendment.Seed == 0 {
		amendment.Seed = SeedFromDigest(Digest([]byte(fmt.Sprintf("%s %s amendment %d", old.StudyDigest, f.Study.Digest, len(old.Amendments)+1))))
	}
	next.Tests = nil
	for _, t := range old.Tests {
		if t.Date < amendment.From && f.eaten(t) {
			next.Tests = append(next.Tests, t)
			continue
		}
		amendment.Replaced = append(amendment.Replaced, t)
		if food := f.foodEatenOn(t.Date); t.Date < amendment.From && food != "" { // another one than planned
			t.Food = food
			next.Tests = append(next.Tests, t)
		}
	}
	drawn, err := f.drawRest(amendment.From, amendment.Seed)
	if err != nil {
		return nil, drawn, err
	}
	if len(drawn.tests) == 0 {
		return nil, drawn, problem.List{{File: ScheduleFile, Found: "every planned test eaten and counted", Expected: "something that is still to be tested",
			Mend: "for more repeats, raise repeats of a food in " + StudyFile + ", or see mealtrial analyse"}}
	}
	next.Tests = append(next.Tests, drawn.tests...)
	next.Amendments = append(slices.Clone(old.Amendments), amendment)
	next.Efficiency = 0
	return &next, drawn, nil
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

// eaten tells whether the log has this planned test, on its day and with its food.
func (f *Folder) eaten(t PlannedTest) bool {
	return slices.ContainsFunc(f.Log.Tests, func(l Test) bool { return l.Date == t.Date && l.Food == t.Food })
}

// foodEatenOn returns the food of the test that the log has on a day; "": none.
func (f *Folder) foodEatenOn(d Date) string {
	for _, t := range f.Log.Tests {
		if t.Date == d {
			return t.Food
		}
	}
	return ""
}

// held are the tests that were eaten, planned or not: washouts count from them.
func (f *Folder) held() (held []design.Held) {
	for _, t := range f.Log.Tests {
		h := design.Held{Day: int(t.Date), Treatment: f.Study.Food(t.Food)}
		if n := len(held); n > 0 && held[n-1].Day == h.Day {
			held[n-1] = h
			continue
		}
		held = append(held, h)
	}
	return held
}

// drawRest draws the remaining tests on the days from a date on. When no test of
// a block was eaten the study is laid out as plan would; else, of the ways to lay
// out the rest, it takes the first that fits. The error is that of the first.
func (f *Folder) drawRest(from Date, seed uint64) (drawnRest, error) {
	s := f.Study
	if _, last := f.outstanding(); last == 0 {
		return f.drawWhole(from, seed)
	}
	var first error
	for _, rest := range f.remainders(from) {
		if sumOf(sizesOf(rest)) == 0 {
			return drawnRest{}, nil
		}
		p, slots, err := f.drawRemainder(rest, from, s.Plan.Until, seed, true)
		if err == nil {
			out := drawnRest{problem: p, slots: slots}
			for _, slot := range slots {
				out.tests = append(out.tests, s.planned(Date(slot.Day), rest[slot.Block].block, s.Foods[slot.Treatment].ID))
			}
			for _, r := range rest {
				out.blocks = append(out.blocks, r.block)
			}
			return out, nil
		}
		var none design.DoesNotFit
		if errors.As(err, &none) {
			err = s.explainRest(none, from, func(until Date) bool { _, _, err := f.drawRemainder(rest, from, until, seed, false); return err == nil })
		}
		if first == nil {
			first = err
		}
	}
	return drawnRest{}, first
}

// drawWhole draws the whole study from a date on, with the run-in tests that are
// still wanting.
func (f *Folder) drawWhole(from Date, seed uint64) (drawnRest, error) {
	later, plan := *f.Study, *f.Study.Plan
	plan.held = f.held()
	gap := 0
	if n := len(plan.held); n > 0 {
		gap = int(plan.Washout)
		from = max(from, Date(plan.held[n-1].Day+1+gap))
	}
	plan.Start = max(plan.Start, from)
	for _, t := range f.Schedule.Tests {
		if t.RunIn && f.eaten(t) {
			plan.RunIn--
		}
	}
	plan.RunIn = max(0, plan.RunIn)
	plan.Filming = slices.DeleteFunc(slices.Clone(plan.Filming), func(d Date) bool { return d < from })
	later.Plan = &plan
	schedule, err := DrawSchedule(&later, seed)
	if err != nil {
		return drawnRest{}, err
	}
	return schedule.drawn(f.Study), nil
}

// drawRemainder draws one way to lay out the rest; balanced as the plan asks, or
// without balance where it is only tried out.
func (f *Folder) drawRemainder(rest []remainder, from, until Date, seed uint64, balanced bool) (p design.Problem, slots []design.Slot, err error) {
	s := f.Study
	places, err := s.blockPlaces(s.freeDays(until))
	if err != nil {
		return p, nil, err
	}
	for i := range places {
		places[i].days = slices.DeleteFunc(places[i].days, func(d int) bool { return d < int(from) })
	}
	p = design.Problem{Treatments: len(s.Foods), Washout: s.Plan.Washout, Blocks: s.placeBlocks(rest, places), Held: f.held()}
	s.restrict(&p)
	p.NoRepeat = p.NoRepeat && !alternating(rest)
	p.Wanted = slices.DeleteFunc(p.Wanted, func(d int) bool { return d < int(from) })
	if balanced && (s.Plan.CarryOver || s.Plan.Trend) {
		if p, err = design.Balance(p, s.Plan.CarryOver, s.Plan.Trend); err != nil {
			return p, nil, err
		}
	}
	slots, err = design.Draw(p, seed)
	return p, slots, err
}

// explainRest says what keeps the rest from fitting, and the until that was tried
// and mends it.
func (s *Study) explainRest(e design.DoesNotFit, from Date, fits func(until Date) bool) error {
	mend := "no later until mends it; lift that restriction, ask for fewer repeats, or set another sensor"
	const longest = 366
	if fits(s.Plan.Until + longest) {
		more := 1 + sort.Search(longest, func(n int) bool { return fits(s.Plan.Until + Date(n+1)) })
		mend = "this makes it fit: until: " + (s.Plan.Until + Date(more)).String()
	}
	days := slices.DeleteFunc(s.freeDays(s.Plan.Until), func(d int) bool { return d < int(from) })
	return problem.List{{File: StudyFile, Line: s.Plan.line, Field: "plan",
		Found: fmt.Sprintf("%s still to be held, and %s free from %s to %s; what binds is: %s", Count(e.Needed, "test", "tests"),
			Count(len(days), "day", "days"), from, s.Plan.Until, s.bindingWords(tooFew{}, e)),
		Expected: "an order and days for all of them", Mend: mend}}
}
