package protocol

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"sort"
	"strconv"
	"strings"

	"mealtrial/design"
	"mealtrial/protocol/problem"
)

// SeedFromDigest derives the seed of a draw from the digest of the study file,
// so that nobody can draw again until the order pleases without changing what
// was declared.
func SeedFromDigest(digest string) uint64 {
	seed, err := strconv.ParseUint(digest[:13], 16, 64) // 13 digits are 52 bits
	if err != nil {
		panic("protocol: digest is not hexadecimal")
	}
	return max(seed, 1)
}

// DrawSchedule draws the schedule of a study. A seed of 0 stands for the one in
// the study file, or else the one from its digest. The error is a problem.List
// when there is no plan, a licensed person has to agree first, or the tests do
// not fit the dates.
func DrawSchedule(s *Study, seed uint64) (*Schedule, error) {
	if err := s.mayPlan(); err != nil {
		return nil, err
	}
	if seed == 0 {
		seed = s.Plan.Seed
	}
	if seed == 0 {
		seed = SeedFromDigest(s.Digest)
	}
	l, slots, err := s.draw(s.Plan.Until, seed)
	if err != nil {
		return nil, s.explainMisfit(err, seed)
	}
	schedule := &Schedule{Program: "mealtrial " + Version, Seed: seed, StudyDigest: s.Digest, Calendars: s.Plan.digests,
		Efficiency: Number(l.Efficiency), layout: l}
	for _, d := range l.RunIn {
		schedule.Tests = append(schedule.Tests, s.planned(d, 0, s.Foods[s.Reference()].ID))
	}
	for _, slot := range slots {
		schedule.Tests = append(schedule.Tests, s.planned(Date(slot.Day), slot.Block+1, s.Foods[slot.Treatment].ID))
	}
	return schedule, nil
}

func (s *Study) planned(d Date, block int, food string) PlannedTest {
	return PlannedTest{Date: d, Time: s.Plan.Time, At: s.Plan.Time.String(), Block: block, Food: food, RunIn: block == 0}
}

// mayPlan refuses studies without a plan, and fasting and test meals for people
// who should ask a clinician first.
func (s *Study) mayPlan() error {
	if s.Plan == nil {
		return problem.List{{File: StudyFile, Field: "plan", Found: "no plan", Expected: "when tests may be held",
			Mend: "add for example plan: {start: 2027-01-11, until: 2027-02-12, repeats: 3, washout: 1}"}}
	}
	if s.Plan.RunIn > 0 && s.Reference() < 0 {
		return problem.List{{File: StudyFile, Line: s.Plan.line, Field: "plan.run_in", Found: "a run-in without a reference food",
			Expected: "a food with role: reference", Mend: "name one, or take run_in out"}}
	}
	if concerns := s.Safety.Concerns(); len(concerns) > 0 && s.Safety.AdvisedBy == "" {
		return problem.List{{File: StudyFile, Line: s.Safety.line, Field: "safety", Found: "yes to " + strings.Join(concerns, ", "),
			Expected: "no plan of fasting mornings and test meals without a licensed clinician",
			Mend:     "talk to one first; when they agree, name them in safety: {advised_by: …}"}}
	}
	return nil
}

// mostSlack bounds how much smaller the room of a sensor is taken to be.
const mostSlack = 3

// draw lays the study out until a date and draws it. Washouts of single foods
// make a sensor hold fewer tests than its days say; where a draw does not fit for
// that, the layout is made again with less room a sensor. The error is the first.
func (s *Study) draw(until Date, seed uint64) (l *Layout, slots []design.Slot, err error) {
	copied, plan := *s, *s.Plan
	copied.Plan = &plan
	for ; plan.slack <= mostSlack; plan.slack++ {
		again, layoutErr := copied.layoutUntil(until)
		if layoutErr == nil {
			if slots, layoutErr = design.Draw(again.Problem, seed); layoutErr == nil {
				return again, slots, nil
			}
		}
		if err == nil {
			err = layoutErr
		}
		if len(plan.Sensors) == 0 {
			break
		}
	}
	return nil, nil, err
}

// A tooFew error says that the places hold fewer tests than are wanted.
type tooFew struct {
	repeats    []int
	room, free int
}

func (e tooFew) Error() string { return fmt.Sprintf("room for %d tests", e.room) }

// explainMisfit turns a draw that does not fit into what binds and which single
// change of the plan, each tried out, would make it fit. Other errors pass.
func (s *Study) explainMisfit(err error, seed uint64) error {
	var few tooFew
	var none design.DoesNotFit
	free := len(s.freeDays(s.Plan.Until))
	found, needed := "", 0
	switch {
	case errors.As(err, &few):
		needed = sumOf(few.repeats) + s.Plan.RunIn
		found = fmt.Sprintf("%s = %d test days%s, but %s free, with room for %s", s.sumWords(few.repeats), needed, s.betweenWords(),
			s.freeWords(few.free), Count(few.room, "test", "tests"))
	case errors.As(err, &none):
		needed = none.Needed + s.Plan.RunIn
		words := fmt.Sprintf("%s = %d", s.sumWords(s.wantedRepeats(s.Plan.Repeats)), needed)
		if s.incomplete() { // the repeats of the reference depend on the blocks
			words = fmt.Sprintf("a layout of %d", needed)
		}
		found = fmt.Sprintf("%s test days%s, but %s free, with room for %s", words,
			s.betweenWords(), s.freeWords(free), Count(none.Placed, "test", "tests"))
		if worst := none.Worst(); worst != design.Days {
			found += "; what binds most is: " + strings.ReplaceAll(string(worst), "treatment", "food")
		}
	default:
		return err
	}
	mend := "ask for fewer foods or repeats, or more days"
	if mends := s.mendings(seed); len(mends) > 0 {
		mend = "any one of these makes it fit: " + strings.Join(mends, ", or ")
	}
	return problem.List{{File: StudyFile, Line: s.Plan.line, Field: "plan", Found: found, Expected: fmt.Sprintf("room for %d", needed), Mend: mend}}
}

func (s *Study) betweenWords() string {
	run := ""
	if s.Plan.RunIn > 0 {
		run = fmt.Sprintf(", %d run-in tests among them,", s.Plan.RunIn)
	}
	return fmt.Sprintf("%s with %s between them", run, Count(s.Plan.Washout, "washout day", "washout days"))
}

func (s *Study) freeWords(free int) string {
	return fmt.Sprintf("from %s to %s %s", s.Plan.Start, s.Plan.Until, Count(free, "day is", "days are"))
}

// sumWords words the tests of a study as "3 foods × 3 repeats".
func (s *Study) sumWords(repeats []int) string {
	for _, r := range repeats {
		if r != repeats[0] {
			var parts []string
			for i, n := range repeats {
				parts = append(parts, fmt.Sprintf("%d × %s", n, s.Foods[i].ID))
			}
			return strings.Join(parts, " + ")
		}
	}
	return fmt.Sprintf("%d foods × %d repeats", len(s.Foods), repeats[0])
}

// mendings tries single changes of the plan and returns the smallest of each
// kind with which the tests fit.
func (s *Study) mendings(seed uint64) []string {
	var mends []string
	fits := func(change func(*Plan)) bool {
		copied, plan := *s, *s.Plan
		plan.quick = true
		change(&plan)
		copied.Plan = &plan
		_, _, err := copied.draw(plan.Until, seed)
		return err == nil
	}
	const longest = 366
	if fits(func(p *Plan) { p.Until += longest }) {
		more := 1 + sort.Search(longest, func(n int) bool { return fits(func(p *Plan) { p.Until += Date(n + 1) }) })
		mends = append(mends, "until: "+(s.Plan.Until+Date(more)).String())
	}
	if n := largest(s.Plan.Repeats-1, func(n int) bool { return n >= 1 && fits(func(p *Plan) { p.Repeats = n }) }); n >= 1 {
		mends = append(mends, fmt.Sprintf("repeats: %d", n))
	}
	if n := largest(s.Plan.Washout-1, func(n int) bool { return fits(func(p *Plan) { p.Washout = n }) }); n >= 0 {
		mends = append(mends, fmt.Sprintf("washout: %d", n))
	}
	if n := s.Plan.PerWeek; n > 0 && n < 7 {
		for more := n + 1; more <= 7; more++ {
			if fits(func(p *Plan) { p.PerWeek = more }) {
				mends = append(mends, fmt.Sprintf("per_week: %d", more))
				break
			}
		}
	}
	if mend := s.fewerOfOne(seed); mend != "" {
		mends = append(mends, mend)
	}
	if n := len(s.Plan.Sensors); n > 0 {
		if more := s.moreSensors(fits); more > 0 {
			mends = append(mends, Count(more, "more sensor", "more sensors")+" after the last")
		}
	}
	return mends
}

// largest returns the largest number from 0 to most that fits, when what fits does
// so below it too; −1 where nothing does.
func largest(most int, fits func(int) bool) int {
	low := -1    // fits, as nothing is asked of −1
	var high int // does not fit
	if most < 0 {
		return -1
	}
	for n := min(1, most); ; n = min(2*n+1, most) { // small ones first: the plan is usually a little too large
		if !fits(n) {
			high = n
			break
		}
		low = n
		if n == most {
			return n
		}
	}
	for high-low > 1 {
		if middle := (low + high) / 2; middle >= 0 && fits(middle) {
			low = middle
		} else {
			high = middle
		}
	}
	return low
}

// mostTrials bounds the layouts that are tried out for one mending.
const mostTrials = 20

// fewerOfOne returns the smallest cut of one test food's repeats with which the
// tests fit, such as "3 repeats of konjac"; "" where there is none.
func (s *Study) fewerOfOne(seed uint64) string {
	wanted, trials := s.wantedRepeats(math.MaxInt), 0
	for cut := 1; cut < s.Plan.Repeats; cut++ {
		for i := len(s.Foods) - 1; i >= 0; i-- {
			if s.Foods[i].Role != RoleTest || wanted[i] <= cut {
				continue
			}
			if trials++; trials > mostTrials {
				return ""
			}
			copied, plan := *s, *s.Plan
			plan.quick = true
			copied.Plan, copied.Foods = &plan, slices.Clone(s.Foods)
			copied.Foods[i].Repeats = wanted[i] - cut
			if _, _, err := copied.draw(plan.Until, seed); err == nil {
				return fmt.Sprintf("%d repeats of %s", wanted[i]-cut, s.Foods[i].ID)
			}
		}
	}
	return ""
}

// moreSensors returns how many more sensors like the last one make the tests
// fit, with the days until they end; 0: not even ten.
func (s *Study) moreSensors(fits func(func(*Plan)) bool) int {
	for more := 1; more <= 10; more++ {
		if fits(func(p *Plan) {
			p.Sensors = append([]Sensor(nil), p.Sensors...)
			for range more {
				last := p.Sensors[len(p.Sensors)-1]
				last.Start = last.end()
				p.Sensors = append(p.Sensors, last)
				p.Until = max(p.Until, NewDate(last.end()))
			}
		}) {
			return more
		}
	}
	return 0
}
