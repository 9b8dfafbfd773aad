package label

import (
	"testing"
)

// parse reads a label that must be free of problems.
func parse(t testing.TB, text string) *Label {
	t.Helper()
	l, err := Parse("label.yaml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// printed reads a printed value that must be well-formed.
func printed(t testing.TB, text string, u Unit) Printed {
	t.Helper()
	p, ok := ParsePrinted(text, u)
	if !ok {
		t.Fatalf("%q is no printed value", text)
	}
	return p
}

func closed(low, high float64) Interval   { return Interval{Low: low, High: high} }
func halfOpen(low, high float64) Interval { return Interval{Low: low, High: high, HighOpen: true} }
func open(low, high float64) Interval {
	return Interval{Low: low, High: high, LowOpen: true, HighOpen: true}
}
