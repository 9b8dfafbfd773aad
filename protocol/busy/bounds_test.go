package busy

import (
	"bytes"
	"fmt"
	"math/rand"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func TestTooLarge(t *testing.T) {
	z := zone(t, "Europe/Vienna")
	_, err := Read("own.ics", make([]byte, MaxBytes+1), time.Time{}, time.Time{}, z)
	const want = "own.ics: found a file of 67108865 bytes, expected at most 67108864 bytes; export a shorter time of the calendar"
	if err == nil || err.Error() != want {
		t.Errorf("got %v, want %s", err, want)
	}
}

// Endless rules by the minute or second are followed in the window only.
func TestDenseRules(t *testing.T) {
	z := zone(t, "Europe/Vienna")
	for _, c := range []struct {
		name, rule string
		from, to   string
		want       int // spans
	}{
		{"each minute of a day", "FREQ=MINUTELY", "2027-06-01 00:00", "2027-06-02 00:00", 1440},
		{"each second of an hour", "FREQ=SECONDLY", "2027-06-01 00:00", "2027-06-01 01:00", 3600},
		{"one second a day for a year", "FREQ=SECONDLY;BYHOUR=8;BYMINUTE=0;BYSECOND=0", "2027-01-01 00:00", "2028-01-01 00:00", 365},
		{"an hour that the interval never meets", "FREQ=HOURLY;INTERVAL=2;BYHOUR=9", "2027-01-01 00:00", "2028-01-01 00:00", 0},
		{"a date that never comes", "FREQ=SECONDLY;BYMONTH=2;BYMONTHDAY=30", "2027-01-01 00:00", "2028-01-01 00:00", 0},
		{"a weekday that no month has", "FREQ=MONTHLY;BYDAY=53MO,-53MO", "2027-01-01 00:00", "2028-01-01 00:00", 0},
		{"a rule long before", "FREQ=SECONDLY;UNTIL=20000101T000000Z", "2027-01-01 00:00", "2028-01-01 00:00", 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			start := time.Now()
			text := calendar(vevent("DTSTART;TZID=Europe/Vienna:19700101T000000", "DURATION:PT1S", "RRULE:"+c.rule))
			got, err := Read("own.ics", []byte(text), at(t, z, c.from), at(t, z, c.to), z)
			if err != nil {
				t.Fatal(err)
			}
			if len(got.Spans) != c.want {
				t.Errorf("%d spans, want %d", len(got.Spans), c.want)
			}
			if took := time.Since(start); took > 5*time.Second {
				t.Errorf("took %v", took)
			}
		})
	}
}

func TestTooMuch(t *testing.T) {
	wantProblem(t, calendar(vevent("DTSTART:20270101T000000", "DURATION:PT1S", "RRULE:FREQ=SECONDLY")),
		"own.ics:5: found more than 100000 occurrences in the time asked for, expected fewer; ask for a shorter time, or take out the event that repeats most often")
	const long = "own.ics:7: RRULE: found a rule that takes too many steps to follow, expected a start nearer to the time asked for, or a longer FREQ; begin the event later, or write UNTIL instead of COUNT"
	wantProblem(t, calendar(vevent("DTSTART:19700101T000000Z", "DURATION:PT1S", "RRULE:FREQ=SECONDLY;COUNT=1000000000")), long)
	// The bound is shared by the rules of a file.
	wantProblem(t, calendar(
		vevent("DTSTART:20260901T000000Z", "DURATION:PT1S", "RRULE:FREQ=SECONDLY;COUNT=3000000"),
		vevent("DTSTART:20260901T000000Z", "DURATION:PT1S", "RRULE:FREQ=SECONDLY;COUNT=3000000")),
		strings.Replace(long, ":7:", ":12:", 1))
}

func TestEmptyWindow(t *testing.T) {
	z := zone(t, "Europe/Vienna")
	text := calendar(vevent("DTSTART;VALUE=DATE:20270111", "RRULE:FREQ=DAILY"))
	for _, to := range []string{"2027-01-11 12:00", "2027-01-01 00:00"} {
		c, err := Read("own.ics", []byte(text), at(t, z, "2027-01-11 12:00"), at(t, z, to), z)
		if err != nil || len(c.Spans) > 0 {
			t.Errorf("to %s: got %v, %v", to, c, err)
		}
	}
}

// A series of many versions with many changed occurrences takes no square of work.
func TestManyVersions(t *testing.T) {
	var events []string
	for i := range 20_000 {
		events = append(events, vevent("UID:a", "DTSTART:20270111T120000", "DURATION:PT1H"),
			vevent("UID:a", fmt.Sprintf("RECURRENCE-ID:2026%02d%02dT%02d%02d00", 1+i%12, 1+i/12%28, i/336%24, i/8064), "DTSTART:20270111T120000", "DURATION:PT1H"))
	}
	wantSpans(t, calendar(events...), "2027-01-11 12:00/2027-01-11 13:00")
}

// A window of any size is fine.
func TestWideWindow(t *testing.T) {
	text := calendar(ownZone, vevent("DTSTART;TZID=Middle:20270111T120000", "DURATION:PT1H", "RRULE:FREQ=YEARLY"))
	c, err := Read("own.ics", []byte(text), time.Unix(-1<<60, 0), time.Unix(1<<60, 0), time.UTC)
	if err != nil {
		t.Fatal(err)
	}
	if got, want := len(c.Spans), 10000-2027; got != want {
		t.Errorf("%d spans, want %d", got, want)
	}
}

func TestNilZone(t *testing.T) {
	defer func() {
		if got := recover(); got != "busy: nil zone" {
			t.Errorf("got %v", got)
		}
	}()
	_, _ = Read("own.ics", nil, time.Time{}, time.Time{}, nil)
}

// drawEvents makes up events, some of which change occurrences of others.
func drawEvents(t *rapid.T) []string {
	return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) string {
		pick := func(label string, from ...string) string { return rapid.SampledFrom(from).Draw(t, label) }
		uid := pick("uid", "a", "b", "c")
		dayOfMonth := rapid.IntRange(1, 28).Draw(t, "day")
		lines := []string{
			"UID:" + uid,
			fmt.Sprintf("SEQUENCE:%d", rapid.IntRange(0, 2).Draw(t, "sequence")),
			fmt.Sprintf("DTSTART;TZID=Middle:202703%02dT120000", dayOfMonth),
			pick("length", "DURATION:PT1H", "DURATION:PT2H", "SUMMARY:no length"),
			pick("status", "STATUS:CONFIRMED", "STATUS:CANCELLED", "TRANSP:TRANSPARENT", "TRANSP:OPAQUE"),
		}
		if rapid.Bool().Draw(t, "changes") {
			lines = append(lines, fmt.Sprintf("RECURRENCE-ID;TZID=Middle:202703%02dT120000", rapid.IntRange(1, 28).Draw(t, "id")))
		} else {
			lines = append(lines, pick("rule", "RRULE:FREQ=DAILY", "RRULE:FREQ=WEEKLY;COUNT=5", "RDATE:20270401T100000Z"))
		}
		return vevent(lines...)
	}), 0, 8).Draw(t, "events")
}

// The order of the events in a file is irrelevant, and the spans are in order,
// overlap the window, and follow from it alone: a part of the window has those
// that overlap the part.
func TestProperties(t *testing.T) {
	z := zone(t, "Europe/Vienna")
	from, to := at(t, z, "2027-03-10 00:00"), at(t, z, "2027-04-20 00:00")
	rapid.Check(t, func(t *rapid.T) {
		events := drawEvents(t)
		data := []byte(calendar(append(events, ownZone)...))
		before := bytes.Clone(data)
		want, err := Read("own.ics", data, from, to, z)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(before, data) {
			t.Fatal("the input was changed")
		}
		shuffled := append([]string{ownZone}, rapid.Permutation(events).Draw(t, "order")...)
		got, err := Read("own.ics", []byte(calendar(shuffled...)), from, to, z)
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(show(want.Spans), show(got.Spans)); d != "" {
			t.Fatalf("another order (-want +got):\n%s", d)
		}
		if d := cmp.Diff(want.Notes, got.Notes); d != "" {
			t.Fatalf("notes in another order (-want +got):\n%s", d)
		}
		lo := from.Add(time.Duration(rapid.IntRange(0, 40*24).Draw(t, "hours")) * time.Hour)
		hi := lo.Add(time.Duration(rapid.IntRange(0, 200).Draw(t, "more")) * time.Hour)
		if hi.After(to) {
			hi = to
		}
		checkPart(t, want.Spans, data, lo, hi, z)
	})
}

func checkPart(t *rapid.T, whole []Span, data []byte, lo, hi time.Time, z *time.Location) {
	var want []Span
	for i, s := range whole {
		if i > 0 && s.From.Before(whole[i-1].From) {
			t.Fatalf("not in order: %v", whole)
		}
		if lo.Before(hi) && s.From.Before(hi) && s.To.After(lo) {
			want = append(want, s)
		}
	}
	got, err := Read("own.ics", data, lo, hi, z)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(show(want), show(got.Spans)); d != "" {
		t.Fatalf("part of the window (-want +got):\n%s", d)
	}
}

// large is a calendar of n events around 2027, a third of them series.
func large(n int) []byte {
	r := rand.New(rand.NewSource(1))
	var events []string
	for i := range n {
		lines := []string{
			fmt.Sprintf("UID:event-%d", i), "DTSTAMP:20260101T000000Z",
			fmt.Sprintf("DTSTART;TZID=Europe/Vienna:%d%02d%02dT%02d0000", 2020+r.Intn(8), 1+r.Intn(12), 1+r.Intn(28), 7+r.Intn(12)),
			"DURATION:PT1H", fmt.Sprintf("SUMMARY:Appointment %d\\, at the usual", i), " place", "DESCRIPTION:Bring nothing",
		}
		if i%3 == 0 {
			lines = append(lines, [...]string{"RRULE:FREQ=YEARLY", "RRULE:FREQ=WEEKLY;COUNT=20", "RRULE:FREQ=MONTHLY;BYDAY=1MO"}[i/3%3])
		}
		events = append(events, vevent(lines...))
	}
	return []byte(calendar(events...))
}

// 10,000 events over a year are to take less than 200 ms.
func BenchmarkRead10000Events(b *testing.B) {
	z := zone(b, "Europe/Vienna")
	data := large(10_000)
	from, to := at(b, z, "2027-01-01 00:00"), at(b, z, "2028-01-01 00:00")
	b.SetBytes(int64(len(data)))
	for b.Loop() {
		if _, err := Read("own.ics", data, from, to, z); err != nil {
			b.Fatal(err)
		}
	}
}
