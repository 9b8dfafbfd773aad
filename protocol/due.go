package protocol

import "fmt"

// A Due is something that may be noted in the log.
type Due struct {
	Words    string
	Date     Date
	Planned  *PlannedTest // a test that the log does not have; nil: outcomes of a logged one
	Outcomes []Outcome    // that belong to the test and can be noted by now
}

// outcomesKept is how many days after a test its outcomes are still asked for.
const outcomesKept = 14

// Due lists what may be noted on a day: the test of the day, outcomes of logged tests
// that are missing, and planned tests that are missing, the latest first.
func (f *Folder) Due(today Date) (out []Due) {
	var missed []Due
	if f.Schedule != nil {
		for i := range f.Schedule.Tests {
			t := &f.Schedule.Tests[i]
			d := Due{Date: t.Date, Planned: t, Outcomes: f.outcomesBy(t.Date, today)}
			switch {
			case f.logged(t.Date) || t.Date > today:
			case t.Date == today:
				d.Words = fmt.Sprintf("the test of %s, due today (%s)", f.called(t.Food), t.Date)
				out = append(out, d)
			default:
				d.Words = fmt.Sprintf("the test of %s, planned for %s and not in the log", f.called(t.Food), t.Date)
				missed = append([]Due{d}, missed...)
			}
		}
	}
	for i := len(f.Log.Tests) - 1; i >= 0; i-- {
		t := f.Log.Tests[i]
		d := Due{Date: t.Date}
		for _, o := range f.outcomesBy(t.Date, today) {
			if _, noted := t.Outcomes[o.ID]; !noted {
				d.Outcomes = append(d.Outcomes, o)
			}
		}
		if len(d.Outcomes) == 0 || today-t.Date > outcomesKept {
			continue
		}
		d.Words = fmt.Sprintf("outcomes of the test of %s on %s", f.called(t.Food), t.Date)
		out = append(out, d)
	}
	return append(out, missed...)
}

// outcomesBy are the outcomes of a test that can be noted on a day.
func (f *Folder) outcomesBy(test, day Date) (out []Outcome) {
	for _, o := range f.Study.Outcomes {
		if test+o.When.days() <= day {
			out = append(out, o)
		}
	}
	return out
}

// called names a food for people; in a masked schedule only its code is known.
func (f *Folder) called(food string) string {
	if i := f.Study.Served(food); i >= 0 {
		return f.Study.Foods[i].Name
	}
	return "code " + food
}

// Expected words the values that an outcome may have.
func (o Outcome) Expected() string { return o.expected() }

// LogFoods are the words that the log may use for a food now: codes alone while the
// schedule is masked.
func (s *Study) LogFoods() []string { return s.logFoods() }
