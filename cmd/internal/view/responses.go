package view

import (
	"fmt"
	"io"
	"math"
	"slices"
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
	var lines []protocol.SafetyLine
	for _, r := range responses {
		lines = append(lines, r.Safety...)
	}
	p.safety(lines)
	extra := !slices.Contains(tabledEndpoints, study.Endpoint.Name)
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
		if r.Sensor != "" {
			flags = append(flags, "sensor "+oneLine(r.Sensor))
		}
		row := []string{r.Date.String(), orMissing(r.Time), r.Food, block, bounded(r, "baseline", r.Baseline, d),
			bounded(r, "peak_rise", r.PeakRise, d), cell(r.TimeToPeak, 0), bounded(r, "iauc", r.IAUC, area), bounded(r, "two_hour", r.TwoHour, d), share(r.Coverage), strings.Join(flags, "; ")}
		if extra {
			row = slices.Insert(row, 9, bounded(r, string(study.Endpoint.Name), r.Value, d))
		}
		for _, o := range study.Outcomes {
			text := missing
			if x, ok := r.Outcomes[o.ID]; ok {
				text = o.Text(float64(x))
			}
			row = slices.Insert(row, len(row)-1, text)
		}
		rows = append(rows, row)
	}
	p.line("Glucose in %s, time in minutes from the first bite, incremental area in %s·min; window %s min.", unit, unit, value(study.Endpoint.Window))
	columns := []column{left("date"), left("time"), left("food"), right("block"), right("baseline"), right("peak rise"),
		right("at min"), right("iAUC"), right("2 h"), right("coverage"), left("flags")}
	if extra {
		columns = slices.Insert(columns, 9, right(study.Endpoint.InWords()))
	}
	for _, o := range study.Outcomes {
		columns = slices.Insert(columns, len(columns)-1, right(o.ID))
	}
	p.table(columns, rows)
	if slices.ContainsFunc(responses, func(r protocol.Response) bool { return showsBound(r) }) {
		p.line("≥ at least, ≤ at most, ? not known: glucose was at a reporting limit of the sensor, and the number is no measurement.")
	}
	return p.err
}

// tabledEndpoints have a column in any case.
var tabledEndpoints = []protocol.EndpointName{protocol.PeakRise, protocol.IncrementalArea, protocol.TimeOfPeak, protocol.TwoHourValue}

// showsBound tells whether the table marks a number as no measurement.
func showsBound(r protocol.Response) bool {
	for _, key := range []string{"baseline", "peak_rise", "iauc", "two_hour"} {
		if r.Bounds[key] != "" {
			return true
		}
	}
	return false
}

// bounded marks a number that is no measurement.
func bounded(r protocol.Response, key string, x *protocol.Number, decimals int) string {
	b := r.Bounds[key]
	if x == nil || b == "" {
		return cell(x, decimals)
	}
	scale := math.Pow10(decimals)
	switch b {
	case protocol.AtLeast: // rounded to its own side
		return "≥ " + fixed(math.Floor(float64(*x)*scale+1e-9)/scale, decimals)
	case protocol.AtMost:
		return "≤ " + fixed(math.Ceil(float64(*x)*scale-1e-9)/scale, decimals)
	}
	return "?"
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
