package readings

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"slices"
	"strings"

	"mealtrial/protocol/fhir"
	"mealtrial/protocol/problem"
)

// indexFHIR reads a file of FHIR resources. Its entries stay in memory, 32 bytes
// each, as they stand in no order that could be read again in parts.
func (t *told) indexFHIR(fsys fs.FS, name string) (*file, problem.List) {
	src, p := fileSource(fsys, name, MaxFileBytes)
	if p != nil {
		return nil, problem.List{*p}
	}
	in, err := src.open(0)
	if err != nil {
		return nil, problem.List{unreadable(name, err)}
	}
	defer in.Close()
	f := &file{told: t}
	f.report = FileReport{File: name, TimeColumn: "effectiveDateTime", TimeLayout: "rfc3339", GlucoseColumn: "valueQuantity"}
	c := &complaints{file: name}
	var entries []entry
	summary, problems, err := fhir.Read(name, bomless(in), func(o fhir.Observation) {
		e, p := f.fromFHIR(o)
		if p != nil {
			p.Line = o.Line
			c.row(*p)
			return
		}
		entries = append(entries, e)
	})
	if err != nil {
		return nil, append(problems, unreadable(name, err))
	}
	problems = append(problems, c.all()...)
	f.report.Skipped, f.report.OtherEvents = summary.Absent+summary.Voided+summary.Other, summary.Meter
	f.report.Notes = fhirNotes(summary)
	if len(entries) == 0 {
		if len(problems) == 0 {
			found := "no reading of a glucose sensor"
			if len(f.report.Notes) > 0 {
				found += " (" + strings.Join(f.report.Notes, " ") + ")"
			}
			problems = append(problems, problem.Problem{File: name, Found: found,
				Expected: fmt.Sprintf("Observations with LOINC %s or %s", fhir.LoincMass, fhir.LoincMolar), Mend: "move the file out of the folder"})
		}
		return nil, problems
	}
	f.arrange(entries)
	return f, problems
}

// bomless skips a byte order mark, which JSON must not have (RFC 8259, section
// 8.1) but readers may ignore.
func bomless(in io.Reader) io.Reader {
	head := make([]byte, 3)
	n, err := io.ReadFull(in, head)
	if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
		return in
	}
	rest := strings.TrimPrefix(string(head[:n]), "\xef\xbb\xbf")
	return io.MultiReader(strings.NewReader(rest), in)
}

func fhirNotes(s fhir.Summary) (notes []string) {
	for _, c := range []struct {
		n    int
		what string
	}{{s.Absent, "Readings without a value, for a reason that the file gives, left out: %d."}, {s.Voided, "Readings entered in error or cancelled, left out: %d."},
		{s.Meter, "Readings of a finger-stick meter, left out: %d."}, {s.Other, "Other resources, left out: %d."}} {
		if c.n > 0 {
			notes = append(notes, fmt.Sprintf(c.what, c.n))
		}
	}
	return notes
}

func (f *file) fromFHIR(o fhir.Observation) (entry, *problem.Problem) {
	unit := Unit(o.Unit)
	if f.report.Unit == "" {
		f.report.Unit = unit
	}
	e := entry{at: o.Time.UnixMicro(), line: o.Line, limit: map[fhir.Bound]Limit{fhir.AtMost: BelowRange, fhir.AtLeast: AboveRange}[o.Bound]}
	const highest = 1000 // mg/dL, as in tables
	if o.Value > 0 {
		if Convert(o.Value, unit, MgdL) > highest {
			return e, &problem.Problem{Field: "valueQuantity.value", Found: quote(short(o.Value)),
				Expected: fmt.Sprintf("a value above 0 and at most %s %s", short(Convert(highest, MgdL, unit)), unit), Mend: "take the reading out"}
		}
		e.glucose = Convert(o.Value, unit, f.report.Unit)
	}
	sensor := plainText(o.Sensor)
	if sensor == "" {
		sensor = f.told.mapping.Sensor
	}
	i := slices.IndexFunc(f.stretches, func(u *stretch) bool { return u.sensor == sensor })
	if i < 0 {
		i = len(f.stretches)
		f.stretches = append(f.stretches, &stretch{file: f, sensor: sensor, min: e.at, max: e.at, firstAt: e.at, line: o.Line})
	}
	f.stretches[i].add(e.at)
	e.unit = int32(i)
	f.bounds.add(e)
	return e, nil
}

// arrange puts the entries in the order of time and cuts them into blocks.
func (f *file) arrange(entries []entry) {
	slices.SortStableFunc(entries, func(a, b entry) int { return cmp.Or(cmp.Compare(a.at, b.at), cmp.Compare(a.unit, b.unit)) })
	for i := 1; i < len(entries); i++ {
		if entries[i].at == entries[i-1].at && entries[i].unit == entries[i-1].unit {
			f.noteRepeat(entries[i].at)
			f.report.Repeated++
		}
	}
	for part := range slices.Chunk(entries, blockRows) {
		f.blocks = append(f.blocks, block{min: part[0].at, max: part[len(part)-1].at, entries: part})
	}
	for _, u := range f.stretches {
		if u.sensor != "" {
			f.report.Sensors = append(f.report.Sensors, u.sensor)
		}
		f.report.Readings += u.n
	}
	from, to := f.span()
	f.report.From, f.report.To = f.told.asTime(from), f.told.asTime(to)
	f.settleLimits()
}
