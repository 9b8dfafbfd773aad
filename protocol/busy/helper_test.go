package busy

import (
	"strings"
	"testing"
	"time"
	_ "time/tzdata" // zones on any machine

	"github.com/google/go-cmp/cmp"
)

func zone(t testing.TB, name string) *time.Location {
	t.Helper()
	z, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return z
}

// calendar wraps components into a file with CRLF line ends.
func calendar(components ...string) string {
	lines := []string{"BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//Example//EN"}
	for _, c := range components {
		lines = append(lines, strings.TrimSpace(c))
	}
	lines = append(lines, "END:VCALENDAR", "")
	return strings.ReplaceAll(strings.Join(lines, "\n"), "\n", "\r\n")
}

// vevent is an event of the lines given.
func vevent(lines ...string) string {
	return "BEGIN:VEVENT\n" + strings.Join(lines, "\n") + "\nEND:VEVENT"
}

const (
	layoutTime = "2006-01-02 15:04"
	layoutLong = "2006-01-02 15:04:05 -0700"
)

// at reads a wall-clock time in a zone.
func at(t testing.TB, z *time.Location, text string) time.Time {
	t.Helper()
	moment, err := time.ParseInLocation(layoutTime, text, z)
	if err != nil {
		t.Fatal(err)
	}
	return moment
}

// show gives spans as "from/to summary", on the clock of their zone.
func show(spans []Span) []string {
	var out []string
	for _, s := range spans {
		line := s.From.Format(layoutTime) + "/" + s.To.Format(layoutTime)
		out = append(out, strings.TrimSpace(line+" "+s.Summary))
	}
	return out
}

// inVienna reads a file over January to December 2027 in Vienna.
func inVienna(t testing.TB, text string) (Calendar, error) {
	t.Helper()
	z := zone(t, "Europe/Vienna")
	return Read("own.ics", []byte(text), at(t, z, "2027-01-01 00:00"), at(t, z, "2028-01-01 00:00"), z)
}

// wantSpans checks the spans of a file in 2027 in Vienna.
func wantSpans(t testing.TB, text string, want ...string) Calendar {
	t.Helper()
	c, err := inVienna(t, text)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(want, show(c.Spans)); d != "" {
		t.Errorf("spans (-want +got):\n%s", d)
	}
	return c
}

// wantProblem checks that a file has exactly this problem.
func wantProblem(t testing.TB, text, want string) {
	t.Helper()
	c, err := inVienna(t, text)
	if err == nil {
		t.Fatalf("no problem, want %s", want)
	}
	if d := cmp.Diff(want, err.Error()); d != "" {
		t.Errorf("problem (-want +got):\n%s", d)
	}
	if len(c.Spans)+len(c.Notes) > 0 {
		t.Errorf("a calendar beside the problem: %v", c)
	}
}
