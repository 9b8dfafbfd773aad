package busy

import (
	"errors"
	"testing"
	"time"

	"mealtrial/protocol/problem"
)

// Whatever stands in a file, Read answers with spans in the window and in order,
// or with a problem.List, and doesn't panic.
func FuzzRead(f *testing.F) {
	for _, seed := range []string{
		"",
		calendar(),
		calendar(vevent("DTSTART;VALUE=DATE:20270111")),
		calendar(ownZone, vevent("UID:a", "DTSTART;TZID=Middle:20270111T120000", "DTEND;TZID=Europe/Vienna:20270111T130000",
			"RRULE:FREQ=MONTHLY;INTERVAL=2;BYDAY=1MO,-1FR;BYHOUR=9,12;BYSETPOS=1,-1;WKST=SU;UNTIL=20280101T000000Z",
			"EXDATE;VALUE=DATE:20270111,20270112", "RDATE;VALUE=PERIOD:20270111T120000Z/PT1H30M", `SUMMARY:Lunch\, n`, " oon")),
		calendar(vevent("UID:a", "DTSTART:20270111T120000", "DURATION:P1DT2H", "RRULE:FREQ=YEARLY;COUNT=3;BYWEEKNO=1,-1;BYDAY=MO"),
			vevent("UID:a", "RECURRENCE-ID:20270111T120000", "DTSTART:20270112T120000", "SEQUENCE:1", "STATUS:CANCELLED")),
		calendar(vevent("DTSTART:20270111T120000Z", "DURATION:PT1S", "RRULE:FREQ=SECONDLY;BYYEARDAY=-1;BYMINUTE=1;BYSECOND=60")),
		calendar(vevent(`DTSTART;X="a:b;c",d;TZID="Europe/Vienna":00010101T000000`, "DURATION:P9W", "RRULE:FREQ=MONTHLY;BYMONTHDAY=31,-31;BYMONTH=2")),
		"\uFEFFBEGIN:VCALENDAR\nBEGIN:VEVENT\n\tX\xff",
	} {
		f.Add([]byte(seed))
	}
	z := zone(f, "Europe/Vienna")
	from, to := at(f, z, "2027-01-01 00:00"), at(f, z, "2027-03-01 00:00")
	f.Fuzz(func(t *testing.T, data []byte) {
		c, err := Read("own.ics", data, from, to, z)
		if err != nil {
			checkList(t, err)
			return
		}
		var last time.Time
		for _, s := range c.Spans {
			if !s.From.Before(s.To) || !s.From.Before(to) || !s.To.After(from) {
				t.Errorf("%v outside the window or of no length", s)
			}
			if s.From.Before(last) {
				t.Errorf("%v before %v", s.From, last)
			}
			last = s.From
		}
	})
}

// checkList checks that an error can be acted on.
func checkList(t *testing.T, err error) {
	t.Helper()
	var list problem.List
	if !errors.As(err, &list) || len(list) == 0 || len(list) > maxProblems {
		t.Fatalf("%T of %d", err, len(list))
	}
	for i, p := range list {
		if p.File == "" || p.Found == "" || p.Expected == "" || p.Mend == "" {
			t.Errorf("incomplete: %#v", p)
		}
		if i > 0 && p.Line < list[i-1].Line {
			t.Errorf("line %d after %d", p.Line, list[i-1].Line)
		}
	}
}
