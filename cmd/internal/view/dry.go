package view

import (
	"fmt"
	"io"

	"mealtrial/protocol"
)

// Dry shows what a look would be, without estimates.
func Dry(w io.Writer, r *protocol.RehearsedLook) error {
	p := &printer{w: w}
	p.safety(r.Safety)
	p.line("%s counted, %s for the within-person SD. This was no look: nothing was written and no estimate is shown.", tests(r.Tests), degrees(r.DF))
	if n := len(r.Looks.After); n > 0 {
		p.line("%s finished; looks are declared after %s.", blocks(r.Looks.Finished), numbers(r.Looks.After))
	}
	switch {
	case r.Looks.Anytime:
		p.line("A look now would not be a declared one: %s. Intervals would be wide, here and at every later look.", r.Looks.Why)
	case r.Looks.Now > 0 && len(r.Looks.After) > 1:
		p.line("A look now would be the %s declared one.", ordinal(r.Looks.Now))
	}
	if f := r.Family; f != nil && f.Price != nil {
		p.line("Intervals are %s times as wide as for one question at one look (%s, %s).", cell(f.Price, 2), questionCount(f.Questions), protocol.Count(f.Looks, "look", "looks"))
	}
	var rows [][]string
	for _, q := range r.Questions {
		rows = append(rows, []string{q.Question, fmt.Sprint(q.Tests), cell(q.HalfWidth, 2), q.Missing})
	}
	p.line("")
	p.table([]column{left("question"), right("tests"), right("half width in SDs"), left("missing")}, rows)
	p.line("")
	p.line("%s", r.Caution)
	return p.err
}
