package busy

import (
	"strconv"
	"strings"
	"time"
)

// A stamp is a DATE or DATE-TIME value as written (RFC 5545 sections 3.3.4 and
// 3.3.5); a date's wall is its midnight.
type stamp struct {
	wall int64
	date bool // without a time of day
	utc  bool // with the suffix Z
}

const (
	stampExpected = "a date such as 20270111 or a time such as 20270111T123000Z"
	stampMend     = "write year, month and day, then T, hours, minutes and seconds"
)

// parseStamp reads a DATE or DATE-TIME, told apart by their form.
func parseStamp(text string) (stamp, *mistake) {
	wrong := &mistake{found: quote(text), expected: stampExpected, mend: stampMend}
	text = strings.TrimSpace(text)
	var s stamp
	switch {
	case len(text) == 8:
		s.date = true
	case len(text) == 16 && text[15]|0x20 == 'z':
		s.utc = true
		text = text[:15]
	}
	if !s.date && (len(text) != 15 || text[8]|0x20 != 't') {
		return stamp{}, wrong
	}
	year, ok1 := digits(text[0:4])
	month, ok2 := digits(text[4:6])
	dayOfMonth, ok3 := digits(text[6:8])
	if !ok1 || !ok2 || !ok3 || year < 1 || month < 1 || month > 12 || dayOfMonth < 1 {
		return stamp{}, wrong
	}
	if dayOfMonth > 28 && dayOfMonth > daysIn(year, time.Month(month)) {
		return stamp{}, wrong
	}
	s.wall = monthStart(year, time.Month(month)) + int64(dayOfMonth-1)*day
	if s.date {
		return s, nil
	}
	hours, ok1 := digits(text[9:11])
	minutes, ok2 := digits(text[11:13])
	seconds, ok3 := digits(text[13:15])
	if !ok1 || !ok2 || !ok3 || hours > 23 || minutes > 59 || seconds > 60 {
		return stamp{}, wrong
	}
	// A leap second is read as the one before (section 3.3.12).
	s.wall += int64(hours)*hour + int64(minutes)*minute + int64(min(seconds, 59))
	return s, nil
}

// digits reads text of decimal digits only.
func digits(text string) (n int, ok bool) {
	for i := 0; i < len(text); i++ {
		if text[i] < '0' || text[i] > '9' {
			return 0, false
		}
		n = n*10 + int(text[i]-'0')
	}
	return n, text != ""
}

func daysIn(year int, month time.Month) int {
	return int((monthStart(year, month+1) - monthStart(year, month)) / day)
}

// A span of time to add to a start: days on the wall clock, then exact seconds.
type length struct{ days, seconds int64 }

func (l length) zero() bool { return l == length{} }

// after returns the end of something that starts at a moment when c shows wall.
func (l length) after(c clock, at, wall int64) int64 {
	if l.days == 0 {
		return at + l.seconds
	}
	end, _ := moment(c, wall+l.days*day)
	return end + l.seconds
}

// longest returns at least the seconds that the length can take on any clock.
func (l length) longest() int64 { return (l.days+2)*day + l.seconds }

// parseLength reads a DURATION (RFC 5545 section 3.3.6): weeks and days are
// nominal, hours, minutes and seconds exact. Negative ones are refused.
func parseLength(text string) (length, *mistake) {
	wrong := &mistake{
		found:    quote(text),
		expected: "a length such as PT1H30M, P1D or P2W, up to 1000 years",
		mend:     "write P, days, then T, hours H, minutes M and seconds S",
	}
	rest := strings.TrimPrefix(strings.ToUpper(strings.TrimSpace(text)), "+")
	rest, ok := strings.CutPrefix(rest, "P")
	if !ok || rest == "" {
		return length{}, wrong
	}
	var l length
	units := "WDT" // those that may still come
	for rest != "" {
		if rest[0] == 'T' && strings.Contains(units, "T") && len(rest) > 1 {
			units, rest = "HMS", rest[1:]
			continue
		}
		end := strings.IndexFunc(rest, func(c rune) bool { return c < '0' || c > '9' })
		if end < 1 || end > 12 {
			return length{}, wrong
		}
		n, err := strconv.ParseInt(rest[:end], 10, 64)
		place := strings.IndexByte(units, rest[end])
		if err != nil || place < 0 {
			return length{}, wrong
		}
		switch rest[end] {
		case 'W':
			l.days += 7 * n
		case 'D':
			l.days += n
		case 'H':
			l.seconds += n * hour
		case 'M':
			l.seconds += n * minute
		case 'S':
			l.seconds += n
		}
		units, rest = units[place+1:], rest[end+1:]
	}
	const most = 1000 * 366 // days
	if l.days > most || l.seconds > most*day {
		return length{}, wrong
	}
	return l, nil
}

// parseOffset reads a UTC-OFFSET such as +0100 (RFC 5545 section 3.3.14), in
// seconds ahead of UTC.
func parseOffset(text string) (int64, *mistake) {
	wrong := &mistake{found: quote(text), expected: "an offset such as +0100 or -0530", mend: "write the sign, hours and minutes"}
	text = strings.TrimSpace(text)
	if len(text) != 5 && len(text) != 7 || text[0] != '+' && text[0] != '-' {
		return 0, wrong
	}
	hours, ok1 := digits(text[1:3])
	minutes, ok2 := digits(text[3:5])
	seconds, ok3 := 0, true
	if len(text) == 7 {
		seconds, ok3 = digits(text[5:7])
	}
	if !ok1 || !ok2 || !ok3 || hours > 23 || minutes > 59 || seconds > 59 {
		return 0, wrong
	}
	total := int64(hours)*hour + int64(minutes)*minute + int64(seconds)
	if text[0] == '-' {
		total = -total
	}
	return total, nil
}
