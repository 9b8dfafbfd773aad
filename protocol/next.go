package protocol

import (
	"fmt"
	"time"
)

// A Next says what is due. As JSON it is a contract like Analysis.
type Next struct {
	State    string       `json:"state"` // due_today, done_today, later, finished, no_schedule
	Why      string       `json:"why"`
	Test     *PlannedTest `json:"test"` // the one that is due, or due next
	InDays   int          `json:"in_days"`
	Number   int          `json:"number"` // of the test in the schedule, from 1
	Of       int          `json:"of"`
	Name     string       `json:"name,omitempty"`
	Portion  string       `json:"portion,omitempty"`
	Prepare  string       `json:"preparation,omitempty"`
	Sensor   string       `json:"sensor,omitempty"`   // which sensor and its day
	Evening  []string     `json:"evening_before"`     // what the evening before asks for
	Hold     []string     `json:"conditions_to_hold"` // the same at every test
	Safety   []SafetyLine `json:"safety"`             // of tests before today, those that nobody looked at first
	HeldBack bool         `json:"held_back"`          // the food of the test is not to be eaten before they were looked at
	Note     []string     `json:"to_note"`            // outcomes of the test that is next
	NotNoted []string     `json:"not_noted"`          // outcomes of tests in the log that are wanting
	Missed   []string     `json:"missed"`             // planned tests before today that the log does not have
	Warnings []string     `json:"warnings"`
	Caution  string       `json:"caution"`
}

// States of what is next.
const (
	DueToday   = "due_today"
	DoneToday  = "done_today"
	Later      = "later"
	Finished   = "finished"
	NoSchedule = "no_schedule"
)

// Next returns what is due on a day.
func (f *Folder) Next(today Date) *Next {
	n := &Next{Evening: []string{}, Hold: []string{}, Missed: []string{}, Note: []string{}, NotNoted: []string{}, Safety: []SafetyLine{}, Warnings: []string{}, Caution: ShortCaution}
	if f.Schedule == nil {
		n.State, n.Why = NoSchedule, "no schedule was drawn yet; draw one with mealtrial plan"
		return n
	}
	n.Of = len(f.Schedule.Tests)
	for i := range f.Schedule.Tests {
		t := &f.Schedule.Tests[i]
		logged := f.logged(t.Date)
		switch {
		case t.Date < today && !logged:
			n.Missed = append(n.Missed, fmt.Sprintf("%s %s", t.Date, t.Food))
		case t.Date == today && logged:
			n.State, n.Why = DoneToday, "today's test is in the log"
		case t.Date >= today && !logged && n.Test == nil:
			n.Test, n.Number, n.InDays = t, i+1, int(t.Date-today)
		}
	}
	f.describe(n, today)
	f.holdBack(n)
	f.toNote(n, today)
	return n
}

func (f *Folder) logged(d Date) bool {
	for _, t := range f.Log.Tests {
		if t.Date == d {
			return true
		}
	}
	return false
}

func (f *Folder) describe(n *Next, today Date) {
	if len(n.Missed) > 0 {
		n.Warnings = append(n.Warnings, fmt.Sprintf("%s planned before today and not in the log: record what was eaten, or lay the rest out again with mealtrial replan.",
			Count(len(n.Missed), "test was", "tests were")))
	}
	if n.Test == nil {
		if n.State == "" {
			n.State, n.Why = Finished, "every planned test is past; see mealtrial analyse"
		}
		return
	}
	switch {
	case n.InDays == 0:
		n.State, n.Why = DueToday, fmt.Sprintf("test %d of %d is due today", n.Number, n.Of)
	case n.State == "":
		n.State = Later
		n.Why = fmt.Sprintf("nothing is due today%s; the next test is in %s", f.whyNothing(today), Count(n.InDays, "day", "days"))
	}
	f.warnWashout(n, today)
	f.instruct(n)
}

// warnWashout says when what was eaten lies nearer to the next test than the plan
// allows, as when a test was eaten on another day.
func (f *Folder) warnWashout(n *Next, today Date) {
	if f.Study.Plan == nil {
		return
	}
	for _, t := range f.Log.Tests {
		gap := max(f.Study.Plan.Washout, f.Study.Plan.After[t.Food])
		if free := int(n.Test.Date-t.Date) - 1; t.Date < n.Test.Date && free < gap {
			n.Warnings = append(n.Warnings, fmt.Sprintf("The next test comes %s after the one that was eaten on %s, but the plan asks for %s between them; lay the rest out again with mealtrial replan.",
				Count(free, "free day", "free days"), t.Date, Count(gap, "washout day", "washout days")))
		}
	}
}

// whyNothing says why a day without a test has none.
func (f *Folder) whyNothing(today Date) string {
	s := f.Study
	if s.Plan == nil {
		return ""
	}
	if first := f.Schedule.Tests[0].Date; today < first {
		return fmt.Sprintf(": the first test is on %s", first)
	}
	if why := s.taken(today); why != "" {
		return ": the day is " + why
	}
	for _, t := range f.Log.Tests {
		if gap := max(s.Plan.Washout, s.Plan.After[t.Food]); t.Date < today && int(today-t.Date) <= gap {
			return fmt.Sprintf(": it is a washout day after the test on %s", t.Date)
		}
	}
	for _, t := range f.Schedule.Tests {
		if gap := max(s.Plan.Washout, s.Plan.After[t.Food]); t.Date < today && int(today-t.Date) <= gap {
			return fmt.Sprintf(": it is a washout day after the planned test on %s", t.Date)
		}
	}
	if len(s.Plan.Sensors) > 0 && len(Sensor.on(s.sensorNear(today), s, []int{int(today)})) == 0 {
		return ": no sensor reads on this day, or it has not settled yet"
	}
	return ": the schedule keeps the day free"
}

// sensorNear returns the last planned sensor that starts by the end of a day, else
// the first.
func (s *Study) sensorNear(d Date) Sensor {
	near := s.Plan.Sensors[0]
	for _, x := range s.Plan.Sensors {
		if NewDate(x.Start) <= d {
			near = x
		}
	}
	return near
}

// instruct fills in the food and the conditions of the next test.
func (f *Folder) instruct(n *Next) {
	s := f.Study
	food := Food{ID: n.Test.Food, Name: "code " + n.Test.Food}
	if i := s.Served(n.Test.Food); i >= 0 {
		food = s.Foods[i]
	}
	n.Name, n.Portion, n.Prepare = food.Name, food.Portion, food.Preparation
	if s.Plan == nil {
		return
	}
	bite, _ := n.Test.Date.At(n.Test.Time, s.Zone)
	last := bite.Add(-minutes(s.Plan.Fast))
	n.Evening = []string{
		fmt.Sprintf("last food by %s: %s h of fasting before the first bite", last.Format("15:04"), plain(s.Plan.Fast/60)),
		"the usual evening meal; no alcohol and no unusual exercise",
		"see that the sensor reads; have the food and its portion ready",
	}
	n.Hold = []string{
		fmt.Sprintf("first bite at %s%s", n.Test.Time, within(s.Plan.Tolerance)),
		"the same drink, and the same time to eat, at every test",
		fmt.Sprintf("seated, no other food and no exercise for %s min", plain(s.Endpoint.Window)),
	}
	if sensor := sensorOn(s, bite); sensor != "" {
		n.Sensor = sensor
	}
}

func within(tolerance float64) string {
	if tolerance == 0 {
		return ""
	}
	return fmt.Sprintf(", at most %s min earlier or later", plain(tolerance))
}

// sensorOn names the planned sensor of a moment and its day.
func sensorOn(s *Study, at time.Time) string {
	for i, x := range s.Plan.Sensors {
		if !at.Before(x.Start) && at.Before(x.end()) {
			return fmt.Sprintf("sensor %d, day %d of %s", i+1, int(at.Sub(x.Start).Hours()/24)+1, plain(x.Life))
		}
	}
	return ""
}
