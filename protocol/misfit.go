package protocol

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"mealtrial/design"
	"mealtrial/protocol/problem"
)

// A tooFew error says that the places hold fewer tests than are wanted, or not in
// whole blocks.
type tooFew struct {
	repeats []int
	room    int // tests that blocks on the places hold
	runIn   int // of the run-in tests, those that have a day; −1: all
}

func (e tooFew) Error() string { return fmt.Sprintf("room for %d tests", e.room) }

// explainMisfit turns a draw that does not fit into what binds and which single
// change of the plan, each tried out, would make it fit. Other errors pass.
func (s *Study) explainMisfit(err error, seed uint64) error {
	var few tooFew
	var none design.DoesNotFit
	wanted, needed := "", 0
	switch {
	case errors.As(err, &few):
		needed = sumOf(few.repeats) + s.Plan.RunIn
		wanted = fmt.Sprintf("%s = %d", s.sumWords(few.repeats), needed)
	case errors.As(err, &none):
		needed = none.Needed + s.Plan.RunIn
		wanted = fmt.Sprintf("%s = %d", s.sumWords(s.wantedRepeats(s.Plan.Repeats)), needed)
		if s.incomplete() { // the repeats of the reference depend on the blocks
			wanted = fmt.Sprintf("a layout of %d", needed)
		}
	default:
		return err
	}
	days := s.freeDays(s.Plan.Until)
	room := design.Room(days, s.Plan.Washout, s.Plan.PerWeek)
	found := fmt.Sprintf("%s test days%s, but from %s to %s %s free%s, with room for %s", wanted, s.betweenWords(),
		s.Plan.Start, s.Plan.Until, Count(len(days), "day is", "days are"), s.takenWords(), Count(room, "test", "tests"))
	if room >= needed {
		found += "; what binds is: " + s.bindingWords(few, none)
	}
	mend := "no single change of until, repeats, washout, time or availability was found that makes it fit; ask for fewer foods or repeats, and more days"
	if mends := s.mendings(seed); len(mends) > 0 {
		mend = "any one of these makes it fit: " + strings.Join(mends, ", or ")
	}
	return problem.List{{File: StudyFile, Line: s.Plan.line, Field: "plan", Found: found, Expected: fmt.Sprintf("room for %d", needed), Mend: mend}}
}

// bindingWords names what keeps tests from days that would hold them by number.
func (s *Study) bindingWords(few tooFew, none design.DoesNotFit) string {
	if none.Needed == 0 {
		if few.runIn >= 0 {
			return fmt.Sprintf("days for the run-in, which find room for %d", few.runIn)
		}
		on := ""
		if len(s.Plan.Sensors) > 0 {
			on = ", none over two sensors,"
		}
		return fmt.Sprintf("whole blocks of up to %d tests%s with room for %d", s.blockSize(), on, few.room)
	}
	worst := none.Worst()
	switch worst {
	case design.Availability:
		var foods []string
		for i, f := range s.Foods {
			if none.Scarce[i] > 0 {
				foods = append(foods, f.ID)
			}
		}
		return "when " + list(foods) + " may be had (from, until, opened)"
	case design.Days:
		if len(s.Plan.Sensors) > 0 {
			return "the days on which a sensor reads, which blocks may not straddle"
		}
		if len(s.Plan.After)+len(s.Plan.Before) > 0 {
			return "the longer washouts after or before single foods"
		}
	}
	return strings.ReplaceAll(string(worst), "treatment", "food")
}

func (s *Study) betweenWords() string {
	run, week := "", ""
	if s.Plan.RunIn > 0 {
		run = fmt.Sprintf(", %d run-in tests among them,", s.Plan.RunIn)
	}
	if s.Plan.PerWeek > 0 {
		week = fmt.Sprintf(" and at most %d in any seven days", s.Plan.PerWeek)
	}
	return fmt.Sprintf("%s with %s between them%s", run, Count(s.Plan.Washout, "washout day", "washout days"), week)
}

// takenWords counts the days that are not free, by what takes them.
func (s *Study) takenWords() string {
	n := map[string]int{}
	var kinds []string
	for d := s.Plan.Start; d <= s.Plan.Until; d++ {
		if why := s.taken(d); why != "" {
			if n[why]++; n[why] == 1 {
				kinds = append(kinds, why)
			}
		}
	}
	var parts []string
	for _, kind := range kinds {
		parts = append(parts, fmt.Sprintf("%d %s", n[kind], kind))
	}
	if len(parts) == 0 {
		return ""
	}
	return " (" + strings.Join(parts, ", ") + ")"
}

// taken says in words why a day is not free; "" where it is.
func (s *Study) taken(d Date) string {
	p := s.Plan
	if len(p.Weekdays) > 0 && !slices.Contains(p.Weekdays, d.Weekday()) {
		return "on other weekdays"
	}
	if slices.ContainsFunc(p.Busy, func(r DateRange) bool { return r.Contains(d) }) {
		return "busy"
	}
	bite, exists := d.At(p.Time, s.Zone)
	if !exists {
		return "without that time, as clocks change"
	}
	if s.booked(bite) {
		return "booked in " + strings.Join(p.Calendars, ", ") + " between fast and end of window"
	}
	return ""
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
