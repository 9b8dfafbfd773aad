package view

import (
	"io"

	"mealtrial/protocol"
)

// Claim shows what the tests say of a claim, with the interval that says so.
func Claim(w io.Writer, c *protocol.Claim) error {
	p := &printer{w: w}
	p.line("%q: %s.", c.Text, c.Finding.Words())
	unit := ""
	if c.Unit != "" {
		unit = " " + c.Unit
	}
	if c.Estimate != nil && (c.Low != nil || c.High != nil) {
		marks := []float64{float64(c.Value), 0}
		var limits []float64
		for _, x := range []*protocol.Number{c.Low, c.High} {
			if x != nil {
				limits = append(limits, float64(*x))
			}
		}
		d := guarded(1, limits, marks)
		if c.Unit == "" {
			d = guarded(2, limits, marks)
		}
		kind := "interval"
		if c.Kind == protocol.ClaimUnder {
			kind = "one-sided bounds"
		}
		p.line("Estimate %s%s, %s %s %s to %s, %s.", cell(c.Estimate, d), unit, protocol.Percent(float64(c.Level)), kind, cell(c.Low, d), cell(c.High, d), tests(c.Tests))
		p.line("Interval: %s.", c.Method)
	}
	p.line("Why: %s.", c.Why)
	if c.Later {
		p.line("This was not declared before the tests: take it as a hint for the next study.")
	}
	p.notes(c.Warnings)
	p.line("")
	p.line("%s", c.Caution)
	return p.err
}
