package view

import (
	"fmt"
	"io"
	"strings"

	"mealtrial/protocol"
)

// Retest shows the advice on further tests.
func Retest(w io.Writer, r *protocol.Retest) error {
	p := &printer{w: w}
	p.line("Is a retest needed?")
	var rows [][]string
	for _, q := range r.Questions {
		more, chance := "–", "–"
		if q.More != nil {
			more = fmt.Sprintf("%d of %s", *q.More, strings.Join(q.Foods, ", "))
		}
		if q.Chance != nil {
			chance = fixed(100*float64(*q.Chance), 0) + " %"
		}
		if q.Settled {
			more = "none"
		}
		rows = append(rows, []string{q.Question, q.Verdict.Words(), more, chance, q.Why})
	}
	p.table([]column{left("question"), left("verdict now"), left("more tests"), right("chance"), left("why")}, rows)
	for _, e := range r.Repeat {
		p.line("Repeat first: %s of %s, which did not count (%s).", e.Food, e.Date, oneLine(e.Reason))
	}
	if r.Narrows != "" {
		p.line("If it is to be one test only, %s narrows the declared questions most.", r.Narrows)
	}
	if len(r.Apply) > 0 {
		p.line("In all %s more; lay them out with mealtrial retest --apply.", tests(len(r.Apply)))
	}
	if len(r.Dates) > 0 {
		var dates []string
		for i, d := range r.Dates {
			if i == 8 {
				dates = append(dates, "…")
				break
			}
			dates = append(dates, d.String())
		}
		p.line("Next free dates: %s.", strings.Join(dates, ", "))
	}
	p.line("Method: %s; seed %d.", r.Method, r.Seed)
	p.line("")
	p.line("%s", r.Caution)
	return p.err
}
