package busy

import (
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// Vienna's clocks go forward on 28 March and back on 31 October 2027.
func TestWallClockAcrossChanges(t *testing.T) {
	z := zone(t, "Europe/Vienna")
	text := calendar(vevent("DTSTART;TZID=Europe/Vienna:20270321T120000", "DURATION:PT1H", "RRULE:FREQ=WEEKLY", "SUMMARY:Lunch"))
	for _, c := range []struct {
		from, to string
		want     []string
	}{
		{"2027-03-20 00:00", "2027-04-05 00:00", []string{"2027-03-21 12:00:00 +0100", "2027-03-28 12:00:00 +0200", "2027-04-04 12:00:00 +0200"}},
		{"2027-10-24 00:00", "2027-11-08 00:00", []string{"2027-10-24 12:00:00 +0200", "2027-10-31 12:00:00 +0100", "2027-11-07 12:00:00 +0100"}},
	} {
		got, err := Read("own.ics", []byte(text), at(t, z, c.from), at(t, z, c.to), z)
		if err != nil {
			t.Fatal(err)
		}
		var starts []string
		for _, s := range got.Spans {
			starts = append(starts, s.From.Format(layoutLong))
		}
		if d := cmp.Diff(c.want, starts); d != "" {
			t.Errorf("(-want +got):\n%s", d)
		}
	}
}

func TestRecurrence(t *testing.T) {
	lunch := func(lines ...string) string {
		return calendar(vevent(append([]string{"DTSTART;TZID=Europe/Vienna:20270326T120000", "DURATION:PT1H"}, lines...)...))
	}
	span := func(days ...string) (out []string) {
		for _, d := range days {
			out = append(out, d+" 12:00/"+d+" 13:00")
		}
		return out
	}
	for _, c := range []struct {
		name, text string
		want       []string
	}{
		{"EXDATE of several times", lunch("RRULE:FREQ=DAILY;COUNT=5", "EXDATE;TZID=Europe/Vienna:20270327T120000,20270329T120000", "EXDATE:20270330T100000Z"), span("2027-03-26", "2027-03-28")},
		{"EXDATE of dates", lunch("RRULE:FREQ=DAILY;COUNT=4", "EXDATE;VALUE=DATE:20270327,20270329"), span("2027-03-26", "2027-03-28")},
		{"EXDATE of DTSTART", lunch("RRULE:FREQ=DAILY;COUNT=2", "EXDATE;TZID=Europe/Vienna:20270326T120000"), span("2027-03-27")},
		{"EXDATE at another time", lunch("RRULE:FREQ=DAILY;COUNT=2", "EXDATE;TZID=Europe/Vienna:20270327T130000"), span("2027-03-26", "2027-03-27")},
		{"RDATE", lunch("RDATE;TZID=Europe/Vienna:20270401T120000,20270330T120000", "RDATE:20270331T100000Z"), span("2027-03-26", "2027-03-30", "2027-03-31", "2027-04-01")},
		{"RDATE without its date", lunch("RDATE:20270331T100000Z", "EXDATE;VALUE=DATE:20270331"), span("2027-03-26")},
		{"RDATE of an occurrence", lunch("RRULE:FREQ=DAILY;COUNT=2", "RDATE;TZID=Europe/Vienna:20270327T120000"), span("2027-03-26", "2027-03-27")},
		{"RDATE of periods", lunch("RDATE;VALUE=PERIOD:20270401T100000Z/20270401T113000Z,20270402T100000Z/PT5M"), []string{"2027-03-26 12:00/2027-03-26 13:00", "2027-04-01 12:00/2027-04-01 13:30", "2027-04-02 12:00/2027-04-02 12:05"}},
		{"UNTIL in UTC includes its moment", lunch("RRULE:FREQ=DAILY;UNTIL=20270328T100000Z"), span("2027-03-26", "2027-03-27", "2027-03-28")},
		{"UNTIL in UTC, a second before", lunch("RRULE:FREQ=DAILY;UNTIL=20270328T095959Z"), span("2027-03-26", "2027-03-27")},
		{"UNTIL floating", lunch("RRULE:FREQ=DAILY;UNTIL=20270328T120000"), span("2027-03-26", "2027-03-27", "2027-03-28")},
		{"UNTIL a date", lunch("RRULE:FREQ=DAILY;UNTIL=20270328"), span("2027-03-26", "2027-03-27", "2027-03-28")},
		{"DTSTART counts though the rule passes it over", lunch("RRULE:FREQ=WEEKLY;COUNT=2;BYDAY=MO"), span("2027-03-26", "2027-03-29")},
		{"two rules", lunch("RRULE:FREQ=WEEKLY;COUNT=2", "RRULE:FREQ=DAILY;COUNT=2"), span("2027-03-26", "2027-03-27", "2027-04-02")},
		{"ended before the window", calendar(vevent("DTSTART:20200101T120000", "DURATION:PT1H", "RRULE:FREQ=DAILY;UNTIL=20261231")), nil},
		{"counted out before the window", calendar(vevent("DTSTART:20261229T120000", "DURATION:PT1H", "RRULE:FREQ=DAILY;COUNT=4")), span("2027-01-01")},
		{"dates", calendar(vevent("DTSTART;VALUE=DATE:20270326", "DTEND;VALUE=DATE:20270328", "RRULE:FREQ=WEEKLY;UNTIL=20270402", "EXDATE;VALUE=DATE:20270409")), []string{"2027-03-26 00:00/2027-03-28 00:00", "2027-04-02 00:00/2027-04-04 00:00"}},
		{"dates until a time", calendar(vevent("DTSTART;VALUE=DATE:20270326", "RRULE:FREQ=DAILY;UNTIL=20270326T230000Z")), []string{"2027-03-26 00:00/2027-03-27 00:00", "2027-03-27 00:00/2027-03-28 00:00"}},
		{"dates with times as EXDATE", calendar(vevent("DTSTART;VALUE=DATE:20270326", "RRULE:FREQ=DAILY;COUNT=3", "EXDATE:20270327T000000", "EXDATE:20270327T230000Z")), []string{"2027-03-26 00:00/2027-03-27 00:00"}},
		{"29 February", calendar(vevent("DTSTART;VALUE=DATE:20200229", "RRULE:FREQ=YEARLY")), nil},
		{"the weekday of a week number", calendar(vevent("DTSTART:20270114T120000", "DURATION:PT1H", "RRULE:FREQ=YEARLY;BYWEEKNO=2,-1")), span("2027-01-14", "2027-12-30")},
		{"a trailing semicolon and small letters", lunch("RRULE:freq=daily;count=2;"), span("2027-03-26", "2027-03-27")},
	} {
		t.Run(c.name, func(t *testing.T) { wantSpans(t, c.text, c.want...) })
	}
}

// Seconds before 1970 are negative; nothing may hang on that.
func TestBefore1970(t *testing.T) {
	z := zone(t, "Europe/Vienna")
	for _, c := range []struct {
		rule string
		want []string // starts
	}{
		{"FREQ=YEARLY;COUNT=3", []string{"1968-12-30 12:00", "1969-12-30 12:00", "1970-12-30 12:00"}},
		{"FREQ=MONTHLY;COUNT=3;INTERVAL=6", []string{"1968-12-30 12:00", "1969-06-30 12:00", "1969-12-30 12:00"}},
		{"FREQ=WEEKLY;COUNT=3", []string{"1968-12-30 12:00", "1969-01-06 12:00", "1969-01-13 12:00"}},
		{"FREQ=DAILY;COUNT=3", []string{"1968-12-30 12:00", "1968-12-31 12:00", "1969-01-01 12:00"}},
		{"FREQ=HOURLY;COUNT=3;BYHOUR=11,12", []string{"1968-12-30 12:00", "1968-12-31 11:00", "1968-12-31 12:00"}},
		{"FREQ=MINUTELY;COUNT=3;BYMINUTE=0,30", []string{"1968-12-30 12:00", "1968-12-30 12:30", "1968-12-30 13:00"}},
		{"FREQ=SECONDLY;INTERVAL=7;COUNT=3;BYSECOND=0", []string{"1968-12-30 12:00", "1968-12-30 12:07", "1968-12-30 12:14"}},
	} {
		text := calendar(vevent("DTSTART:19681230T120000", "DURATION:PT1M", "RRULE:"+c.rule))
		got, err := Read("own.ics", []byte(text), at(t, z, "1968-01-01 00:00"), at(t, z, "1972-01-01 00:00"), z)
		if err != nil {
			t.Fatal(err)
		}
		var starts []string
		for _, s := range got.Spans {
			starts = append(starts, s.From.Format(layoutTime))
		}
		if d := cmp.Diff(c.want, starts); d != "" {
			t.Errorf("%s (-want +got):\n%s", c.rule, d)
		}
	}
}

// An exact length stays the same over the change, a nominal one follows it
// (RFC 5545 section 3.8.5.3).
func TestLengthOfOccurrences(t *testing.T) {
	wantSpans(t, calendar(vevent("DTSTART:20270326T180000", "DTEND:20270327T180000", "RRULE:FREQ=DAILY;COUNT=2")),
		"2027-03-26 18:00/2027-03-27 18:00", "2027-03-27 18:00/2027-03-28 19:00")
	wantSpans(t, calendar(vevent("DTSTART:20270326T180000", "DURATION:P1D", "RRULE:FREQ=DAILY;COUNT=2")),
		"2027-03-26 18:00/2027-03-27 18:00", "2027-03-27 18:00/2027-03-28 18:00")
}

// 02:30 doesn't exist on 28 March 2027 and isn't counted (section 3.3.10).
func TestSkippedTimes(t *testing.T) {
	c := wantSpans(t, calendar(vevent("DTSTART:20270327T023000", "DURATION:PT15M", "RRULE:FREQ=DAILY;COUNT=3")),
		"2027-03-27 02:30/2027-03-27 02:45", "2027-03-29 02:30/2027-03-29 02:45", "2027-03-30 02:30/2027-03-30 02:45")
	if want := []string{"1 occurrence left out at a time that the clocks skip"}; !slices.Equal(c.Notes, want) {
		t.Errorf("notes: got %q, want %q", c.Notes, want)
	}
}

func TestChangedOccurrences(t *testing.T) {
	series := vevent("UID:a", "DTSTART;TZID=Europe/Vienna:20270326T120000", "DURATION:PT1H", "RRULE:FREQ=DAILY;COUNT=3", "SUMMARY:Lunch")
	lunch := []string{"2027-03-26 12:00/2027-03-26 13:00 Lunch", "2027-03-27 12:00/2027-03-27 13:00 Lunch", "2027-03-28 12:00/2027-03-28 13:00 Lunch"}
	for _, c := range []struct {
		name    string
		changes []string
		want    []string
	}{
		{"none", nil, lunch},
		{"moved", []string{vevent("UID:a", "RECURRENCE-ID;TZID=Europe/Vienna:20270327T120000", "DTSTART:20270402T150000", "DURATION:PT2H", "SUMMARY:Late")},
			[]string{lunch[0], lunch[2], "2027-04-02 15:00/2027-04-02 17:00 Late"}},
		{"moved, named in UTC", []string{vevent("UID:a", "RECURRENCE-ID:20270328T100000Z", "DTSTART:20270328T150000", "DURATION:PT2H")},
			[]string{lunch[0], lunch[1], "2027-03-28 15:00/2027-03-28 17:00"}},
		{"cancelled", []string{vevent("UID:a", "RECURRENCE-ID;TZID=Europe/Vienna:20270326T120000", "DTSTART:20270326T120000", "DURATION:PT1H", "STATUS:CANCELLED")}, lunch[1:]},
		{"named by its date", []string{vevent("UID:a", "RECURRENCE-ID;VALUE=DATE:20270326", "DTSTART:20270326T120000", "TRANSP:TRANSPARENT", "DURATION:PT1H")}, lunch[1:]},
		{"of another series", []string{vevent("UID:b", "RECURRENCE-ID;TZID=Europe/Vienna:20270326T120000", "DTSTART:20270326T120000", "STATUS:CANCELLED")}, lunch},
		{"changed twice", []string{
			vevent("UID:a", "SEQUENCE:2", "RECURRENCE-ID:20270327T110000Z", "DTSTART:20270327T160000", "DURATION:PT1H", "SUMMARY:Newer"),
			vevent("UID:a", "SEQUENCE:1", "RECURRENCE-ID:20270327T110000Z", "DTSTART:20270327T150000", "DURATION:PT1H", "SUMMARY:Older"),
		}, []string{lunch[0], "2027-03-27 16:00/2027-03-27 17:00 Newer", lunch[2]}},
		{"a newer version of the series", []string{vevent("UID:a", "SEQUENCE:1", "DTSTART:20270326T130000", "DURATION:PT1H")}, []string{"2027-03-26 13:00/2027-03-26 14:00"}},
		{"a copy", []string{series}, lunch},
	} {
		t.Run(c.name, func(t *testing.T) {
			wantSpans(t, calendar(append(c.changes, series)...), c.want...)
			wantSpans(t, calendar(append([]string{series}, c.changes...)...), c.want...)
		})
	}
}

// With weeks from Monday, numbers are those of ISO 8601.
func TestWeekNumber(t *testing.T) {
	for d := time.Date(1950, 1, 1, 0, 0, 0, 0, time.UTC); d.Year() < 2050; d = d.AddDate(0, 0, 1) {
		_, want := d.ISOWeek()
		got, total := weekNumber(d.Unix(), time.Monday)
		if got != want {
			t.Fatalf("%v: got %d, want %d", d, got, want)
		}
		year, _ := d.ISOWeek()
		if _, last := time.Date(year, 12, 28, 0, 0, 0, 0, time.UTC).ISOWeek(); total != last {
			t.Fatalf("%v: got %d weeks, want %d", d, total, last)
		}
	}
}
