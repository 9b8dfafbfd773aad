package view

import (
	"io"
	"strings"

	"mealtrial/protocol"
)

// Next shows what is due.
func Next(w io.Writer, n *protocol.Next) error {
	p := &printer{w: w}
	p.safety(n.Safety)
	p.line("%s.", capital(n.Why))
	if t := n.Test; t != nil {
		p.line("")
		p.line("Test %d of %d: %s %s at %s (%s)", n.Number, n.Of, t.Date.Weekday(), t.Date, t.Time, blockWords(*t))
		p.line("  Eat: %s", strings.Join(nonEmpty(n.Name, n.Portion), ", "))
		if n.Prepare != "" {
			p.line("  Prepare: %s", n.Prepare)
		}
		if n.Sensor != "" {
			p.line("  Sensor: %s", n.Sensor)
		}
		p.points("  The evening before", n.Evening)
		p.points("  At the test", n.Hold)
		p.points("  To note", n.Note)
	}
	if len(n.Missed) > 0 {
		p.points("Not in the log", n.Missed)
	}
	p.points("Not noted yet; where it is not known, leave it out", n.NotNoted)
	p.notes(n.Warnings)
	p.line("")
	p.line("%s", n.Caution)
	return p.err
}

func (p *printer) points(title string, items []string) {
	if len(items) == 0 {
		return
	}
	p.line("%s", title)
	for _, item := range items {
		p.line("    - %s", item)
	}
}

func nonEmpty(items ...string) (out []string) {
	for _, item := range items {
		if item != "" {
			out = append(out, item)
		}
	}
	return out
}

func capital(text string) string {
	if text == "" {
		return text
	}
	return strings.ToUpper(text[:1]) + text[1:]
}
