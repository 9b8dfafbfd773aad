package view

import (
	"io"

	"mealtrial/protocol"
	"mealtrial/stats"
)

// Spread shows the spread of a study, and the entry by which another takes it.
func Spread(w io.Writer, e protocol.Earlier) error {
	p := &printer{w: w}
	const level = 0.95
	limits := stats.SDInterval(e.SD, float64(e.DF), level)
	d := decimalsFor(e.SD, 2)
	p.line("Within-person SD of %s: %s %s (%s interval %s to %s by chi-square, %s).", e.Study, fixed(e.SD, d), e.EndpointUnit(),
		protocol.Percent(level), fixed(limits.Low, d), fixed(limits.High, d), degrees(e.DF))
	if e.Sensor == "" {
		p.line("The study file names no kind of sensor (sensor: in your words), without which the spread is pooled with no other.")
	}
	p.line("In the study file of a later study:")
	p.line("")
	p.line("spread:")
	p.line("  - %s", e.Entry())
	return p.err
}
