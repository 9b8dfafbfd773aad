package view

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"mealtrial/protocol"
)

const minuteLayout = "2006-01-02 15:04"

// Recordings shows each sensor file and how it was understood, and what became
// of the files together.
func Recordings(w io.Writer, r *protocol.Recordings) error {
	p := &printer{w: w}
	for _, name := range r.Ignored {
		p.line("%s is not read; its ending is not that of a table (.csv, .tsv, .txt) or of FHIR (.json).", name)
	}
	if len(r.Files) == 0 {
		p.line("No sensor files. Copy them into " + protocol.ReadingsDir + "/ as they were exported.")
		return p.err
	}
	for i, f := range r.Files {
		alike := slices.IndexFunc(r.Files[:i], func(e protocol.RecordingFile) bool { return e.Format == f.Format && slices.Equal(e.Mapping, f.Mapping) })
		if alike < 0 {
			p.recordingFile(f, "")
		} else {
			p.recordingFile(f, r.Files[alike].File)
		}
	}
	p.sensors(r)
	p.conflicts(r)
	return p.err
}

// recordingFile shows a file; alike is one before it that is read in the same way.
func (p *printer) recordingFile(f protocol.RecordingFile, alike string) {
	header := "no header"
	if f.HeaderLine > 0 {
		header = fmt.Sprintf("header in line %d", f.HeaderLine)
	}
	if f.Format != "table" {
		header = f.Format
	}
	order := ""
	if f.NewestFirst {
		order = ", newest first"
	}
	if alike != "" {
		order += ", read as " + alike
	}
	p.line("%s: %s from %s to %s; %s%s", f.File, protocol.Count(f.Readings, "reading", "readings"),
		f.From.Format(minuteLayout), f.To.Format(minuteLayout), header, order)
	var rows [][]string
	for _, m := range f.Mapping {
		rows = append(rows, []string{m.Key, oneLine(m.Value), m.Origin})
	}
	if alike == "" {
		p.table([]column{left("key"), left("value"), left("known from")}, rows)
	}
	if f.Skipped > 0 {
		p.line("  %s without a value or a time skipped.", protocol.Count(f.Skipped, "row", "rows"))
	}
	if f.OtherEvents > 0 {
		p.line("  %s with glucose of other kinds skipped.", protocol.Count(f.OtherEvents, "row", "rows"))
	}
	for _, note := range f.Notes {
		p.line("  %s", oneLine(note))
	}
}

func (p *printer) sensors(r *protocol.Recordings) {
	p.line("")
	p.line("Sensors, each reading counted once")
	var rows [][]string
	for _, s := range r.Sensors {
		rows = append(rows, []string{orMissing(oneLine(s.Name)), fmt.Sprint(s.Readings), s.From.Format(minuteLayout), s.To.Format(minuteLayout), strings.Join(s.Files, ", ")})
	}
	p.table([]column{left("sensor"), right("readings"), left("from"), left("to"), left("files")}, rows)
	if r.Repeated > 0 {
		p.line("%s in more than one place %s counted once.", protocol.Count(r.Repeated, "reading", "readings"), map[bool]string{true: "was", false: "were"}[r.Repeated == 1])
	}
}

func (p *printer) conflicts(r *protocol.Recordings) {
	if r.Conflicting == 0 {
		return
	}
	p.line("")
	p.line("Conflicts: one sensor, one time, two values in %s. Neither counts.", protocol.Count(r.Conflicting, "place", "places"))
	var rows [][]string
	for _, c := range r.Conflicts {
		row := []string{c.Time.Format(time.DateTime), orMissing(oneLine(c.Sensor))}
		for _, v := range c.Values {
			text := missing
			if v.Glucose != nil {
				text = value(float64(*v.Glucose))
			}
			if v.Bound != "" {
				text = string(v.Bound) + " " + text
			}
			row = append(row, text, fmt.Sprintf("%s:%d", v.File, v.Line))
		}
		rows = append(rows, row)
	}
	p.table([]column{left("time"), left("sensor"), right(string(r.Unit)), left("in"), right(string(r.Unit)), left("in")}, rows)
	if more := r.Conflicting - len(r.Conflicts); more > 0 {
		p.line("  and %d more", more)
	}
}
