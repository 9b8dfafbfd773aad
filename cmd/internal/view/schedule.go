package view

import (
	"bytes"
	"fmt"
	"io"
	"time"

	ics "github.com/arran4/golang-ical"

	"mealtrial/protocol"
)

// Schedule shows the planned tests.
func Schedule(w io.Writer, study *protocol.Study, s *protocol.Schedule) error {
	p := &printer{w: w}
	var rows [][]string
	p.months(study, s)
	for i, t := range s.Tests {
		block := fmt.Sprint(t.Block)
		if t.RunIn {
			block = "run-in"
		}
		rows = append(rows, []string{fmt.Sprint(i + 1), t.Date.String(), t.Date.Weekday().String()[:3], t.Time.String(), block, t.Food, nameAndPortion(foodOf(study, t))})
	}
	p.table([]column{right("test"), left("date"), left("day"), left("time"), right("block"), left("food"), left("what to eat")}, rows)
	first, last := s.Tests[0].Date, s.Tests[len(s.Tests)-1].Date
	p.line("%s in %s, %s to %s. %s, lock %.12s.", tests(len(s.Tests)), blocks(countBlocks(s)), first, last, seedWords(s.Seed), s.Lock())
	if n := s.Possible(); n != nil {
		p.line("One of %s schedules that the draw could have given, each as likely as any other.", Orders(*n))
	}
	if s.Efficiency > 0 {
		p.line("Efficiency of the questions against complete blocks with as many tests: %s.", percentOf(float64(s.Efficiency)))
	}
	for i, a := range s.Amendments {
		p.line("Amendment %d, %s, by %s: laid out again from %s, %s taken out (%s). %s.", i+1, a.Made, a.Who, a.From, tests(len(a.Replaced)), a.Why, seedWords(a.Seed))
	}
	return p.err
}

// foodOf returns the food of a planned test; in a masked schedule only its code
// is known.
func foodOf(study *protocol.Study, t protocol.PlannedTest) protocol.Food {
	if i := study.Served(t.Food); i >= 0 {
		return study.Foods[i]
	}
	return protocol.Food{ID: t.Food, Name: "food " + t.Food}
}

// countBlocks counts the blocks that have tests; after an amendment their numbers
// may have gaps.
func countBlocks(s *protocol.Schedule) int {
	seen := map[int]bool{}
	for _, t := range s.Tests {
		if !t.RunIn {
			seen[t.Block] = true
		}
	}
	return len(seen)
}

func seedWords(seed uint64) string {
	if seed == 0 {
		return "Seed in the key"
	}
	return fmt.Sprintf("Seed %d", seed)
}

// blockWords says which block a test is of.
func blockWords(t protocol.PlannedTest) string {
	if t.RunIn {
		return "run-in, not analysed"
	}
	return fmt.Sprintf("block %d", t.Block)
}

func blocks(n int) string { return protocol.Count(n, "block", "blocks") }

func nameAndPortion(f protocol.Food) string {
	if f.Portion == "" {
		return f.Name
	}
	return f.Name + ", " + f.Portion
}

// productID names the program in calendars (RFC 5545, section 3.7.3).
const productID = "-//mealtrial//mealtrial " + protocol.Version + "//EN"

// Calendar writes the schedule as an iCalendar stream (RFC 5545): one event a
// test, in floating local time, so that a test at 07:30 stays at 07:30 wherever
// the tester is and no time zone has to be described (section 3.3.5, form 1).
// stamp is the moment of writing (DTSTAMP, section 3.8.7.2, in UTC).
func Calendar(w io.Writer, study *protocol.Study, s *protocol.Schedule, stamp time.Time) error {
	cal := ics.NewCalendarFor("mealtrial")
	cal.SetProductId(productID)
	for i, t := range s.Tests {
		food := foodOf(study, t)
		start, _ := t.Date.At(t.Time, time.UTC)
		end := start.Add(time.Duration(study.Endpoint.Window * float64(time.Minute)))
		event := cal.AddEvent(s.UID(i))
		event.SetDtStampTime(stamp.UTC())
		const floating = "20060102T150405"
		event.SetProperty(ics.ComponentPropertyDtStart, start.Format(floating))
		event.SetProperty(ics.ComponentPropertyDtEnd, end.Format(floating))
		event.SetSummary("Test meal: " + food.Name)
		event.SetDescription(describe(study, food, t, i, len(s.Tests)))
		remind(event, eveningBefore(study, t), "Tomorrow: "+food.Name+". "+evening(study))
		remind(event, fmt.Sprintf("PT%dM", int(study.Endpoint.Window)), "The window is over: write down the test with mealtrial record.")
	}
	return cal.SerializeTo(w, ics.WithNewLineWindows)
}

// remind adds a reminder, at a time from the start (RFC 5545, sections 3.6.6 and
// 3.8.6.3).
func remind(event *ics.VEvent, trigger, text string) {
	alarm := event.AddAlarm()
	alarm.SetAction(ics.ActionDisplay)
	alarm.SetTrigger(trigger)
	alarm.SetProperty(ics.ComponentPropertyDescription, text)
}

const reminderHour = 19 // in the evening before

// eveningBefore is the time from the start of the test back to that evening, or to
// an hour before the fast where that is earlier.
func eveningBefore(study *protocol.Study, t protocol.PlannedTest) string {
	before := int(t.Time) + 24*60 - reminderHour*60
	if study.Plan != nil {
		before = max(before, int(study.Plan.Fast)+60)
	}
	return fmt.Sprintf("-PT%dM", before)
}

func evening(study *protocol.Study) string {
	text := "The usual dinner, no alcohol, sensor working."
	if study.Plan != nil {
		text += fmt.Sprintf(" Fast for %s h before the first bite.", value(study.Plan.Fast/60))
	}
	return text
}

// IsCalendar tells whether a file is a calendar that Calendar wrote.
func IsCalendar(data []byte) bool {
	return bytes.HasPrefix(data, []byte("BEGIN:VCALENDAR\r\n")) && bytes.Contains(data, []byte("PRODID:-//mealtrial//"))
}

func describe(study *protocol.Study, food protocol.Food, t protocol.PlannedTest, i, n int) string {
	text := fmt.Sprintf("Test %d of %d, %s. Eat: %s.", i+1, n, blockWords(t), nameAndPortion(food))
	if food.Preparation != "" {
		text += " Preparation: " + food.Preparation + "."
	}
	text += fmt.Sprintf("\nFasting, at the usual time, the same drink as always; then no food or exercise for %s min.", value(study.Endpoint.Window))
	text += "\nWrite it down: mealtrial record"
	return text + "\n" + protocol.ShortCaution
}
