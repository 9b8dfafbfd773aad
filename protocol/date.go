package protocol

import (
	"fmt"
	"strings"
	"time"

	"mealtrial/protocol/yamldoc"
)

// A Date is a civil date, as the number of days since 1970-01-01.
type Date int

// dateLayout is the calendar date of ISO 8601.
const dateLayout = "2006-01-02"

// NewDate returns the civil date of a moment in its own location.
func NewDate(t time.Time) Date {
	y, m, d := t.Date()
	return Date(time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Unix() / 86400)
}

// ParseDate reads a date such as 2027-01-11, from the years 1900 to 2199.
func ParseDate(text string) (Date, error) {
	t, err := time.Parse(dateLayout, text)
	if err != nil || t.Year() < 1900 || t.Year() > 2199 {
		return 0, fmt.Errorf("%q is not a date such as 2027-01-11", text)
	}
	return NewDate(t), nil
}

func (d Date) utc() time.Time { return time.Unix(int64(d)*86400, 0).UTC() }

// String gives the date as ISO 8601 writes it, 2027-01-11.
func (d Date) String() string { return d.utc().Format(dateLayout) }

// Weekday returns the day of the week.
func (d Date) Weekday() time.Weekday { return d.utc().Weekday() }

// MarshalText lets dates stand in JSON as ISO 8601 writes them.
func (d Date) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// A Clock is a time of day, in minutes since midnight.
type Clock int

// ParseClock reads a time of day such as 07:30.
func ParseClock(text string) (Clock, error) {
	t, err := time.Parse("15:04", text)
	if err != nil {
		return 0, fmt.Errorf("%q is not a time of day such as 07:30", text)
	}
	return Clock(t.Hour()*60 + t.Minute()), nil
}

// String gives the time of day as 07:30.
func (c Clock) String() string { return fmt.Sprintf("%02d:%02d", int(c)/60, int(c)%60) }

// At returns the moment of a time of day on a date in a zone. ok is false when
// clocks were put forward over it, so that it did not exist.
func (d Date) At(c Clock, zone *time.Location) (moment time.Time, ok bool) {
	y, m, day := d.utc().Date()
	t := time.Date(y, m, day, int(c)/60, int(c)%60, 0, 0, zone)
	return t, t.Hour() == int(c)/60 && t.Minute() == int(c)%60
}

const (
	dateExpected  = "a date such as 2027-01-11"
	clockExpected = "a time of day such as \"07:30\""
)

// readDate reads a date from a study's file; ok is false when it is absent or,
// with a problem recorded, impossible.
func readDate(n yamldoc.Node) (date Date, ok bool) {
	text := n.Text()
	if text == "" {
		if n.Null() {
			n.Reject("nothing", dateExpected, "")
		}
		return 0, false
	}
	date, err := ParseDate(text)
	if err != nil {
		n.Reject(n.Found(), dateExpected+" that exists", "write year-month-day")
		return 0, false
	}
	return date, true
}

func readClock(n yamldoc.Node) (clock Clock, ok bool) {
	text := n.Text()
	if text == "" {
		return 0, false
	}
	clock, err := ParseClock(text)
	if err != nil {
		n.Reject(n.Found(), clockExpected, "write hours:minutes on the 24-hour clock")
		return 0, false
	}
	return clock, true
}

// readMinutes reads a duration such as 120m, 2h or 1h30m and returns minutes.
func readMinutes(n yamldoc.Node, fallback float64) float64 {
	text := n.Text()
	if text == "" {
		return fallback
	}
	d, err := time.ParseDuration(strings.ReplaceAll(strings.ReplaceAll(text, " ", ""), "min", "m"))
	if err != nil || d <= 0 {
		n.Reject(n.Found(), "a length of time above zero, such as 120m or 2h", "write the number with its unit")
		return fallback
	}
	return d.Minutes()
}

// readUpTo reads a duration of at most so many minutes.
func readUpTo(n yamldoc.Node, fallback, most float64) float64 {
	m := readMinutes(n, fallback)
	if m > most {
		n.Reject(n.Found(), fmt.Sprintf("at most %s", time.Duration(most*float64(time.Minute))), "")
		return fallback
	}
	return m
}

// weekdays by the first three letters of their English names.
var weekdays = map[string]time.Weekday{
	"mon": time.Monday, "tue": time.Tuesday, "wed": time.Wednesday, "thu": time.Thursday,
	"fri": time.Friday, "sat": time.Saturday, "sun": time.Sunday,
}

func readWeekdays(n yamldoc.Node) []time.Weekday {
	var days []time.Weekday
	for _, item := range n.List() {
		word := strings.ToLower(item.Text())
		if len(word) > 3 {
			word = word[:3]
		}
		day, ok := weekdays[word]
		if !ok {
			item.Reject(item.Found(), "days of the week: mon, tue, wed, thu, fri, sat, sun", "")
			continue
		}
		days = append(days, day)
	}
	return days
}

// A DateRange runs from First to Last, both included.
type DateRange struct{ First, Last Date }

// Contains tells whether a date lies in the range.
func (r DateRange) Contains(d Date) bool { return r.First <= d && d <= r.Last }

// readRanges reads a list of dates and ranges such as 2027-02-01..2027-02-05.
func readRanges(n yamldoc.Node) []DateRange {
	var ranges []DateRange
	for _, item := range n.List() {
		first, last, isRange := strings.Cut(item.Text(), "..")
		if !isRange {
			last = first
		}
		a, errA := ParseDate(strings.TrimSpace(first))
		b, errB := ParseDate(strings.TrimSpace(last))
		if errA != nil || errB != nil {
			item.Reject(item.Found(), "a date such as 2027-01-20, or a range such as 2027-02-01..2027-02-05", "")
			continue
		}
		if b < a {
			item.Reject(item.Found(), "a range whose first date comes first", "swap the two dates")
			continue
		}
		ranges = append(ranges, DateRange{a, b})
	}
	return ranges
}
