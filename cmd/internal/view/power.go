package view

import (
	"fmt"
	"io"
	"math"
	"strings"

	"mealtrial/protocol"
)

// Power shows what a study can show by its number of repeats.
func Power(w io.Writer, r *protocol.Power) error {
	p := &printer{w: w}
	p.line("Question: %s, in %s. Spread of single tests: SD %s, %s%s.", r.Question, r.Unit, value(float64(r.Spread.SD)), r.Spread.From, spreadDF(r.Spread.DF))
	if r.Margin != nil {
		p.line("Smallest difference that matters: %s %s.", declared(float64(*r.Margin)), r.Unit)
	}
	p.line("")
	p.line("What the study costs and how wide its %s interval is", protocol.Percent(float64(r.Level)))
	p.table([]column{right("repeats"), right("test days"), right("blocks"), right("sensors"), left("last test"), right("df"), right("interval ± " + r.Unit)}, powerCosts(r))
	for i, size := range r.Sizes {
		p.line("")
		p.line("Chance of each verdict if the true difference is %s %s", declared(float64(size)), r.Unit)
		p.table([]column{right("repeats"), right("different"), right("too small"), right("no difference that matters"), right("still open")}, powerChances(r, i))
	}
	p.stops(r)
	p.line("")
	p.line("Method: %s.", r.Method)
	p.notes(r.Warnings)
	p.line("")
	p.line("%s", r.Caution)
	return p.err
}

func spreadDF(df *protocol.Number) string {
	if df == nil {
		return ", taken as known"
	}
	return fmt.Sprintf(", on %s degrees of freedom", value(float64(*df)))
}

func powerCosts(r *protocol.Power) (rows [][]string) {
	for _, row := range r.Rows {
		last, sensors, width := missing, missing, missing
		if row.LastDate != nil {
			last = row.LastDate.String()
		}
		switch {
		case row.LastDate == nil:
			last = "no layout fits"
		case !row.Fits:
			last += " (beyond the plan)"
		}
		if row.Sensors != nil {
			sensors = fmt.Sprint(*row.Sensors)
		}
		if row.Width != nil {
			width = fixed(float64(*row.Width), decimalsFor(float64(r.Spread.SD), 2))
		}
		rows = append(rows, []string{fmt.Sprint(row.Repeats), fmt.Sprint(row.TestDays), fmt.Sprint(row.Blocks), sensors, last, fmt.Sprint(row.DF), width})
	}
	return rows
}

func powerChances(r *protocol.Power, size int) (rows [][]string) {
	for _, row := range r.Rows {
		cells := []string{fmt.Sprint(row.Repeats), missing, missing, missing, missing}
		if size < len(row.Chances) {
			c := row.Chances[size]
			for i, x := range []protocol.Number{c.Different, c.TooSmall, c.NoDifference, c.Open} {
				cells[i+1] = chance(float64(x))
			}
		}
		rows = append(rows, cells)
	}
	return rows
}

// stops shows how soon the question is settled where there are several looks.
func (p *printer) stops(r *protocol.Power) {
	var rows [][]string
	for _, row := range r.Rows {
		for _, stop := range row.Stops {
			var after, by []string
			for _, l := range stop.Looks {
				after, by = append(after, fmt.Sprint(l.After)), append(by, chance(float64(l.Settled)))
			}
			rows = append(rows, []string{fmt.Sprint(row.Repeats), declared(float64(stop.Difference)), strings.Join(after, ", "), strings.Join(by, ", "), fixed(float64(stop.Tests), 1)})
		}
	}
	if len(rows) == 0 {
		return
	}
	p.line("")
	p.line("How soon it is settled, when testing stops at the first look that settles it")
	p.table([]column{right("repeats"), right("true difference"), left("looks after block"), left("settled by then"), right("mean number of tests")}, rows)
}

func chance(x float64) string {
	switch {
	case x > 0 && x <= 0.005: // half a point would round to 0
		return "<1 %"
	case x < 1 && x >= 0.995:
		return ">99 %"
	}
	return fixed(100*x, 0) + " %"
}

// monteCarlo is the largest standard error of a share of n simulated studies.
func monteCarlo(n int) float64 { return 0.5 / math.Sqrt(float64(n)) }
