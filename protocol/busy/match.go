package busy

import (
	"slices"
	"time"
)

// matches says whether a day, given as its midnight, satisfies every BY part
// about days (RFC 5545 section 3.3.10). For periods longer than a day the same
// test expands and limits, since a period's days are all looked at.
func (w *walker) matches(midnight int64) bool {
	if len(w.months)+len(w.weeks)+len(w.yearDays)+len(w.monthDays) > 0 {
		year, month, dayOfMonth, dayOfYear := civil(midnight)
		if !allows(w.months, int64(month)) ||
			!counted(w.monthDays, dayOfMonth, func() int { return daysIn(year, month) }) ||
			!counted(w.yearDays, dayOfYear, func() int { return daysOf(year) }) {
			return false
		}
		if len(w.weeks) > 0 {
			number, total := weekNumber(midnight, w.weekStart)
			if !counted(w.weeks, number, func() int { return total }) {
				return false
			}
		}
	}
	return len(w.days) == 0 || w.matchesDay(midnight)
}

// counted says whether a set is empty or holds n, counted from 1 or, where
// negative, from the end of size.
func counted(set []int, n int, size func() int) bool {
	if len(set) == 0 || slices.Contains(set, n) {
		return true
	}
	return set[0] < 0 && slices.Contains(set, n-size()-1)
}

// matchesDay says whether a day satisfies BYDAY.
func (w *walker) matchesDay(midnight int64) bool {
	wd := weekday(midnight)
	for _, d := range w.days {
		if d.weekday != wd {
			continue
		}
		if d.nth == 0 {
			return true
		}
		year, month, n, ofYear := civil(midnight)
		size := daysIn(year, month)
		if w.perYear {
			n, size = ofYear, daysOf(year)
		}
		if d.nth == (n-1)/7+1 || -d.nth == (size-n)/7+1 {
			return true
		}
	}
	return false
}

// daysOf returns the days of a year.
func daysOf(year int) int {
	return int((monthStart(year+1, time.January) - monthStart(year, time.January)) / day)
}

// weekNumber returns the number of the week that holds a day, and how many weeks
// its year has. As in ISO 8601, but with any first day, a week belongs to the
// year that holds at least four of its days.
func weekNumber(midnight int64, first time.Weekday) (number, total int) {
	year, _, _, fourth := civil(weekOf(midnight, first) + 3*day)
	// 28 December is always in the last week.
	_, _, _, last := civil(weekOf(monthStart(year, time.December)+27*day, first) + 3*day)
	return (fourth-1)/7 + 1, (last-1)/7 + 1
}
