package busy

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
)

// A frequency is the FREQ of a rule, from the longest period to the shortest.
type frequency int

const (
	yearly frequency = iota + 1
	monthly
	weekly
	daily
	hourly
	minutely
	secondly
)

var frequencies = map[string]frequency{
	"YEARLY": yearly, "MONTHLY": monthly, "WEEKLY": weekly, "DAILY": daily,
	"HOURLY": hourly, "MINUTELY": minutely, "SECONDLY": secondly,
}

var weekdays = map[string]time.Weekday{
	"SU": time.Sunday, "MO": time.Monday, "TU": time.Tuesday, "WE": time.Wednesday,
	"TH": time.Thursday, "FR": time.Friday, "SA": time.Saturday,
}

// A dayRule is one value of BYDAY: every such weekday, or with nth the nth one
// of the month or year, counted from its end when negative.
type dayRule struct {
	weekday time.Weekday
	nth     int
}

// A rule is an RRULE (RFC 5545 section 3.3.10). Lists are sorted, each value once.
type rule struct {
	line      int
	frequency frequency
	interval  int64
	count     int64  // 0: none
	until     *stamp // nil: none
	weekStart time.Weekday

	months, weeks, yearDays, monthDays []int
	days                               []dayRule
	hours, minutes, seconds            []int
	positions                          []int
}

// mostRepeats bounds INTERVAL and COUNT, so that no product overflows.
const mostRepeats = 1_000_000_000

// parseRule reads an RRULE and checks that its parts fit together.
func parseRule(text string) (rule, *mistake) {
	r := rule{interval: 1, weekStart: time.Monday}
	seen := map[string]bool{}
	for part := range strings.SplitSeq(strings.TrimSpace(text), ";") {
		if part == "" {
			continue // a trailing semicolon changes nothing
		}
		name, value, ok := strings.Cut(strings.ToUpper(part), "=")
		if !ok || seen[name] {
			return rule{}, &mistake{found: quote(part), expected: "parts such as FREQ=WEEKLY, each once", mend: "write the rule as NAME=value;NAME=value"}
		}
		seen[name] = true
		if m := r.set(name, value); m != nil {
			return rule{}, m
		}
	}
	if r.frequency == 0 {
		return rule{}, &mistake{found: quote(text), expected: "a rule with FREQ", mend: "add for example FREQ=WEEKLY"}
	}
	if m := r.check(); m != nil {
		m.found = quote(text)
		return rule{}, m
	}
	return r, nil
}

// set reads one part of a rule.
func (r *rule) set(name, value string) *mistake {
	var ok bool
	expected := ""
	switch name {
	case "FREQ":
		r.frequency, ok = frequencies[value]
		expected = "YEARLY, MONTHLY, WEEKLY, DAILY, HOURLY, MINUTELY or SECONDLY"
	case "INTERVAL":
		r.interval, ok = repeats(value)
		expected = fmt.Sprintf("a whole number from 1 to %d", mostRepeats)
	case "COUNT":
		r.count, ok = repeats(value)
		expected = fmt.Sprintf("a whole number from 1 to %d", mostRepeats)
	case "UNTIL":
		s, m := parseStamp(value)
		r.until, ok = &s, m == nil
		expected = stampExpected
	case "WKST":
		r.weekStart, ok = weekdays[value]
		expected = "MO, TU, WE, TH, FR, SA or SU"
	case "BYDAY":
		r.days, ok = dayList(value)
		expected = "weekdays such as MO,WE or 1FR,-1SU"
	default:
		if strings.HasPrefix(name, "X-") {
			return nil
		}
		return r.setList(name, value)
	}
	if !ok {
		return &mistake{found: quote(name + "=" + value), expected: expected, mend: "mend " + name}
	}
	return nil
}

// setList reads one of the parts that are lists of whole numbers.
func (r *rule) setList(name, value string) *mistake {
	lists := map[string]struct {
		list      *[]int
		low, high int
		negative  bool
	}{
		"BYMONTH":    {&r.months, 1, 12, false},
		"BYWEEKNO":   {&r.weeks, 1, 53, true},
		"BYYEARDAY":  {&r.yearDays, 1, 366, true},
		"BYMONTHDAY": {&r.monthDays, 1, 31, true},
		"BYHOUR":     {&r.hours, 0, 23, false},
		"BYMINUTE":   {&r.minutes, 0, 59, false},
		"BYSECOND":   {&r.seconds, 0, 60, false},
		"BYSETPOS":   {&r.positions, 1, 366, true},
	}
	l, known := lists[name]
	if !known {
		return &mistake{found: quote(name), expected: "a part of a rule such as BYDAY", mend: "take this part out"}
	}
	expected := fmt.Sprintf("whole numbers from %d to %d", l.low, l.high)
	if l.negative {
		expected += ", or negative to count from the end"
	}
	for item := range strings.SplitSeq(value, ",") {
		n, err := strconv.Atoi(item)
		size := n
		if l.negative && n < 0 {
			size = -n
		}
		if err != nil || size < l.low || size > l.high {
			return &mistake{found: quote(name + "=" + value), expected: expected, mend: "mend " + name}
		}
		if name == "BYSECOND" && n == 60 {
			n = 59 // section 3.3.12
		}
		*l.list = append(*l.list, n)
	}
	slices.Sort(*l.list)
	*l.list = slices.Compact(*l.list)
	return nil
}

func repeats(value string) (int64, bool) {
	if len(value) > 10 {
		return 0, false
	}
	n, ok := digits(value)
	return int64(n), ok && n >= 1 && n <= mostRepeats
}

func dayList(value string) (days []dayRule, ok bool) {
	for item := range strings.SplitSeq(value, ",") {
		if len(item) < 2 {
			return nil, false
		}
		split := len(item) - 2
		wd, ok := weekdays[item[split:]]
		if !ok {
			return nil, false
		}
		d := dayRule{weekday: wd}
		if split > 0 {
			n, err := strconv.Atoi(item[:split])
			if err != nil || n == 0 || n < -53 || n > 53 {
				return nil, false
			}
			d.nth = n
		}
		if !slices.Contains(days, d) {
			days = append(days, d)
		}
	}
	return days, true
}

// check refuses the combinations that RFC 5545 section 3.3.10 rules out.
func (r *rule) check() *mistake {
	numbered := slices.ContainsFunc(r.days, func(d dayRule) bool { return d.nth != 0 })
	switch f := r.frequency; {
	case r.count > 0 && r.until != nil:
		return &mistake{expected: "COUNT or UNTIL, not both", mend: "take one of them out"}
	case numbered && f != yearly && f != monthly:
		return &mistake{expected: "numbers in BYDAY in yearly and monthly rules only", mend: "write the weekday without its number"}
	case numbered && len(r.weeks) > 0:
		return &mistake{expected: "no numbers in BYDAY beside BYWEEKNO", mend: "write the weekday without its number"}
	case len(r.weeks) > 0 && f != yearly:
		return &mistake{expected: "BYWEEKNO in yearly rules only", mend: "take BYWEEKNO out"}
	case len(r.yearDays) > 0 && (f == monthly || f == weekly || f == daily):
		return &mistake{expected: "no BYYEARDAY in monthly, weekly and daily rules", mend: "take BYYEARDAY out"}
	case len(r.monthDays) > 0 && f == weekly:
		return &mistake{expected: "no BYMONTHDAY in weekly rules", mend: "take BYMONTHDAY out"}
	case len(r.positions) > 0 && !r.limited():
		return &mistake{expected: "another BY part beside BYSETPOS", mend: "add for example BYDAY=MO"}
	}
	return nil
}

// limited says whether the rule has a BY part other than BYSETPOS.
func (r *rule) limited() bool {
	return len(r.months)+len(r.weeks)+len(r.yearDays)+len(r.monthDays)+len(r.days)+
		len(r.hours)+len(r.minutes)+len(r.seconds) > 0
}

// past says whether an occurrence comes after UNTIL. The form of UNTIL decides
// what is compared: moments, wall times or dates. Where a rule on dates has a
// time as UNTIL, which section 3.3.10 forbids, the reading that ends it later is
// taken: rather a day too much busy than one too few.
func (r *rule) past(wall, at int64, onDates bool) bool {
	switch u := r.until; {
	case u == nil:
		return false
	case u.date:
		return midnight(wall) > u.wall
	case onDates:
		return wall > midnight(u.wall) && (!u.utc || at > u.wall)
	case u.utc:
		return at > u.wall
	default:
		return wall > u.wall
	}
}
