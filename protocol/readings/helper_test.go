package readings

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
	"time"
	_ "time/tzdata" // zones on any machine

	"mealtrial/protocol/problem"
)

func zone(t testing.TB, name string) *time.Location {
	t.Helper()
	z, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return z
}

// folder makes a study folder from pairs of name and content.
func folder(pairs ...string) fstest.MapFS {
	fsys := fstest.MapFS{}
	for i := 0; i < len(pairs); i += 2 {
		fsys["readings/"+pairs[i]] = &fstest.MapFile{Data: []byte(pairs[i+1])}
	}
	return fsys
}

// readOne reads one file in UTC and mg/dL.
func readOne(content string, m Mapping) (Recording, error) {
	return Read(folder("x.csv", content), "readings", m, Study{Unit: MgdL, Zone: time.UTC})
}

// mustRead gives the readings, their report, and fails on a problem.
func mustRead(t *testing.T, content string, m Mapping) ([]Reading, FileReport) {
	t.Helper()
	r, err := readOne(content, m)
	if err != nil {
		t.Fatalf("Read of\n%s\ngives problems:\n%v", content, err)
	}
	return r.Readings, r.Files[0]
}

// pairs writes readings for comparison: "2027-01-31 07:05 101", LOW, HIGH.
func pairs(readings []Reading) string {
	var lines []string
	for _, r := range readings {
		value := fmt.Sprintf("%.6g", r.Glucose)
		if r.Limit != NotLimited {
			value = map[Limit]string{BelowRange: "LOW", AboveRange: "HIGH"}[r.Limit]
		}
		lines = append(lines, clockText(r.Time)+" "+value)
	}
	return strings.Join(lines, "\n")
}

// lines joins lines of a file.
func lines(l ...string) string { return strings.Join(l, "\n") + "\n" }

// everyFive writes n rows of a file, one every five minutes, with values around
// 100 mg/dL that are no row count.
func everyFive(from time.Time, n int, layout, delimiter string) string {
	var b strings.Builder
	for i := range n {
		fmt.Fprintf(&b, "%s%s%d\n", from.Add(time.Duration(i)*5*time.Minute).Format(layout), delimiter, 95+i*7%20)
	}
	return b.String()
}

// checkError compares the whole text of an error; "" is none.
func checkError(t *testing.T, err error, want string) {
	t.Helper()
	got := ""
	if err != nil {
		got = err.Error()
	}
	if got != want {
		t.Errorf("error:\n%s\nwant:\n%s", got, want)
	}
}

func reversed(content string) string {
	l := strings.Split(strings.TrimSuffix(content, "\n"), "\n")
	slices.Reverse(l)
	return lines(l...)
}

func problems(t *testing.T, err error) problem.List {
	t.Helper()
	list, ok := err.(problem.List)
	if !ok {
		t.Fatalf("%T, want a problem.List", err)
	}
	return list
}
