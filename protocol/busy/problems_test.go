package busy

import (
	"errors"
	"strings"
	"testing"

	"mealtrial/protocol/problem"
)

func TestProblemsOfValues(t *testing.T) {
	const (
		stampTail  = ", expected a date such as 20270111 or a time such as 20270111T123000Z; write year, month and day, then T, hours, minutes and seconds"
		lengthTail = ", expected a length such as PT1H30M, P1D or P2W, up to 1000 years; write P, days, then T, hours H, minutes M and seconds S"
	)
	for _, c := range []struct {
		name  string
		lines []string
		want  string
	}{
		{"no start", nil, "4: VEVENT: found no DTSTART, expected one in every VEVENT; add DTSTART, or take out everything from BEGIN:VEVENT to END:VEVENT"},
		{"no such date", []string{"DTSTART:20270230"}, `5: DTSTART: found "20270230"` + stampTail},
		{"no such hour", []string{"DTSTART:20270130T240000"}, `5: DTSTART: found "20270130T240000"` + stampTail},
		{"another form", []string{"DTSTART:2027-01-30"}, `5: DTSTART: found "2027-01-30"` + stampTail},
		{"a time as date", []string{"DTSTART;VALUE=DATE:20270130T120000"}, `5: DTSTART: found "20270130T120000", expected a date such as 20270111 after VALUE=DATE; take the time or VALUE=DATE out`},
		{"a date as time", []string{"DTSTART;VALUE=DATE-TIME:20270130"}, `5: DTSTART: found "20270130", expected a time such as 20270111T123000Z after VALUE=DATE-TIME; add the time or write VALUE=DATE`},
		{"another value", []string{"DTSTART;VALUE=TEXT:20270130"}, `5: DTSTART: found VALUE=TEXT, expected DATE or DATE-TIME; take VALUE out`},
		{"two starts", []string{"DTSTART:20270111", "DTSTART:20270112"}, "6: DTSTART: found a second DTSTART, expected one; take one of them out"},
		{"end and length", []string{"DTSTART:20270111", "DTEND:20270112", "DURATION:P1D"}, "7: DURATION: found DURATION beside DTEND, expected one of them; take one of them out"},
		{"end before start", []string{"DTSTART:20270111", "DTEND:20270110"}, "6: DTEND: found an end before the start, expected DTEND after DTSTART; swap or mend them"},
		{"end of another form", []string{"DTSTART:20270111", "DTEND:20270111T120000"}, `6: DTEND: found "20270111T120000", expected a date if DTSTART is a date, and a time if it is a time; write both in the same form`},
		{"length of another form", []string{"DTSTART:20270111T120000", "DURATION:1 hour"}, `6: DURATION: found "1 hour"` + lengthTail},
		{"negative length", []string{"DTSTART:20270111T120000", "DURATION:-PT1H"}, `6: DURATION: found "-PT1H"` + lengthTail},
		{"endless length", []string{"DTSTART:20270111T120000", "DURATION:P999999999W"}, `6: DURATION: found "P999999999W"` + lengthTail},
		{"hours of a day", []string{"DTSTART:20270111", "DURATION:PT5H"}, `6: DURATION: found "PT5H", expected whole days, since DTSTART is a date; write for example P1D`},
		{"unknown zone", []string{"DTSTART;TZID=Middle:20270111T120000"}, `5: DTSTART: found the zone "Middle", expected a name such as Europe/Vienna, or a VTIMEZONE of that name in the file; write TZID=Area/City, or export the calendar with its time zones`},
		{"zone of the machine", []string{"DTSTART;TZID=Local:20270111T120000"}, `5: DTSTART: found the zone "Local", expected a name such as Europe/Vienna, or a VTIMEZONE of that name in the file; write TZID=Area/City, or export the calendar with its time zones`},
		{"unknown zone of a list", []string{"DTSTART:20270111T120000", "EXDATE;TZID=Middle:20270111T120000"}, `6: EXDATE: found the zone "Middle", expected a name such as Europe/Vienna, or a VTIMEZONE of that name in the file; write TZID=Area/City, or export the calendar with its time zones`},
		{"EXDATE", []string{"DTSTART:20270111T120000", "EXDATE:20270111T120000,tomorrow"}, `6: EXDATE: found "tomorrow"` + stampTail},
		{"EXDATE of a period", []string{"DTSTART:20270111T120000", "EXDATE:20270111T120000/PT1H"}, `6: EXDATE: found "20270111T120000/PT1H", expected a date such as 20270111 or a time such as 20270111T123000Z; take / and what follows out`},
		{"RDATE of another form", []string{"DTSTART:20270111", "RDATE:20270112T120000"}, "6: RDATE: found a time for an event that starts at a date, expected the form of DTSTART; write RDATE in the form of DTSTART"},
		{"backward period", []string{"DTSTART:20270111T120000", "RDATE;VALUE=PERIOD:20270112T120000Z/20270112T110000Z"}, `6: RDATE: found "20270112T120000Z/20270112T110000Z", expected a time, a slash and a later time; mend the end of the period`},
		{"later occurrences", []string{"DTSTART:20270111T120000", "RECURRENCE-ID;RANGE=THISANDFUTURE:20270111T120000"}, "6: RECURRENCE-ID: found RANGE=THISANDFUTURE, expected a change of one occurrence; split the series in two, or change each occurrence"},
		{"hourly dates", []string{"DTSTART:20270111", "RRULE:FREQ=HOURLY"}, `6: RRULE: found "FREQ=HOURLY", expected a rule by the day or longer, since DTSTART is a date; take the hours, minutes and seconds out`},
	} {
		t.Run(c.name, func(t *testing.T) { wantProblem(t, calendar(vevent(c.lines...)), "own.ics:"+c.want) })
	}
}

func TestProblemsOfRules(t *testing.T) {
	for _, c := range []struct{ rule, want string }{
		{"COUNT=3", `found "COUNT=3", expected a rule with FREQ; add for example FREQ=WEEKLY`},
		{"FREQ=FORTNIGHTLY", `found "FREQ=FORTNIGHTLY", expected YEARLY, MONTHLY, WEEKLY, DAILY, HOURLY, MINUTELY or SECONDLY; mend FREQ`},
		{"FREQ=DAILY;FREQ=DAILY", `found "FREQ=DAILY", expected parts such as FREQ=WEEKLY, each once; write the rule as NAME=value;NAME=value`},
		{"DAILY", `found "DAILY", expected parts such as FREQ=WEEKLY, each once; write the rule as NAME=value;NAME=value`},
		{"FREQ=DAILY;BYNIGHT=1", `found "BYNIGHT", expected a part of a rule such as BYDAY; take this part out`},
		{"FREQ=DAILY;INTERVAL=0", `found "INTERVAL=0", expected a whole number from 1 to 1000000000; mend INTERVAL`},
		{"FREQ=DAILY;COUNT=-1", `found "COUNT=-1", expected a whole number from 1 to 1000000000; mend COUNT`},
		{"FREQ=DAILY;COUNT=99999999999999999999", `found "COUNT=99999999999999999999", expected a whole number from 1 to 1000000000; mend COUNT`},
		{"FREQ=DAILY;COUNT=3;UNTIL=20280101", `found "FREQ=DAILY;COUNT=3;UNTIL=20280101", expected COUNT or UNTIL, not both; take one of them out`},
		{"FREQ=DAILY;UNTIL=never", `found "UNTIL=NEVER", expected a date such as 20270111 or a time such as 20270111T123000Z; mend UNTIL`},
		{"FREQ=DAILY;WKST=1", `found "WKST=1", expected MO, TU, WE, TH, FR, SA or SU; mend WKST`},
		{"FREQ=MONTHLY;BYDAY=0MO", `found "BYDAY=0MO", expected weekdays such as MO,WE or 1FR,-1SU; mend BYDAY`},
		{"FREQ=WEEKLY;BYDAY=1MO", `found "FREQ=WEEKLY;BYDAY=1MO", expected numbers in BYDAY in yearly and monthly rules only; write the weekday without its number`},
		{"FREQ=YEARLY;BYWEEKNO=1;BYDAY=1MO", `found "FREQ=YEARLY;BYWEEKNO=1;BYDAY=1MO", expected no numbers in BYDAY beside BYWEEKNO; write the weekday without its number`},
		{"FREQ=DAILY;BYMONTH=13", `found "BYMONTH=13", expected whole numbers from 1 to 12; mend BYMONTH`},
		{"FREQ=MONTHLY;BYMONTHDAY=0", `found "BYMONTHDAY=0", expected whole numbers from 1 to 31, or negative to count from the end; mend BYMONTHDAY`},
		{"FREQ=WEEKLY;BYMONTHDAY=1", `found "FREQ=WEEKLY;BYMONTHDAY=1", expected no BYMONTHDAY in weekly rules; take BYMONTHDAY out`},
		{"FREQ=DAILY;BYYEARDAY=1", `found "FREQ=DAILY;BYYEARDAY=1", expected no BYYEARDAY in monthly, weekly and daily rules; take BYYEARDAY out`},
		{"FREQ=DAILY;BYWEEKNO=1", `found "FREQ=DAILY;BYWEEKNO=1", expected BYWEEKNO in yearly rules only; take BYWEEKNO out`},
		{"FREQ=DAILY;BYSETPOS=1", `found "FREQ=DAILY;BYSETPOS=1", expected another BY part beside BYSETPOS; add for example BYDAY=MO`},
	} {
		t.Run(c.rule, func(t *testing.T) {
			wantProblem(t, calendar(vevent("DTSTART:20270111T120000", "RRULE:"+c.rule)), "own.ics:6: RRULE: "+c.want)
		})
	}
}

func TestProblemsOfZones(t *testing.T) {
	const head = "BEGIN:VTIMEZONE\nTZID:Own\n"
	for _, c := range []struct{ name, text, want string }{
		{"no parts", "", "4: VTIMEZONE: found no STANDARD or DAYLIGHT part, expected at least one; export the calendar again with its time zones"},
		{"no start", "BEGIN:STANDARD\nTZOFFSETFROM:+0000\nTZOFFSETTO:+0000\nEND:STANDARD\n", "6: STANDARD: found no DTSTART, expected one in every STANDARD; add DTSTART, or take out everything from BEGIN:STANDARD to END:STANDARD"},
		{"no offset", "BEGIN:STANDARD\nDTSTART:20000101T000000\nTZOFFSETFROM:+0000\nEND:STANDARD\n", "6: STANDARD: found no TZOFFSETTO, expected one in every STANDARD; add TZOFFSETTO, or take out everything from BEGIN:STANDARD to END:STANDARD"},
		{"broken offset", "BEGIN:STANDARD\nDTSTART:20000101T000000\nTZOFFSETFROM:1\nTZOFFSETTO:+0000\nEND:STANDARD\n", `8: TZOFFSETFROM: found "1", expected an offset such as +0100 or -0530; write the sign, hours and minutes`},
		{"changes by the second", "BEGIN:STANDARD\nDTSTART:20000101T000000\nTZOFFSETFROM:+0000\nTZOFFSETTO:+0000\nRRULE:FREQ=SECONDLY\nEND:STANDARD\n", "6: STANDARD: found too many clock changes, expected a few in a year; mend the RRULE of this VTIMEZONE"},
	} {
		t.Run(c.name, func(t *testing.T) {
			event := vevent("DTSTART;TZID=Own:20270111T120000", "DTEND;TZID=Own:20270111T130000")
			wantProblem(t, calendar(head+c.text+"END:VTIMEZONE", event), "own.ics:"+c.want)
			wantSpans(t, calendar(head+c.text+"END:VTIMEZONE")) // unused, it harms nobody
		})
	}
}

// Problems come as a problem.List in the order of lines, a hundred at most.
func TestProblemList(t *testing.T) {
	_, err := inVienna(t, calendar(vevent("DTSTART:x"), "junk", vevent("DTSTART:y")))
	var list problem.List
	if !errors.As(err, &list) {
		t.Fatalf("%T, want a problem.List", err)
	}
	var lines []int
	for _, p := range list {
		if p.File != "own.ics" {
			t.Errorf("file %q", p.File)
		}
		lines = append(lines, p.Line)
	}
	if len(lines) != 3 || lines[0] != 5 || lines[1] != 7 || lines[2] != 9 {
		t.Errorf("lines %v, want [5 7 9]", lines)
	}
	_, err = inVienna(t, strings.Repeat("junk\n", 1000))
	if !errors.As(err, &list) || len(list) != maxProblems {
		t.Errorf("%d problems, want %d", len(list), maxProblems)
	}
}
