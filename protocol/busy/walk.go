package busy

import (
	"slices"
	"time"
)

// A walker runs through the occurrences of a rule on the clock on the wall, in
// order. It knows nothing of zones, UNTIL and COUNT.
type walker struct {
	rule                   // completed from start
	start          int64   // DTSTART, wall
	origin         int64   // start of the period that holds it
	step           int64   // seconds from one period to the next, 0: months
	stepMonths     int64   // months from one period to the next
	within         []int64 // seconds of the occurrences from a base, ascending
	bases          []int64 // of the current period: its days, or its hour, minute or second
	perYear        bool    // numbers in BYDAY count within the year, not the month
	positionsFound []int   // scratch
}

// newWalker takes what a rule leaves open from its start, as RFC 5545 section
// 3.3.10 asks.
func newWalker(r rule, start int64) *walker {
	w := &walker{rule: r, start: start}
	year, month, dayOfMonth, _ := civil(start)
	if len(r.weeks)+len(r.yearDays)+len(r.monthDays)+len(r.days) == 0 {
		switch r.frequency {
		case yearly:
			w.monthDays = []int{dayOfMonth}
			if len(r.months) == 0 {
				w.months = []int{int(month)}
			}
		case monthly:
			w.monthDays = []int{dayOfMonth}
		case weekly:
			w.days = []dayRule{{weekday: weekday(start)}}
		}
	} else if len(r.weeks) > 0 && len(r.yearDays)+len(r.monthDays)+len(r.days) == 0 {
		w.days = []dayRule{{weekday: weekday(start)}}
	}
	w.perYear = r.frequency == yearly && len(r.months) == 0
	w.setWithin()
	switch r.frequency {
	case yearly:
		w.origin, w.stepMonths = monthStart(year, time.January), 12*r.interval
	case monthly:
		w.origin, w.stepMonths = monthStart(year, month), r.interval
	case weekly:
		w.origin, w.step = weekOf(start, r.weekStart), 7*day*r.interval
	case daily:
		w.origin, w.step = midnight(start), day*r.interval
	case hourly:
		w.origin, w.step = start-modulo(start, hour), hour*r.interval
	case minutely:
		w.origin, w.step = start-modulo(start, minute), minute*r.interval
	case secondly:
		w.origin, w.step = start, r.interval
	}
	return w
}

// setWithin lists the times of day of a period of a day or longer, or those
// within the hour or minute of a shorter one.
func (w *walker) setWithin() {
	times := []int64{0}
	spread := func(set []int, unit, own int64, since frequency) {
		if w.frequency >= since {
			return // these are periods, which match keeps or drops
		}
		if len(set) == 0 {
			set = []int{int(own)}
		}
		var next []int64
		for _, t := range times {
			for _, n := range set {
				next = append(next, t+int64(n)*unit)
			}
		}
		times = next
	}
	ofDay := modulo(w.start, day)
	spread(w.hours, hour, ofDay/hour, hourly)
	spread(w.minutes, minute, ofDay%hour/minute, minutely)
	spread(w.seconds, 1, ofDay%minute, secondly)
	w.within = times
}

// weekOf returns the first midnight of the week that holds wall.
func weekOf(wall int64, first time.Weekday) int64 {
	return midnight(wall) - modulo(int64(weekday(wall)-first), 7)*day
}

// period returns the start of the kth period.
func (w *walker) period(k int64) int64 {
	if w.step > 0 {
		return w.origin + k*w.step
	}
	year, month, _, _ := civil(w.origin)
	return monthStart(year, month+time.Month(k*w.stepMonths))
}

// periodAt returns the number of the period that holds wall, or 0 before all.
func (w *walker) periodAt(wall int64) int64 {
	if wall <= w.origin {
		return 0
	}
	if w.step > 0 {
		return (wall - w.origin) / w.step
	}
	year, month, _, _ := civil(wall)
	year0, month0, _, _ := civil(w.origin)
	return (int64(year-year0)*12 + int64(month-month0)) / w.stepMonths
}

// walk yields the occurrences after the start from one wall time to before
// another until yield returns false. Each step costs one of work; walk returns
// false when there is none left.
func (w *walker) walk(from, to int64, work *int, yield func(wall int64) bool) bool {
	*work -= len(w.within)
	for k := w.periodAt(from); ; {
		begin := w.period(k)
		if begin >= to {
			return true
		}
		if *work--; *work < 0 {
			return false
		}
		next, blocked := w.fill(begin, work)
		for i, n := 0, w.size(); i < n; i++ {
			if *work--; *work < 0 {
				return false
			}
			wall := w.at(i)
			if wall >= to {
				return true
			}
			if wall > w.start && wall >= from && !yield(wall) {
				return true
			}
		}
		k++
		if blocked {
			k = max(k, (next-w.origin+w.step-1)/w.step)
		}
	}
}

// fill sets the bases of the period that starts at begin. A period shorter than a
// day that doesn't match is blocked: no other can match before next, wall.
func (w *walker) fill(begin int64, work *int) (next int64, blocked bool) {
	w.bases = w.bases[:0]
	switch w.frequency {
	case yearly, monthly:
		w.fillMonths(begin, work)
	case weekly:
		for d := begin; d < begin+7*day; d += day {
			w.fillDay(d)
		}
	case daily:
		w.fillDay(begin)
	default:
		if next, blocked = w.blocked(begin); !blocked {
			w.bases = append(w.bases, begin)
		}
	}
	w.place()
	return next, blocked
}

// blocked says whether a period shorter than a day doesn't match, and returns the
// start of the next unit that might.
func (w *walker) blocked(begin int64) (next int64, blocked bool) {
	ofDay := modulo(begin, day)
	switch {
	case !w.matches(begin - ofDay):
		return begin - ofDay + day, true
	case !allows(w.hours, ofDay/hour):
		return begin - ofDay%hour + hour, true
	case w.frequency > hourly && !allows(w.minutes, ofDay%hour/minute):
		return begin - ofDay%minute + minute, true
	case w.frequency > minutely && !allows(w.seconds, ofDay%minute):
		return begin + 1, true
	}
	return 0, false
}

func allows(set []int, n int64) bool { return len(set) == 0 || slices.Contains(set, int(n)) }

// fillMonths goes through one month or the months of a year.
func (w *walker) fillMonths(begin int64, work *int) {
	year, month, _, _ := civil(begin)
	last := month
	if w.frequency == yearly {
		last = month + 11
	}
	for ; month <= last; month++ {
		if !allows(w.months, int64(month)) {
			continue
		}
		first, length := monthStart(year, month), daysIn(year, month)
		if len(w.monthDays) == 0 {
			*work -= length
			for n := range length {
				w.fillDay(first + int64(n)*day)
			}
			continue
		}
		from := len(w.bases)
		for _, n := range w.monthDays {
			*work--
			if n < 0 {
				n += length + 1
			}
			if n >= 1 && n <= length {
				w.fillDay(first + int64(n-1)*day)
			}
		}
		slices.Sort(w.bases[from:]) // 30 and -1 may be out of order, or one day
		w.bases = slices.Compact(w.bases)
	}
}

func (w *walker) fillDay(midnight int64) {
	if w.matches(midnight) {
		w.bases = append(w.bases, midnight)
	}
}

// place finds which occurrences of the period BYSETPOS picks.
func (w *walker) place() {
	if len(w.positions) == 0 {
		return
	}
	w.positionsFound = w.positionsFound[:0]
	n := len(w.bases) * len(w.within)
	for _, p := range w.positions {
		if p < 0 {
			p += n + 1
		}
		if p >= 1 && p <= n {
			w.positionsFound = append(w.positionsFound, p-1)
		}
	}
	slices.Sort(w.positionsFound)
	w.positionsFound = slices.Compact(w.positionsFound)
}

// size returns how many occurrences the period has.
func (w *walker) size() int {
	if len(w.positions) > 0 {
		return len(w.positionsFound)
	}
	return len(w.bases) * len(w.within)
}

// at returns the ith occurrence of the period.
func (w *walker) at(i int) int64 {
	if len(w.positions) > 0 {
		i = w.positionsFound[i]
	}
	return w.bases[i/len(w.within)] + w.within[i%len(w.within)]
}
