package view

import (
	"fmt"
	"math"
	"strings"

	"mealtrial/protocol"
)

// randomised shows each comparison held against the draw of the schedule.
func (p *printer) randomised(a *protocol.Analysis, d int) {
	var rows [][]string
	inverted := false
	for _, q := range a.Questions {
		inverted = inverted || q.Randomisation != nil && q.Randomisation.Level != nil
	}
	for _, q := range a.Questions {
		r := q.Randomisation
		if r == nil {
			continue
		}
		row := []string{q.Question, "–", "–", "–"}
		if r.P != nil {
			row = []string{q.Question, protocol.PValue(float64(*r.P)), Orders(*r.Orders), protocol.PValue(float64(*r.Smallest))}
		}
		if inverted {
			row = append(row, cell(r.Low, d), cell(r.High, d))
		}
		rows = append(rows, append(row, randomisedNote(r)))
	}
	if len(rows) == 0 {
		return
	}
	p.line("")
	p.line("Held against the draw (randomisation test, two-sided, each question for itself at this look%s)", drawnOf(a))
	columns := []column{left("question"), right("p"), right("orders"), right("smallest p")}
	if inverted {
		columns = append(columns, right("low"), right("high"))
	}
	p.table(append(columns, left("note")), rows)
	if inverted {
		p.line("  low to high: the differences in %s that the test does not reject, at %s confidence.", a.Endpoint.Unit, protocol.Percent(levelOf(a)))
	}
}

func drawnOf(a *protocol.Analysis) string {
	if a.Schedules == nil {
		return ""
	}
	return "; the draw could have given " + Orders(*a.Schedules) + " schedules"
}

func randomisedNote(r *protocol.Randomisation) string {
	var notes []string
	add := func(format string, args ...any) { notes = append(notes, fmt.Sprintf(format, args...)) }
	if r.Missing != "" {
		add("%s", r.Missing)
	}
	if r.P != nil && !r.Exact {
		add("%d random orders, seed %d, error %.1g", r.Draws, r.Seed, float64(r.PError))
	}
	if r.P != nil && !strings.HasPrefix(string(r.Null), "the two") {
		add("if %s", r.Null)
	}
	if r.NoLimits != "" {
		add("%s", r.NoLimits)
	}
	if r.LeftOut > 0 {
		add("%s off the schedule left out", tests(r.LeftOut))
	}
	if r.Days {
		add("other orders lie on other days")
	}
	return strings.Join(notes, "; ")
}

// Orders words a number of orders.
func Orders(o protocol.Orders) string {
	switch {
	case o.Number != "" && len(o.Number) <= 7:
		return o.Number
	case o.Number != "" || o.LogError == 0:
		return power10(float64(o.Log10), 3)
	}
	return "about " + power10(float64(o.Log10), 2)
}

// power10 writes a number by its logarithm.
func power10(log float64, significant int) string {
	exponent := math.Floor(log)
	if exponent < 7 {
		return fmt.Sprintf("%.*g", 7, roundTo(math.Pow(10, log), significant))
	}
	return fmt.Sprintf("%.*f·10^%d", significant-1, math.Pow(10, log-exponent), int(exponent))
}

func roundTo(x float64, significant int) float64 {
	scale := math.Pow(10, math.Floor(math.Log10(x))-float64(significant-1))
	return math.Round(x/scale) * scale
}
