package view

import (
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
	for i, t := range s.Tests {
		food := study.Foods[study.Food(t.Food)]
		rows = append(rows, []string{fmt.Sprint(i + 1), t.Date.String(), t.Date.Weekday().String()[:3], t.Time.String(), fmt.Sprint(t.Block), t.Food, nameAndPortion(food)})
	}
	p.table([]column{right("test"), left("date"), left("day"), left("time"), right("block"), left("food"), left("what to eat")}, rows)
	first, last := s.Tests[0].Date, s.Tests[len(s.Tests)-1].Date
	p.line("%s in %s, %s to %s. Seed %d, lock %.12s.", tests(len(s.Tests)), blocks(s.Tests[len(s.Tests)-1].Block), first, last, s.Seed, s.StudyDigest)
	return p.err
}

func blocks(n int) string {
	if n == 1 {
		return "1 block"
	}
	return fmt.Sprintf("%d blocks", n)
}

func nameAndPortion(f protocol.Food) string {
	if f.Portion == "" {
		return f.Name
	}
	return f.Name + ", " + f.Portion
}

// ProductID names the program in calendars (RFC 5545, section 3.7.3).
const productID = "-//mealtrial//mealtrial " + protocol.Version + "//EN"

// Calendar writes the schedule as an iCalendar stream (RFC 5545): one event a
// test, in floating local time, so that a test at 07:30 stays at 07:30 wherever
// the tester is and no time zone has to be described (section 3.3.5, form 1).
// stamp is the moment of writing (DTSTAMP, section 3.8.7.2, in UTC).
func Calendar(w io.Writer, study *protocol.Study, s *protocol.Schedule, stamp time.Time) error {
	cal := ics.NewCalendarFor("mealtrial")
	cal.SetProductId(productID)
	for i, t := range s.Tests {
		food := study.Foods[study.Food(t.Food)]
		start, _ := t.Date.At(t.Time, time.UTC)
		end := start.Add(time.Duration(study.Endpoint.Window * float64(time.Minute)))
		event := cal.AddEvent(s.UID(i))
		event.SetDtStampTime(stamp.UTC())
		const floating = "20060102T150405"
		event.SetProperty(ics.ComponentPropertyDtStart, start.Format(floating))
		event.SetProperty(ics.ComponentPropertyDtEnd, end.Format(floating))
		event.SetSummary("Test meal: " + food.Name)
		event.SetDescription(describe(study, food, t, i, len(s.Tests)))
	}
	return cal.SerializeTo(w, ics.WithNewLineWindows)
}

func describe(study *protocol.Study, food protocol.Food, t protocol.PlannedTest, i, n int) string {
	text := fmt.Sprintf("Test %d of %d, block %d. Eat: %s.", i+1, n, t.Block, nameAndPortion(food))
	if food.Preparation != "" {
		text += " Preparation: " + food.Preparation + "."
	}
	text += fmt.Sprintf("\nFasting, at the usual time, the same drink as always; then no food or exercise for %s min.", value(study.Endpoint.Window))
	text += "\nWrite it down: mealtrial record"
	return text + "\n" + protocol.ShortCaution
}
