package readings

import (
	"math"
	"strings"
	"testing"
)

func TestConvert(t *testing.T) {
	for _, c := range []struct {
		x        float64
		from, to Unit
		want     float64
	}{
		{1, MmolL, MgdL, 18.0156}, // MolarMass / 10
		{18.0156, MgdL, MmolL, 1},
		{5.4, MmolL, MmolL, 5.4},
		{101, MgdL, MgdL, 101},
	} {
		if got := Convert(c.x, c.from, c.to); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("Convert(%g, %s, %s) = %g, want %g", c.x, c.from, c.to, got, c.want)
		}
	}
	if sum := 6*12.011 + 12*1.008 + 6*15.999; math.Abs(sum-MolarMass) > 1e-9 {
		t.Errorf("MolarMass %g, its atoms weigh %g", MolarMass, sum)
	}
	defer func() {
		if recover() == nil {
			t.Error("no panic for an unknown unit")
		}
	}()
	Convert(1, "mg", MgdL)
}

func TestUnits(t *testing.T) {
	file := func(header string, values ...string) string {
		l := []string{"Time," + header}
		for i, v := range values {
			l = append(l, "2027-01-31 07:0"+string(rune('0'+i))+","+v)
		}
		return lines(l...)
	}
	const contradiction = "readings/x.csv:1: "
	for _, c := range []struct {
		name, content string
		told          Unit
		unit          Unit
		guessed       bool
		err           string
	}{
		{"header", file("Glucose (mg/dL)", "101", "99"), "", MgdL, false, ""},
		{"header, other letters", file("Glucose [MMOL / l]", "5.4", "5.5"), "", MmolL, false, ""},
		{"told", file("Glucose", "5.4", "5.5"), MmolL, MmolL, false, ""},
		{"no unit, and not the study's", file("Glucose", "5.4", "5.4"), "", "", false,
			contradiction + "Glucose: found readings of 5.4 without a unit, in a study in mg/dL, expected readings in the study's unit, or a named unit; if they are in mmol/L, write readings: {unit: mmol/L} in study.yaml"},
		{"guessed mg/dL", file("Glucose", "101", "99"), "", MgdL, true, ""},
		{"both units in the header", file("Glucose mg/dL or mmol/L", "101", "99"), "", MgdL, true, ""},
		{"only bounds", file("Glucose", "LOW", "HIGH"), "", MgdL, false, ""},
		{"header and told agree", file("Glucose (mg/dL)", "101", "99"), MgdL, MgdL, false, ""},
		{"told unit mends a wrong header", file("Glucose (mg/dL)", "5.4", "5.5"), MmolL, MmolL, false, ""},
		{"header contradicted by values", file("Glucose (mg/dL)", "5.4", "5.4"), "", "", false,
			contradiction + "Glucose (mg/dL): found readings of 5.4 called mg/dL, expected a median of at least 30 mg/dL; write readings: {unit: mmol/L} in study.yaml"},
		{"told contradicted by values", file("Glucose", "101", "99"), MmolL, "", false,
			contradiction + "Glucose: found readings of 100 called mmol/L, expected a median of at most 35 mmol/L; write readings: {unit: mg/dL} in study.yaml"},
		{"header and told disagree", file("Glucose (mg/dL)", "101", "99"), MmolL, "", false,
			contradiction + `readings.unit: found column "Glucose (mg/dL)", called mmol/L in study.yaml, expected one unit; leave out readings.unit in study.yaml`},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, err := readOne(c.content, Mapping{Unit: c.told})
			checkError(t, err, c.err)
			if err != nil {
				return
			}
			if f := r.Files[0]; f.Unit != c.unit || strings.Contains(strings.Join(f.Guessed, " "), "unit") != c.guessed {
				t.Errorf("unit %s, guessed %v; want %s, %v", f.Unit, f.Guessed, c.unit, c.guessed)
			}
			if x := r.Readings[0].Glucose; x != 0 && (x < 95 || x > 105) {
				t.Errorf("glucose %g not in the study's mg/dL", x)
			}
		})
	}
	_, report := mustRead(t, file("Glucose (mg/dL)", "5.4", "5.5"), Mapping{Unit: MmolL})
	if want := "The header says mg/dL; the values, median 5.45, and study.yaml say mmol/L."; strings.Join(report.Notes, "") != want {
		t.Errorf("notes %q, want %q", report.Notes, want)
	}
	_, report = mustRead(t, file("Glucose (mmol/L)", "5", "6", "5", "7", "5", "6", "5", "6", "8", "6"), Mapping{})
	if want := "All values are whole mmol/L; check that their decimals are not in a cell of their own."; strings.Join(report.Notes, "") != want {
		t.Errorf("notes %q, want %q", report.Notes, want)
	}
}
