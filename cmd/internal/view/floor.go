package view

import (
	"fmt"

	"mealtrial/protocol"
)

// floor shows what a day without food gives, and each food against it.
func (p *printer) floor(a *protocol.Analysis, d int) {
	o := a.Floor
	if o == nil {
		return
	}
	why := map[protocol.EndpointName]string{
		protocol.PeakRise:        " is not zero, as the highest of many noisy readings lies above their mean",
		protocol.IncrementalArea: " is not zero, as readings are noisy and what lies below the baseline is ignored",
		protocol.NetArea:         " is not always zero, as glucose drifts",
	}[a.Endpoint.Name]
	p.line("Floor: without food the %s%s; %s.", a.Endpoint.InWords(), why, o.Text)
	var rows [][]string
	for _, f := range o.Foods {
		if f.Tests == 0 {
			continue
		}
		g := d
		if f.Low != nil && f.High != nil {
			g = guarded(d, []float64{float64(*f.Low), float64(*f.High)}, []float64{0})
		}
		small := missing
		if f.Small > 0 {
			small = fmt.Sprintf("%d of %d", f.Small, f.Tests)
		}
		rows = append(rows, []string{f.Food, fmt.Sprint(f.Tests), cell(f.Difference, g), cell(f.Low, g), cell(f.High, g), small, f.Text})
	}
	if len(rows) > 0 {
		p.table([]column{left("food"), right("tests"), right("above the floor " + a.Endpoint.Unit), right("low"), right("high"), right("tests within it"), left("note")}, rows)
		p.line("  Mean less the floor, %s interval by t with a spread of their own for days without food, each food for itself, in no family.", protocol.Percent(float64(o.Level)))
	}
	p.line("")
}
