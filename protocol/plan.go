package protocol

import (
	"fmt"
	"slices"
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

// FreeDays returns the days from start to until on which a test may be held.
func (p *Plan) FreeDays(until Date) []int {
	var days []int
	for d := p.Start; d <= until; d++ {
		busy := slices.ContainsFunc(p.Busy, func(r DateRange) bool { return r.Contains(d) })
		if !busy && (len(p.Weekdays) == 0 || slices.Contains(p.Weekdays, d.Weekday())) {
			days = append(days, int(d))
		}
	}
	return days
}

func (s *Study) layout(repeats, washout int, until Date) design.Problem {
	return design.Problem{Treatments: len(s.Foods), Blocks: repeats, Washout: washout, Days: s.Plan.FreeDays(until)}
}

// Layout returns the layout problem of the study's plan: complete blocks in
// which each food, the reference among them, is eaten once.
func (s *Study) Layout() design.Problem {
	return s.layout(s.Plan.Repeats, s.Plan.Washout, s.Plan.Until)
}

// DrawSchedule draws the schedule of a study. A seed of 0 stands for the one in
// the study file, or else the one from its digest. The error is a problem.List
// when there is no plan, a licensed person has to agree first, or the tests do
// not fit the dates.
func DrawSchedule(s *Study, seed uint64) (*Schedule, error) {
	if s.Plan == nil {
		return nil, problem.List{{File: StudyFile, Field: "plan", Found: "no plan", Expected: "when tests may be held",
			Mend: "add for example plan: {start: 2027-01-11, until: 2027-02-12, repeats: 3, washout: 1}"}}
	}
	if concerns := s.Safety.Concerns(); len(concerns) > 0 && s.Safety.AdvisedBy == "" {
		return nil, problem.List{{File: StudyFile, Line: s.Safety.line, Field: "safety", Found: "yes to " + strings.Join(concerns, ", "),
			Expected: "no plan of fasting mornings and test meals without a licensed clinician",
			Mend:     "talk to one first; when they agree, name them in safety: {advised_by: …}"}}
	}
	if seed == 0 {
		seed = s.Plan.Seed
	}
	if seed == 0 {
		seed = SeedFromDigest(s.Digest)
	}
	slots, err := design.Draw(s.Layout(), seed)
	if err != nil {
		return nil, s.explainMisfit(err.(design.DoesNotFit))
	}
	schedule := &Schedule{Program: "mealtrial " + Version, Seed: seed, StudyDigest: s.Digest}
	for _, slot := range slots {
		schedule.Tests = append(schedule.Tests, PlannedTest{
			Date: Date(slot.Day), Time: s.Plan.Time, At: s.Plan.Time.String(),
			Block: slot.Block + 1, Food: s.Foods[slot.Treatment].ID})
	}
	return schedule, nil
}

// explainMisfit says how many days are needed and free, and which single
// change of the plan, each tried out, would make the tests fit.
func (s *Study) explainMisfit(e design.DoesNotFit) error {
	fits := func(repeats, washout int, until Date) bool {
		p := s.layout(repeats, washout, until)
		return len(design.Place(p)) == p.Tests()
	}
	p := s.Plan
	var mends []string
	for until := p.Until + 1; until <= p.Until+366; until++ {
		if fits(p.Repeats, p.Washout, until) {
			mends = append(mends, "until: "+until.String())
			break
		}
	}
	for repeats := p.Repeats - 1; repeats >= 1; repeats-- {
		if fits(repeats, p.Washout, p.Until) {
			mends = append(mends, fmt.Sprintf("repeats: %d", repeats))
			break
		}
	}
	for washout := p.Washout - 1; washout >= 0; washout-- {
		if fits(p.Repeats, washout, p.Until) {
			mends = append(mends, fmt.Sprintf("washout: %d", washout))
			break
		}
	}
	mend := "ask for fewer foods or repeats, or more days"
	if len(mends) > 0 {
		mend = "any one of these makes it fit: " + strings.Join(mends, ", or ")
	}
	return problem.List{{File: StudyFile, Line: p.line, Field: "plan",
		Found: fmt.Sprintf("%d foods × %d repeats = %d test days with %s between them, but from %s to %s %s free, with room for %s",
			len(s.Foods), p.Repeats, e.Needed, count(p.Washout, "washout day", "washout days"), p.Start, p.Until,
			count(e.Free, "day is", "days are"), count(e.Room, "test", "tests")),
		Expected: fmt.Sprintf("room for %d", e.Needed), Mend: mend}}
}
