package view

import (
	"strings"

	"mealtrial/protocol"
)

// robustness shows each verdict beside those of the same question answered in
// other ways, at the same level.
func (p *printer) robustness(a *protocol.Analysis, d int) {
	for _, r := range a.Robustness {
		p.line("")
		state := "holds in every way that gave an answer"
		if len(r.Fragile) > 0 {
			state = "fragile"
		}
		p.line("Does it hold? %s, %s: %s.", r.Question, r.Verdict.Words(), state)
		var rows [][]string
		for _, w := range r.Ways {
			places := d
			if w.Unit == "" {
				places = 2
			}
			words := w.Verdict.Words()
			if w.Low == nil {
				words = "no answer this way"
			} else if w.Changes {
				words += " (changes)"
			}
			rows = append(rows, []string{w.Way, cell(w.Estimate, places), cell(w.Low, places), cell(w.High, places), words, strings.TrimSpace(w.Note)})
		}
		p.table([]column{left("answered with"), right("estimate"), right("low"), right("high"), left("verdict"), left("note")}, rows)
	}
}
