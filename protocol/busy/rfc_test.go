package busy

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// The examples of RFC 5545 section 3.8.5.3, looked up in its text. All start at
// a time in America/New_York; want lists their first occurrences, as "year month
// days; month days", at the hour of DTSTART. Endless ones end with "...".
var rfcExamples = []struct {
	name  string
	start string
	rules string // one or, by "or", several that mean the same
	want  string
}{
	{"daily for 10 occurrences", "19970902T090000", "FREQ=DAILY;COUNT=10", "1997 9 2-11"},
	{"daily until December 24, 1997", "19970902T090000", "FREQ=DAILY;UNTIL=19971224T000000Z", "1997 9 2-30; 10 1-31; 11 1-30; 12 1-23"},
	{"every other day", "19970902T090000", "FREQ=DAILY;INTERVAL=2", "1997 9 2,4,6,8,10,12,14,16,18,20,22,24,26,28,30; 10 2,4,6,8,10,12,14,16,18,20,22,24,26,28,30; 11 1,3,5,7,9,11,13,15,17,19,21,23,25,27,29; 12 1,3 ..."},
	{"every 10 days, 5 occurrences", "19970902T090000", "FREQ=DAILY;INTERVAL=10;COUNT=5", "1997 9 2,12,22; 10 2,12"},
	{"every day in January, for 3 years", "19980101T090000", "FREQ=YEARLY;UNTIL=20000131T140000Z;BYMONTH=1;BYDAY=SU,MO,TU,WE,TH,FR,SA or FREQ=DAILY;UNTIL=20000131T140000Z;BYMONTH=1", "1998 1 1-31; 1999 1 1-31; 2000 1 1-31"},
	{"weekly for 10 occurrences", "19970902T090000", "FREQ=WEEKLY;COUNT=10", "1997 9 2,9,16,23,30; 10 7,14,21,28; 11 4"},
	{"weekly until December 24, 1997", "19970902T090000", "FREQ=WEEKLY;UNTIL=19971224T000000Z", "1997 9 2,9,16,23,30; 10 7,14,21,28; 11 4,11,18,25; 12 2,9,16,23"},
	{"every other week", "19970902T090000", "FREQ=WEEKLY;INTERVAL=2;WKST=SU", "1997 9 2,16,30; 10 14,28; 11 11,25; 12 9,23; 1998 1 6,20; 2 3,17 ..."},
	{"weekly on Tuesday and Thursday for five weeks", "19970902T090000", "FREQ=WEEKLY;UNTIL=19971007T000000Z;WKST=SU;BYDAY=TU,TH or FREQ=WEEKLY;COUNT=10;WKST=SU;BYDAY=TU,TH", "1997 9 2,4,9,11,16,18,23,25,30; 10 2"},
	{"every other week on Monday, Wednesday, and Friday", "19970901T090000", "FREQ=WEEKLY;INTERVAL=2;UNTIL=19971224T000000Z;WKST=SU;BYDAY=MO,WE,FR", "1997 9 1,3,5,15,17,19,29; 10 1,3,13,15,17,27,29,31; 11 10,12,14,24,26,28; 12 8,10,12,22"},
	{"every other week on Tuesday and Thursday, for 8 occurrences", "19970902T090000", "FREQ=WEEKLY;INTERVAL=2;COUNT=8;WKST=SU;BYDAY=TU,TH", "1997 9 2,4,16,18,30; 10 2,14,16"},
	{"monthly on the first Friday for 10 occurrences", "19970905T090000", "FREQ=MONTHLY;COUNT=10;BYDAY=1FR", "1997 9 5; 10 3; 11 7; 12 5; 1998 1 2; 2 6; 3 6; 4 3; 5 1; 6 5"},
	{"monthly on the first Friday until December 24, 1997", "19970905T090000", "FREQ=MONTHLY;UNTIL=19971224T000000Z;BYDAY=1FR", "1997 9 5; 10 3; 11 7; 12 5"},
	{"every other month on the first and last Sunday", "19970907T090000", "FREQ=MONTHLY;INTERVAL=2;COUNT=10;BYDAY=1SU,-1SU", "1997 9 7,28; 11 2,30; 1998 1 4,25; 3 1,29; 5 3,31"},
	{"monthly on the second-to-last Monday for 6 months", "19970922T090000", "FREQ=MONTHLY;COUNT=6;BYDAY=-2MO", "1997 9 22; 10 20; 11 17; 12 22; 1998 1 19; 2 16"},
	{"monthly on the third-to-the-last day", "19970928T090000", "FREQ=MONTHLY;BYMONTHDAY=-3", "1997 9 28; 10 29; 11 28; 12 29; 1998 1 29; 2 26 ..."},
	{"monthly on the 2nd and 15th", "19970902T090000", "FREQ=MONTHLY;COUNT=10;BYMONTHDAY=2,15", "1997 9 2,15; 10 2,15; 11 2,15; 12 2,15; 1998 1 2,15"},
	{"monthly on the first and last day", "19970930T090000", "FREQ=MONTHLY;COUNT=10;BYMONTHDAY=1,-1", "1997 9 30; 10 1,31; 11 1,30; 12 1,31; 1998 1 1,31; 2 1"},
	{"every 18 months on the 10th thru 15th", "19970910T090000", "FREQ=MONTHLY;INTERVAL=18;COUNT=10;BYMONTHDAY=10,11,12,13,14,15", "1997 9 10-15; 1999 3 10-13"},
	{"every Tuesday, every other month", "19970902T090000", "FREQ=MONTHLY;INTERVAL=2;BYDAY=TU", "1997 9 2,9,16,23,30; 11 4,11,18,25; 1998 1 6,13,20,27; 3 3,10,17,24,31 ..."},
	{"yearly in June and July", "19970610T090000", "FREQ=YEARLY;COUNT=10;BYMONTH=6,7", "1997 6 10; 7 10; 1998 6 10; 7 10; 1999 6 10; 7 10; 2000 6 10; 7 10; 2001 6 10; 7 10"},
	{"every other year on January, February, and March", "19970310T090000", "FREQ=YEARLY;INTERVAL=2;COUNT=10;BYMONTH=1,2,3", "1997 3 10; 1999 1 10; 2 10; 3 10; 2001 1 10; 2 10; 3 10; 2003 1 10; 2 10; 3 10"},
	{"every third year on the 1st, 100th, and 200th day", "19970101T090000", "FREQ=YEARLY;INTERVAL=3;COUNT=10;BYYEARDAY=1,100,200", "1997 1 1; 4 10; 7 19; 2000 1 1; 4 9; 7 18; 2003 1 1; 4 10; 7 19; 2006 1 1"},
	{"every 20th Monday of the year", "19970519T090000", "FREQ=YEARLY;BYDAY=20MO", "1997 5 19; 1998 5 18; 1999 5 17 ..."},
	{"Monday of week number 20", "19970512T090000", "FREQ=YEARLY;BYWEEKNO=20;BYDAY=MO", "1997 5 12; 1998 5 11; 1999 5 17 ..."},
	{"every Thursday in March", "19970313T090000", "FREQ=YEARLY;BYMONTH=3;BYDAY=TH", "1997 3 13,20,27; 1998 3 5,12,19,26; 1999 3 4,11,18,25 ..."},
	{"every Thursday in June, July, and August", "19970605T090000", "FREQ=YEARLY;BYDAY=TH;BYMONTH=6,7,8", "1997 6 5,12,19,26; 7 3,10,17,24,31; 8 7,14,21,28; 1998 6 4,11,18,25; 7 2,9,16,23,30; 8 6,13,20,27; 1999 6 3,10,17,24; 7 1,8,15,22,29; 8 5,12,19,26 ..."},
	{"every Friday the 13th", "19970902T090000", "FREQ=MONTHLY;BYDAY=FR;BYMONTHDAY=13\nEXDATE;TZID=America/New_York:19970902T090000", "1998 2 13; 3 13; 11 13; 1999 8 13; 2000 10 13 ..."},
	{"the first Saturday that follows the first Sunday", "19970913T090000", "FREQ=MONTHLY;BYDAY=SA;BYMONTHDAY=7,8,9,10,11,12,13", "1997 9 13; 10 11; 11 8; 12 13; 1998 1 10; 2 7; 3 7; 4 11; 5 9; 6 13 ..."},
	{"the first Tuesday after a Monday in November, every 4 years", "19961105T090000", "FREQ=YEARLY;INTERVAL=4;BYMONTH=11;BYDAY=TU;BYMONTHDAY=2,3,4,5,6,7,8", "1996 11 5; 2000 11 7; 2004 11 2 ..."},
	{"the third of Tuesday, Wednesday, or Thursday", "19970904T090000", "FREQ=MONTHLY;COUNT=3;BYDAY=TU,WE,TH;BYSETPOS=3", "1997 9 4; 10 7; 11 6"},
	{"the second-to-last weekday of the month", "19970929T090000", "FREQ=MONTHLY;BYDAY=MO,TU,WE,TH,FR;BYSETPOS=-2", "1997 9 29; 10 30; 11 27; 12 30; 1998 1 29; 2 26; 3 30 ..."},
	{"weeks that start on Monday", "19970805T090000", "FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=MO", "1997 8 5,10,19,24"},
	{"weeks that start on Sunday", "19970805T090000", "FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=SU", "1997 8 5,17,19,31"},
	{"an invalid date is ignored", "20070115T090000", "FREQ=MONTHLY;BYMONTHDAY=15,30;COUNT=5", "2007 1 15,30; 2 15; 3 15,30"},
}

func TestRFCExamples(t *testing.T) {
	for _, c := range rfcExamples {
		for rule := range strings.SplitSeq(c.rules, " or ") {
			t.Run(c.name, func(t *testing.T) {
				want := rfcDates(t, c.want)
				got := rfcStarts(t, c.start, rule, "2010-01-01 00:00")
				if strings.HasSuffix(c.want, "...") && len(got) > len(want) {
					got = got[:len(want)]
				}
				if d := cmp.Diff(want, got); d != "" {
					t.Errorf("(-want +got):\n%s", d)
				}
			})
		}
	}
}

// The same section's rules within a day; want as HH:MM on 2 and 3 September 1997.
func TestRFCExamplesWithinDays(t *testing.T) {
	for _, c := range []struct{ name, rule, until, want string }{
		// The text has UNTIL=19970902T170000Z, 13:00 in New York, but lists 15:00:
		// the title's 5:00 PM is 21:00 UTC.
		{"every 3 hours from 9:00 AM to 5:00 PM", "FREQ=HOURLY;INTERVAL=3;UNTIL=19970902T210000Z", "2010-01-01 00:00", "2 09:00,2 12:00,2 15:00"},
		{"every 15 minutes for 6 occurrences", "FREQ=MINUTELY;INTERVAL=15;COUNT=6", "2010-01-01 00:00", "2 09:00,2 09:15,2 09:30,2 09:45,2 10:00,2 10:15"},
		{"every hour and a half for 4 occurrences", "FREQ=MINUTELY;INTERVAL=90;COUNT=4", "2010-01-01 00:00", "2 09:00,2 10:30,2 12:00,2 13:30"},
		{"every 20 minutes, by the day", "FREQ=DAILY;BYHOUR=9,10,11,12,13,14,15,16;BYMINUTE=0,20,40", "1997-09-04 00:00", twentyMinutes()},
		{"every 20 minutes, by the minute", "FREQ=MINUTELY;INTERVAL=20;BYHOUR=9,10,11,12,13,14,15,16", "1997-09-04 00:00", twentyMinutes()},
	} {
		t.Run(c.name, func(t *testing.T) {
			var got []string
			for _, s := range rfcStarts(t, "19970902T090000", c.rule, c.until) {
				got = append(got, strings.TrimPrefix(s, "1997-09-0"))
			}
			if d := cmp.Diff(strings.Split(c.want, ","), got); d != "" {
				t.Errorf("(-want +got):\n%s", d)
			}
		})
	}
}

func twentyMinutes() string {
	var times []string
	for d := 2; d <= 3; d++ {
		for h := 9; h <= 16; h++ {
			for m := 0; m < 60; m += 20 {
				times = append(times, fmt.Sprintf("%d %02d:%02d", d, h, m))
			}
		}
	}
	return strings.Join(times, ",")
}

// rfcStarts gives the starts of a rule on the clock of New York. Each must be at
// the wall time of the rule, whatever the season.
func rfcStarts(t *testing.T, start, rule, until string) []string {
	t.Helper()
	z := zone(t, "America/New_York")
	text := calendar(vevent("DTSTART;TZID=America/New_York:"+start, "DURATION:PT10M", "RRULE:"+rule))
	c, err := Read("own.ics", []byte(text), at(t, z, "1990-01-01 00:00"), at(t, z, until), z)
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, s := range c.Spans {
		out = append(out, s.From.Format(layoutTime))
	}
	return out
}

// rfcDates spells out the dates of an example, at 09:00.
func rfcDates(t *testing.T, text string) []string {
	t.Helper()
	var out []string
	var year, month int
	for part := range strings.SplitSeq(strings.TrimSuffix(text, " ..."), "; ") {
		fields := strings.Fields(part)
		if len(fields) == 3 {
			fmt.Sscan(fields[0], &year)
			fields = fields[1:]
		}
		fmt.Sscan(fields[0], &month)
		for item := range strings.SplitSeq(fields[1], ",") {
			var first, last int
			if n, _ := fmt.Sscanf(item, "%d-%d", &first, &last); n == 1 {
				last = first
			}
			for d := first; d <= last; d++ {
				out = append(out, time.Date(year, time.Month(month), d, 9, 0, 0, 0, time.UTC).Format(layoutTime))
			}
		}
	}
	return out
}
