package cli

import (
	"strings"

	"mealtrial/protocol"
)

// outcomeEntries reads the values of --outcome.
func outcomeEntries(texts []string) (out []protocol.OutcomeEntry, err error) {
	for _, text := range texts {
		id, value, ok := strings.Cut(text, "=")
		if !ok || id == "" || value == "" {
			return nil, usagef("--outcome: found %q, expected an outcome and its value, such as stiffness=3", text)
		}
		out = append(out, protocol.OutcomeEntry{ID: id, Value: value})
	}
	return out, nil
}

// late tells whether the entry adds to a test that is in the log.
func (o recordOptions) late(given func(string) bool, f *protocol.Folder) bool {
	if !given("outcome") && !given("looked-at") && !given("happened") {
		return false
	}
	for _, flag := range []string{"block", "ate", "value", "deviation", "exclude"} {
		if given(flag) {
			return false
		}
	}
	if given("measured") || given("looked-at") {
		return true
	}
	date, _ := protocol.ParseDate(o.date)
	for _, t := range f.Log.Tests {
		if t.Date == date && (!t.HasTime || o.time == "" || t.Time.String() == o.time) {
			return true
		}
	}
	return false
}

// stop says at once what of a test has to be looked at before the next one.
func stop(s Streams, f *protocol.Folder, test *protocol.Test) {
	for _, line := range f.SafetyOf(*test) {
		warn(s, "%s", line.Text)
	}
}

// stopFirst warns of what nobody has looked at yet, before a command shows or plans
// anything else.
func stopFirst(s Streams, f *protocol.Folder) {
	for _, line := range f.Safety() {
		if line.LookedAt == "" {
			warn(s, "stop and seek advice: %s", line.Text)
		}
	}
}
