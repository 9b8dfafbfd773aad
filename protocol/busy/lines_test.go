package busy

import (
	"strings"
	"testing"
	"unicode/utf16"

	"github.com/google/go-cmp/cmp"
)

func TestUnfolding(t *testing.T) {
	event := "BEGIN:VEVENT\nDTSTART;TZID=\n Europe/Vienna:2027011\n\t1T120000\nDURATION:PT1H\nSUMMARY:Lun\n \n ch  \nEND:VEVENT"
	const want = "2027-01-11 12:00/2027-01-11 13:00 Lunch"
	t.Run("CRLF", func(t *testing.T) { wantSpans(t, calendar(event), want) })
	t.Run("LF", func(t *testing.T) { wantSpans(t, strings.ReplaceAll(calendar(event), "\r", ""), want) })
	t.Run("byte order mark", func(t *testing.T) { wantSpans(t, "\uFEFF"+calendar(event), want) })
	t.Run("empty lines", func(t *testing.T) { wantSpans(t, calendar(strings.ReplaceAll(event, "DURATION", "\nDURATION")), want) })
	t.Run("no line end at the end", func(t *testing.T) { wantSpans(t, strings.TrimSpace(calendar(event)), want) })
	t.Run("within a character", func(t *testing.T) {
		folded := calendar(vevent("DTSTART:20270111", "SUMMARY:Caf\xc3\n \xa9"))
		wantSpans(t, folded, "2027-01-11 00:00/2027-01-12 00:00 Café")
	})
}

func TestQuotedParameters(t *testing.T) {
	zoned := "BEGIN:VTIMEZONE\nTZID:Office: ground\\; floor\\, left\nBEGIN:STANDARD\nDTSTART:20000101T000000\nTZOFFSETFROM:+0000\nTZOFFSETTO:-0230\nEND:STANDARD\nEND:VTIMEZONE"
	wantSpans(t, calendar(zoned, vevent(
		`DTSTART;X-LIST=a,"b,:;c",d;TZID="Office: ground; floor, left";X-EMPTY=:20270111T093000`,
		"DURATION:PT1H", `DESCRIPTION;ALTREP="data:text/plain;x=1":a:b;c`,
	)), "2027-01-11 13:00/2027-01-11 14:00")
}

func TestSummary(t *testing.T) {
	for _, c := range []struct{ written, want string }{
		{`Lunch\, then\; coffee`, "Lunch, then; coffee"},
		{`one\ntwo\Nthree`, "one two three"},
		{`back\\nslash`, `back\nslash`},
		{"red \x1b[31mtext\x00\x7f", "red [31mtext"},
		{"tab\tand  blanks ", "tab and blanks"},
		{"\u202eturned\u2069", "turned"},
		{`ends with \`, "ends with"},
		{"Mittagessen – Café 🍽", "Mittagessen – Café 🍽"},
	} {
		if got := unescape(c.written); got != c.want {
			t.Errorf("%q: got %q, want %q", c.written, got, c.want)
		}
	}
}

func TestBrokenLines(t *testing.T) {
	const mendLine = "; begin the line with a space if it continues the one above, or take it out"
	for _, c := range []struct{ name, text, want string }{
		{"empty file", "", "own.ics: found no VCALENDAR, expected a file that begins with BEGIN:VCALENDAR; export the calendar as iCalendar"},
		{"another file", "a;b\n", `own.ics:1: A: found "a;b", expected a parameter such as TZID=Europe/Vienna after each semicolon; write =value after its name`},
		{"no name", calendar(vevent("DTSTART:20270111", "DESCRIPTION:first", "second line")), `own.ics:7: found "second line", expected a line such as SUMMARY:Lunch` + mendLine},
		{"a name only", calendar("VERSION"), `own.ics:4: found "VERSION", expected a line such as SUMMARY:Lunch` + mendLine},
		{"the line of a folded one", calendar(vevent("SUMMARY:a\n b\n c", "DTSTART:\n 2027")), `own.ics:8: DTSTART: found "2027", expected a date such as 20270111 or a time such as 20270111T123000Z; write year, month and day, then T, hours, minutes and seconds`},
		{"no colon", calendar(vevent("DTSTART;VALUE=DATE")), `own.ics:5: DTSTART: found "DTSTART;VALUE=DATE", expected a colon and the value after the parameters; write :value at the end`},
		{"no equals sign", calendar(vevent("DTSTART;VALUE:20270111")), `own.ics:5: DTSTART: found "DTSTART;VALUE:20270111", expected a parameter such as TZID=Europe/Vienna after each semicolon; write =value after its name`},
		{"open quotes", calendar(vevent(`DTSTART;TZID="Europe/Vienna:20270111T120000`)), `own.ics:5: DTSTART: found "DTSTART;TZID=\"Europe/Vienna:20270111T120000", expected a closing " of the parameter; add the missing "`},
		{"text after quotes", calendar(vevent(`DTSTART;TZID="A"B:20270111T120000`)), `own.ics:5: DTSTART: found "DTSTART;TZID=\"A\"B:20270111T120000", expected a colon and the value after the parameters; write :value at the end`},
		{"not UTF-8", calendar(vevent("DTSTART:20270111", "SUMMARY:Caf\xe9")), `own.ics:6: found "SUMMARY:Caf\xe9", expected UTF-8 text; save the file as UTF-8`},
		{"cut off", "BEGIN:VCALENDAR\nBEGIN:VEVENT\n", "own.ics:2: found BEGIN:VEVENT without its END, expected END:VEVENT before the end of the file; export the calendar again, the file seems cut off"},
		{"wrong end", calendar("BEGIN:VEVENT\nEND:VTODO"), `own.ics:5: found "END:VTODO", expected END:VEVENT; export the calendar again`},
		{"end first", "END:VCALENDAR\n", `own.ics:1: found "END:VCALENDAR", expected BEGIN:VCALENDAR first; export the calendar again`},
		{"property first", "VERSION:2.0\n", `own.ics:1: found "VERSION", expected BEGIN:VCALENDAR first; export the calendar as iCalendar`},
		{"event first", "BEGIN:VEVENT\n", `own.ics:1: found "BEGIN:VEVENT", expected components inside one BEGIN:VCALENDAR; export the calendar again`},
		{"too deep", "BEGIN:VCALENDAR\n" + strings.Repeat("BEGIN:X\n", 20), "own.ics:17: found more than 16 components inside each other, expected END lines; export the calendar again"},
		{"other dates", calendar("CALSCALE:CHINESE"), `own.ics:4: CALSCALE: found "CHINESE", expected GREGORIAN; export the calendar with Gregorian dates`},
	} {
		t.Run(c.name, func(t *testing.T) { wantProblem(t, c.text, c.want) })
	}
}

func TestUTF16(t *testing.T) {
	data := []byte{0xFF, 0xFE}
	for _, u := range utf16.Encode([]rune(calendar())) {
		data = append(data, byte(u), byte(u>>8))
	}
	wantProblem(t, string(data), "own.ics: found UTF-16 text, expected UTF-8 text; save the file as UTF-8")
}

func TestQuoteIsShort(t *testing.T) {
	got := quote(strings.Repeat("é", 100))
	if want := `"` + strings.Repeat("é", 60) + `…"`; got != want {
		t.Errorf("(-want +got):\n%s", cmp.Diff(want, got))
	}
}
