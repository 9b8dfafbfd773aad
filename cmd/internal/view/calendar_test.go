package view

import (
	"bytes"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"mealtrial/protocol"
)

const longName = `Nudeln "Ähre", rot; \ mit Öl und sehr vielen weiteren Wörtern 食べ物の名前がとても長い場合にも正しく折り返す 🍜 שלום`

func calendar(t *testing.T) (*protocol.Study, *protocol.Schedule, []byte) {
	t.Helper()
	study, err := protocol.ParseStudy([]byte(`
zone: Europe/Vienna
foods:
  - {id: wheat, role: reference, portion: "180 g, cooked"}
  - {id: long, name: '` + longName + `'}
plan: {start: 2027-03-22, until: 2027-04-20, repeats: 3, washout: 1}
`))
	if err != nil {
		t.Fatal(err)
	}
	schedule, err := protocol.DrawSchedule(study, 5)
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := Calendar(&b, study, schedule, time.Date(2027, 3, 1, 12, 0, 0, 0, time.FixedZone("", 3600))); err != nil {
		t.Fatal(err)
	}
	return study, schedule, b.Bytes()
}

// RFC 5545: lines end with CRLF and have at most 75 octets, folds never cut a
// character (section 3.1); DTSTAMP is in UTC (3.8.7.2); UIDs are unique
// (3.8.4.7); backslash, semicolon, comma and line ends are escaped (3.3.11);
// times are floating (3.3.5); PRODID and VERSION are there (3.6).
func TestCalendarKeepsToRFC5545(t *testing.T) {
	_, schedule, data := calendar(t)
	if bytes.Contains(bytes.ReplaceAll(data, []byte("\r\n"), nil), []byte("\n")) || bytes.Contains(bytes.ReplaceAll(data, []byte("\r\n"), nil), []byte("\r")) {
		t.Error("a line does not end with CRLF")
	}
	for _, line := range strings.Split(string(data), "\r\n") {
		if len(line) > 75 {
			t.Errorf("a line of %d octets: %s", len(line), line)
		}
		if !utf8.ValidString(line) {
			t.Errorf("a fold cuts a character: %q", line)
		}
	}
	text := strings.ReplaceAll(string(data), "\r\n ", "")
	for _, want := range []string{"VERSION:2.0\r\n", "PRODID:-//mealtrial//", "DTSTAMP:20270301T110000Z\r\n", "DTSTART:20270322T073000\r\n", "DTEND:20270322T093000\r\n",
		`SUMMARY:Test meal: Nudeln "Ähre"\, rot\; \\ mit Öl`, `180 g\, cooked`, `\nFasting`, "TRIGGER:-PT750M\r\n", "TRIGGER:PT120M\r\n"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is not in the calendar", want)
		}
	}
	uids := map[string]bool{}
	for _, line := range strings.Split(text, "\r\n") {
		if strings.HasPrefix(line, "UID:") {
			uids[line] = true
		}
	}
	if len(uids) != len(schedule.Tests) {
		t.Errorf("%d UIDs for %d tests", len(uids), len(schedule.Tests))
	}
}

// The calendar goes through an independent parser, ical.js from the npm
// registry, and comes back as it was meant. The continuous integration script
// installs it and names its folder in ICAL_PARSER.
func TestCalendarRoundTripThroughAnotherParser(t *testing.T) {
	modules := os.Getenv("ICAL_PARSER")
	if modules == "" {
		t.Skip("ICAL_PARSER does not name a folder with node_modules/ical.js; bash .ci/run installs it")
	}
	study, schedule, data := calendar(t)
	file := filepath.Join(t.TempDir(), "tests.ics")
	if err := os.WriteFile(file, data, 0o644); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command("node", "../../../testdata/reference/calendar_roundtrip.mjs", modules, file).Output()
	if err != nil {
		t.Fatal(err)
	}
	var events []struct {
		UID, Summary, Description, Start, End string
		Floating                              bool
		Alarms                                []string
	}
	if err := json.Unmarshal(out, &events); err != nil {
		t.Fatal(err)
	}
	if len(events) != len(schedule.Tests) {
		t.Fatalf("%d events, want %d", len(events), len(schedule.Tests))
	}
	for i, e := range events {
		test := schedule.Tests[i]
		food := study.Foods[study.Food(test.Food)]
		if e.UID != schedule.UID(i) || e.Summary != "Test meal: "+food.Name || !e.Floating || e.Start != test.Date.String()+"T07:30:00" ||
			e.End != test.Date.String()+"T09:30:00" || strings.Join(e.Alarms, " ") != "-PT750M PT120M" || !strings.Contains(e.Description, nameAndPortion(food)) {
			t.Errorf("event %d came back as %+v", i, e)
		}
	}
}
