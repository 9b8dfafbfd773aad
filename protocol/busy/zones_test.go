package busy

import "testing"

// Vienna's rules since 1996, under a name that the database doesn't have.
const ownZone = `BEGIN:VTIMEZONE
TZID:Middle
BEGIN:STANDARD
DTSTART:19961027T030000
RRULE:FREQ=YEARLY;BYDAY=-1SU;BYMONTH=10
TZOFFSETFROM:+0200
TZOFFSETTO:+0100
END:STANDARD
BEGIN:DAYLIGHT
DTSTART:19810329T020000
RRULE:FREQ=YEARLY;BYDAY=-1SU;BYMONTH=3
TZOFFSETFROM:+0100
TZOFFSETTO:+0200
END:DAYLIGHT
END:VTIMEZONE`

func TestZoneOfTheFile(t *testing.T) {
	event := vevent("DTSTART;TZID=Middle:20270327T120000", "DURATION:PT1H", "RRULE:FREQ=DAILY;COUNT=2")
	want := []string{"2027-03-27 12:00/2027-03-27 13:00", "2027-03-28 12:00/2027-03-28 13:00"}
	wantSpans(t, calendar(ownZone, event), want...)
	wantSpans(t, calendar(event, ownZone), want...) // defined after its use
	wantSpans(t, calendar(ownZone, vevent("DTSTART;TZID=Middle:20271030T120000", "DURATION:PT1H", "RRULE:FREQ=DAILY;COUNT=2")),
		"2027-10-30 12:00/2027-10-30 13:00", "2027-10-31 12:00/2027-10-31 13:00")
}

// The clock of a VTIMEZONE that says what the IANA database says must agree with
// it in every hour of two years.
func TestZoneAgreesWithDatabase(t *testing.T) {
	z := zone(t, "Europe/Vienna")
	f := &faults{file: "own.ics"}
	text := readFile(calendar(ownZone), f)
	work := maxWork
	zs := newZones(z, text.zones, newWindow(at(t, z, "2027-01-01 00:00"), at(t, z, "2029-01-01 00:00")), &work, f)
	own, ok := zs.clock(property{params: []param{{"TZID", "Middle"}}})
	if !ok {
		t.Fatal(f.err())
	}
	first := at(t, z, "2027-01-01 00:00").Unix()
	for h := range int64(2 * 366 * 24) {
		moment := first + h*hour
		if got, want := own.offset(moment), clockOf(z).offset(moment); got != want {
			t.Fatalf("at %d: got %d, want %d", moment, got, want)
		}
	}
	if got := own.offset(first - 100*366*day); got != hour {
		t.Errorf("before the first change: got %d, want %d", got, hour)
	}
}

func TestZoneForms(t *testing.T) {
	for _, c := range []struct {
		name, observances string
		want              string // for 12:00 on 1 July 2027, in Vienna
	}{
		{"one offset", "BEGIN:STANDARD\nDTSTART:16010101T000000\nTZOFFSETFROM:-0330\nTZOFFSETTO:-0330\nEND:STANDARD", "2027-07-01 17:30/2027-07-01 18:30"},
		{"offset in seconds", "BEGIN:STANDARD\nDTSTART:20000101T000000\nTZOFFSETFROM:+0000\nTZOFFSETTO:+010000\nEND:STANDARD", "2027-07-01 13:00/2027-07-01 14:00"},
		{"changes by RDATE", "BEGIN:STANDARD\nDTSTART:20000101T000000\nTZOFFSETFROM:+0000\nTZOFFSETTO:+0000\nEND:STANDARD\nBEGIN:DAYLIGHT\nDTSTART:20260601T000000\nRDATE:20270601T000000\nTZOFFSETFROM:+0000\nTZOFFSETTO:+0500\nEND:DAYLIGHT", "2027-07-01 09:00/2027-07-01 10:00"},
		{"a rule that ended", "BEGIN:STANDARD\nDTSTART:20000101T000000\nTZOFFSETFROM:+0000\nTZOFFSETTO:+0200\nRRULE:FREQ=YEARLY;UNTIL=20100101T000000Z\nEND:STANDARD\nBEGIN:DAYLIGHT\nDTSTART:20000601T000000\nRRULE:FREQ=YEARLY;COUNT=3\nTZOFFSETFROM:+0200\nTZOFFSETTO:+0500\nEND:DAYLIGHT", "2027-07-01 12:00/2027-07-01 13:00"},
		{"begins after the window", "BEGIN:STANDARD\nDTSTART:29000101T000000\nTZOFFSETFROM:+0300\nTZOFFSETTO:+0000\nEND:STANDARD", "2027-07-01 11:00/2027-07-01 12:00"},
	} {
		t.Run(c.name, func(t *testing.T) {
			wantSpans(t, calendar("BEGIN:VTIMEZONE\nTZID:Own\n"+c.observances+"\nEND:VTIMEZONE",
				vevent("DTSTART;TZID=Own:20270701T120000", "DURATION:PT1H")), c.want)
		})
	}
}

// A name of the IANA database means its zone, even if the file says otherwise.
func TestDatabaseGoesFirst(t *testing.T) {
	wantSpans(t, calendar(
		"BEGIN:VTIMEZONE\nTZID:America/New_York\nBEGIN:STANDARD\nDTSTART:20000101T000000\nTZOFFSETFROM:+0000\nTZOFFSETTO:+0000\nEND:STANDARD\nEND:VTIMEZONE",
		vevent("DTSTART;TZID=America/New_York:20270111T060000", "DURATION:PT1H")),
		"2027-01-11 12:00/2027-01-11 13:00")
}

// Midnight didn't exist in Cairo on 28 April 2023: the day begins at 01:00.
func TestDayWithoutMidnight(t *testing.T) {
	z := zone(t, "Africa/Cairo")
	c, err := Read("own.ics", []byte(calendar(vevent("DTSTART;VALUE=DATE:20230427", "RRULE:FREQ=DAILY;COUNT=3"))),
		at(t, z, "2023-04-01 00:00"), at(t, z, "2023-06-01 00:00"), z)
	if err != nil {
		t.Fatal(err)
	}
	got := show(c.Spans)
	want := []string{"2023-04-27 00:00/2023-04-28 01:00", "2023-04-28 01:00/2023-04-29 00:00", "2023-04-29 00:00/2023-04-30 00:00"}
	for i := range want {
		if i >= len(got) || got[i] != want[i] {
			t.Fatalf("got %q, want %q", got, want)
		}
	}
}
