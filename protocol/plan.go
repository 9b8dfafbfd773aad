package protocol

import (
	"fmt"
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

// mayPlan refuses studies without a plan, fasting and test meals for people who
// should ask a clinician first, and foods whose label names what the tester avoids.
func (s *Study) mayPlan() error {
	if s.Plan == nil {
		return problem.List{{File: StudyFile, Field: "plan", Found: "no plan", Expected: "when tests may be held",
			Mend: "add for example plan: {start: 2027-01-11, until: 2027-02-12, repeats: 3, washout: 1}"}}
	}
	if s.Plan.RunIn > 0 && s.Reference() < 0 {
		return problem.List{{File: StudyFile, Line: s.Plan.line, Field: "plan.run_in", Found: "a run-in without a reference food",
			Expected: "a food with role: reference", Mend: "name one, or take run_in out"}}
	}
	for _, d := range s.Plan.Filming {
		if why := s.taken(d); why != "" {
			return problem.List{{File: StudyFile, Line: s.Plan.line, Field: "plan.filming", Found: fmt.Sprintf("%s, which is %s", d, why),
				Expected: "days on which a test may be held", Mend: "take it out of filming, or free the day"}}
		}
	}
	if concerns := s.Safety.Concerns(); len(concerns) > 0 && s.Safety.AdvisedBy == "" {
		return problem.List{{File: StudyFile, Line: s.Safety.line, Field: "safety", Found: "yes to " + strings.Join(concerns, ", "),
			Expected: "no plan of fasting mornings and test meals without a licensed clinician",
			Mend:     "talk to one first; when they agree, name them in safety: {advised_by: …}"}}
	}
	var stops problem.List
	for _, f := range s.Foods {
		stops = append(stops, f.Label.Stops(StudyFile, f.ID, s.Safety.Avoid)...)
	}
	return stops.Err()
}

// mostSlack bounds how much smaller the room of a sensor is taken to be.
const mostSlack = 3

// draw lays the study out until a date and draws it. Washouts, of single foods or
// reaching over from the sensor before, make a sensor hold fewer tests than its
// days say; where a draw does not fit for that, the layout is made again with less
// room a sensor, and then with every second sensor left out. The error is the
// first.
func (s *Study) draw(until Date, seed uint64) (l *Layout, slots []design.Slot, err error) {
	copied, plan := *s, *s.Plan
	copied.Plan = &plan
	for _, plan.skip = range []bool{false, true} {
		for plan.slack = 0; plan.slack <= mostSlack; plan.slack++ {
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
				return nil, nil, err
			}
		}
	}
	return nil, nil, err
}
