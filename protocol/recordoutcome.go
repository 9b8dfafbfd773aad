package protocol

import (
	"bytes"
	"regexp"
)

// An OutcomeEntry is the value of an outcome as the person typed it.
type OutcomeEntry struct{ ID, Value string }

// Adds tells whether the entry adds to an earlier test.
func (e Entry) Adds() bool {
	return e.Food == nil && e.Corrects == "" && (len(e.Outcomes) > 0 || e.LookedAt != nil || len(e.Happened) > 0)
}

// bare are the values that stand in the log without quotes, as a person types them.
var bare = regexp.MustCompile(`^(-?[0-9]+(\.[0-9]+)?|yes|no|~)$`)

func (e Entry) formatAdded(b *bytes.Buffer) {
	if e.Measured != nil {
		b.WriteString(", measured: " + *e.Measured)
	}
	for i, o := range e.Outcomes {
		value := o.Value
		if !bare.MatchString(value) {
			value = quoted(value)
		}
		b.WriteString(map[bool]string{true: ", outcomes: {", false: ", "}[i == 0] + quoted(o.ID) + ": " + value)
	}
	if len(e.Outcomes) > 0 {
		b.WriteString("}")
	}
	for i, text := range e.Happened {
		b.WriteString(map[bool]string{true: ", happened: [", false: ", "}[i == 0] + quoted(text))
	}
	if len(e.Happened) > 0 {
		b.WriteString("]")
	}
	if e.LookedAt != nil {
		b.WriteString(", looked_at: " + quoted(*e.LookedAt))
	}
}
