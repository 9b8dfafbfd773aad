package protocol

import (
	"fmt"
	"strings"
)

// toNote says which outcomes go with the next test, and which of the tests eaten were
// not noted though their time has come.
func (f *Folder) toNote(n *Next, today Date) {
	n.Note, n.NotNoted = []string{}, []string{}
	for _, o := range f.Study.Outcomes {
		if n.Test != nil {
			n.Note = append(n.Note, fmt.Sprintf("%s: %s (%s)", o.When, o.Name, o.Scale()))
		}
	}
	for _, t := range f.Log.Tests {
		if t.Exclude != "" {
			continue
		}
		for _, o := range f.Study.Outcomes {
			if _, ok := t.Outcomes[o.ID]; !ok && t.Date+o.When.days() <= today {
				n.NotNoted = append(n.NotNoted, fmt.Sprintf("%s of the test on %s: mealtrial record %s --outcome %s=…", o.Name, t.Date, f.Log.flags(t.Date, t.Key()), o.ID))
			}
		}
	}
}

// flags are those by which record finds a test: its date and, where the day has
// several tests, its time.
func (log *Log) flags(date Date, key string) string {
	flags, n := "--date "+date.String(), 0
	for _, t := range log.Tests {
		if t.Date == date {
			n++
		}
	}
	if _, clock, timed := strings.Cut(key, " "); n > 1 && timed {
		flags += " --time " + clock
	}
	return flags
}
