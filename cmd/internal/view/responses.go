package view

import (
	"fmt"
	"io"
	"strings"

	"mealtrial/protocol"
)

// Responses shows one row a test.
func Responses(w io.Writer, study *protocol.Study, responses []protocol.Response) error {
	p := &printer{w: w}
	unit := string(study.Endpoint.GlucoseUnit)
	d, area := 0, 0
	if unit == "mmol/L" {
		d = 2
	}
	var rows [][]string
	for _, r := range responses {
		flags := append([]string(nil), r.Flags...)
		if r.Excluded != "" {
			flags = append([]string{"left out: " + oneLine(r.Excluded)}, without(flags, r.Excluded)...)
		}
		block := missing
		if r.Block > 0 {
			block = fmt.Sprint(r.Block)
		}
		rows = append(rows, []string{r.Date.String(), orMissing(r.Time), r.Food, block, cell(r.Baseline, d), cell(r.PeakRise, d),
			cell(r.TimeToPeak, 0), cell(r.IAUC, area), cell(r.TwoHour, d), share(r.Coverage), strings.Join(flags, "; ")})
	}
	p.line("Glucose in %s, time in minutes from the first bite, incremental area in %s·min; window %s min.", unit, unit, value(study.Endpoint.Window))
	p.table([]column{left("date"), left("time"), left("food"), right("block"), right("baseline"), right("peak rise"),
		right("at min"), right("iAUC"), right("2 h"), right("coverage"), left("flags")}, rows)
	return p.err
}

func without(items []string, drop string) (kept []string) {
	for _, item := range items {
		if item != drop {
			kept = append(kept, item)
		}
	}
	return kept
}

func orMissing(text string) string {
	if text == "" {
		return missing
	}
	return text
}

func share(x *protocol.Number) string {
	if x == nil {
		return missing
	}
	return fixed(100*float64(*x), 0) + " %"
}
