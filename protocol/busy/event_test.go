package busy

import (
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestEventForms(t *testing.T) {
	for _, c := range []struct {
		name  string
		lines []string
		want  []string
	}{
		{"a date is one day", []string{"DTSTART;VALUE=DATE:20270111"}, []string{"2027-01-11 00:00/2027-01-12 00:00"}},
		{"the end of dates is exclusive", []string{"DTSTART;VALUE=DATE:20270111", "DTEND;VALUE=DATE:20270113"}, []string{"2027-01-11 00:00/2027-01-13 00:00"}},
		{"dates and a length", []string{"DTSTART;VALUE=DATE:20270111", "DURATION:P1W"}, []string{"2027-01-11 00:00/2027-01-18 00:00"}},
		{"dates and a length in hours", []string{"DTSTART;VALUE=DATE:20270111", "DURATION:PT48H"}, []string{"2027-01-11 00:00/2027-01-13 00:00"}},
		{"a date without VALUE", []string{"DTSTART:20270111"}, []string{"2027-01-11 00:00/2027-01-12 00:00"}},
		{"a day of 23 hours", []string{"DTSTART;VALUE=DATE:20270328"}, []string{"2027-03-28 00:00/2027-03-29 00:00"}},
		{"UTC", []string{"DTSTART:20270111T110000Z", "DTEND:20270111T120000Z"}, []string{"2027-01-11 12:00/2027-01-11 13:00"}},
		{"floating", []string{"DTSTART:20270111T120000", "DTEND:20270111T130000"}, []string{"2027-01-11 12:00/2027-01-11 13:00"}},
		{"an IANA zone", []string{"DTSTART;TZID=America/New_York:20270111T060000", "DURATION:PT90M"}, []string{"2027-01-11 12:00/2027-01-11 13:30"}},
		{"two zones", []string{"DTSTART;TZID=Europe/Vienna:20270111T120000", "DTEND;TZID=America/New_York:20270111T150000"}, []string{"2027-01-11 12:00/2027-01-11 21:00"}},
		{"UTC goes before TZID", []string{"DTSTART;TZID=America/New_York:20270111T110000Z", "DURATION:PT1H"}, []string{"2027-01-11 12:00/2027-01-11 13:00"}},
		{"a leap second", []string{"DTSTART:20270111T115960Z", "DTEND:20270111T130000Z"}, []string{"2027-01-11 12:59/2027-01-11 14:00"}},
		{"names in small letters", []string{"dtstart;tzid=Europe/Vienna:20270111t120000", "duration:pt1h", "summary:Lunch"}, []string{"2027-01-11 12:00/2027-01-11 13:00 Lunch"}},
		{"a skipped time is read as before the change", []string{"DTSTART:20270328T023000", "DURATION:PT1H"}, []string{"2027-03-28 03:30/2027-03-28 04:30"}},
		{"a nominal day over the change", []string{"DTSTART:20270327T120000", "DURATION:P1D"}, []string{"2027-03-27 12:00/2027-03-28 12:00"}},
		{"24 exact hours over the change", []string{"DTSTART:20270327T120000", "DURATION:PT24H"}, []string{"2027-03-27 12:00/2027-03-28 13:00"}},
		{"reaching into the window", []string{"DTSTART;VALUE=DATE:20261230", "DTEND;VALUE=DATE:20270102"}, []string{"2026-12-30 00:00/2027-01-02 00:00"}},
		{"ending as the window starts", []string{"DTSTART;VALUE=DATE:20261231"}, nil},
		{"starting as the window ends", []string{"DTSTART;VALUE=DATE:20280101"}, nil},
		{"an alarm within", []string{"DTSTART;VALUE=DATE:20270111", "BEGIN:VALARM", "TRIGGER:-PT15M", "DURATION:PT5M", "END:VALARM"}, []string{"2027-01-11 00:00/2027-01-12 00:00"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			wantSpans(t, calendar(vevent(c.lines...)), c.want...)
		})
	}
}

// The clock shows 02:30 twice on 31 October 2027; the first is meant.
func TestRepeatedTime(t *testing.T) {
	c := wantSpans(t, calendar(vevent("DTSTART:20271031T023000", "DURATION:PT15M")), "2027-10-31 02:30/2027-10-31 02:45")
	if got, want := c.Spans[0].From.Format(layoutLong), "2027-10-31 02:30:00 +0200"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

func TestNotBusy(t *testing.T) {
	for _, c := range []struct {
		name  string
		lines []string
		note  string
	}{
		{"cancelled", []string{"DTSTART;VALUE=DATE:20270111", "STATUS:CANCELLED"}, "1 cancelled event left out"},
		{"transparent", []string{"DTSTART;VALUE=DATE:20270111", "TRANSP:transparent"}, "1 event shown as free left out"},
		{"no end", []string{"DTSTART:20270111T120000"}, "1 event without length left out: it takes no time"},
		{"an end at the start", []string{"DTSTART:20270111T120000", "DTEND:20270111T120000"}, "1 event without length left out: it takes no time"},
		{"a length of zero", []string{"DTSTART:20270111T120000", "DURATION:PT0S", "RRULE:FREQ=SECONDLY"}, "1 event without length left out: it takes no time"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := wantSpans(t, calendar(vevent(c.lines...)))
			if d := cmp.Diff([]string{c.note}, got.Notes); d != "" {
				t.Errorf("notes (-want +got):\n%s", d)
			}
		})
	}
}

func TestNotes(t *testing.T) {
	c := wantSpans(t, calendar(
		vevent("DTSTART;VALUE=DATE:20270111", "STATUS:CANCELLED"),
		vevent("DTSTART;VALUE=DATE:20270112", "STATUS:CANCELLED"),
		vevent("DTSTART;VALUE=DATE:20270113", "DTEND;VALUE=DATE:20270113"),
		vevent("DTSTART;VALUE=DATE:20270114", "EXRULE:FREQ=DAILY"),
		"BEGIN:VTODO\nDUE:whenever\nEND:VTODO",
		"BEGIN:VFREEBUSY\nEND:VFREEBUSY",
	), "2027-01-13 00:00/2027-01-14 00:00", "2027-01-14 00:00/2027-01-15 00:00")
	want := []string{
		"2 cancelled events left out",
		"1 event on dates that ends on its first day taken as one whole day",
		"1 EXRULE ignored: it is no longer part of the format",
		"2 components other than events left out",
	}
	if d := cmp.Diff(want, c.Notes); d != "" {
		t.Errorf("notes (-want +got):\n%s", d)
	}
}
