package readings

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"mealtrial/protocol/problem"
)

// A Unit is a unit of glucose concentration.
type Unit string

// The units.
const (
	MgdL  Unit = "mg/dL"
	MmolL Unit = "mmol/L"
)

// MolarMass of glucose, C6H12O6, in g/mol: 6·12.011 + 12·1.008 + 6·15.999
// (IUPAC abridged standard atomic weights; LOINC part LG7967-5 prints the same).
const MolarMass = 180.156

// Convert gives a glucose concentration in another unit:
//
//	x mmol/L = x · MolarMass/10 mg/dL
//
// It panics when a unit is neither MgdL nor MmolL.
func Convert(x float64, from, to Unit) float64 {
	const factor = MolarMass / 10
	switch {
	case from == to && (from == MgdL || from == MmolL):
		return x
	case from == MmolL && to == MgdL:
		return x * factor
	case from == MgdL && to == MmolL:
		return x / factor
	}
	panic("readings: unknown unit of glucose")
}

// unitIn finds the unit that a header names; "" for none or both.
func unitIn(header string) Unit {
	h := strings.ToLower(strings.ReplaceAll(header, " ", ""))
	mgdl, mmol := strings.Contains(h, "mg/dl"), strings.Contains(h, "mmol/l")
	switch {
	case mgdl && !mmol:
		return MgdL
	case mmol && !mgdl:
		return MmolL
	}
	return ""
}

// Nobody lives at a median of 30 mg/dL (1.7 mmol/L), nor of 35 mmol/L (630
// mg/dL), so that the median tells the unit even of an extreme recording.
const (
	lowestMgdL   = 30
	highestMmolL = 35
)

// unitOf tells the unit that values with this median must have, "" in doubt.
func unitOf(median float64) Unit {
	switch {
	case median < lowestMgdL:
		return MmolL
	case median > highestMmolL:
		return MgdL
	}
	return ""
}

// settleUnit finds the unit of the glucose column. The header's unit gives way
// to the study file's where the values say so too: else a wrong header could
// not be mended without changing the sensor's file.
func (s *shape) settleUnit(t *told, c tally) *problem.Problem {
	header := cmp.Or(unitIn(s.name(s.glucose[0])), c.unit)
	s.unit = header
	if s.unit == "" {
		s.unit = t.mapping.Unit
	}
	if c.values.n == 0 {
		if s.unit == "" {
			s.unit = t.study.Unit
		}
		return nil
	}
	mid := median(c.values.list)
	seen := unitOf(mid)
	if told := t.mapping.Unit; header != "" && told != "" && told != header {
		if told != seen {
			return &problem.Problem{Line: s.headerLine, Field: "readings.unit",
				Found:    fmt.Sprintf("column %s, called %s in %s", quote(s.glucoseName()), told, studyFile),
				Expected: "one unit", Mend: "leave out readings.unit in " + studyFile}
		}
		s.unit = told
		s.notes = append(s.notes, fmt.Sprintf("The header says %s; the values, median %s, and %s say %s.", header, short(mid), studyFile, told))
	}
	if s.unit == "" {
		if p := t.mustTell("unit"); p != nil {
			return p
		}
		s.unit = MgdL
		if mid < lowestMgdL {
			s.unit = MmolL
		}
		s.guess("unit")
		if s.unit != t.study.Unit {
			return unnamed(s, mid, t.study.Unit)
		}
	}
	if seen != "" && seen != s.unit {
		return contradiction(s, mid, seen)
	}
	if s.unit == MmolL && c.points+c.commas == 0 && c.values.n >= 10 {
		s.notes = append(s.notes, "All values are whole mmol/L; check that their decimals are not in a cell of their own.")
	}
	return nil
}

func contradiction(s *shape, mid float64, seen Unit) *problem.Problem {
	expected := fmt.Sprintf("a median of at least %d %s", lowestMgdL, MgdL)
	if s.unit == MmolL {
		expected = fmt.Sprintf("a median of at most %d %s", highestMmolL, MmolL)
	}
	return &problem.Problem{Line: s.headerLine, Field: s.field(s.glucose[0]),
		Found: fmt.Sprintf("readings of %s called %s", short(mid), s.unit), Expected: expected,
		Mend: fmt.Sprintf("write readings: {unit: %s} in %s", seen, studyFile)}
}

// unnamed asks for the unit: a guess that differs from the unit in which the
// study thinks is not made for the person.
func unnamed(s *shape, mid float64, study Unit) *problem.Problem {
	return &problem.Problem{Line: s.headerLine, Field: s.field(s.glucose[0]),
		Found:    fmt.Sprintf("readings of %s without a unit, in a study in %s", short(mid), study),
		Expected: "readings in the study's unit, or a named unit",
		Mend:     fmt.Sprintf("if they are in %s, write readings: {unit: %s} in %s", s.unit, s.unit, studyFile)}
}

// median of at least one value.
func median(values []float64) float64 {
	sorted := slices.Clone(values)
	slices.Sort(sorted)
	n := len(sorted)
	return (sorted[(n-1)/2] + sorted[n/2]) / 2
}
