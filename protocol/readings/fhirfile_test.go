package readings

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// observation writes a reading as FHIR; code and rest as they come.
func observation(code, at, rest string) string {
	return fmt.Sprintf(`{"resource":{"resourceType":"Observation","status":"final","code":{"coding":[{"system":"http://loinc.org","code":%q}]},"effectiveDateTime":%q,%s}}`, code, at, rest)
}

func bundle(entries ...string) string {
	return `{"resourceType":"Bundle","type":"collection","entry":[` + "\n" + strings.Join(entries, ",\n") + "\n]}\n"
}

func quantity(value, unit, more string) string {
	return fmt.Sprintf(`"valueQuantity":{"value":%s,"system":"http://unitsofmeasure.org","code":%q%s}`, value, unit, more)
}

func TestFHIRFiles(t *testing.T) {
	text := bundle(
		observation("99504-3", "2027-01-31T07:10:00Z", quantity("98", "mg/dL", "")+`,"device":{"display":"arm"}`),
		observation("99504-3", "2027-01-31T08:00:00+01:00", quantity("101", "mg/dL", "")+`,"device":{"display":"arm"}`),
		observation("105272-9", "2027-01-31T07:05:00Z", quantity("5.5", "mmol/L", "")+`,"device":{"display":"arm"}`),
		observation("99504-3", "2027-01-31T07:15:00Z", quantity("400", "mg/dL", `,"comparator":">"`)+`,"device":{"display":"arm"}`),
		observation("99504-3", "2027-01-31T07:20:00Z", `"dataAbsentReason":{"coding":[{"code":"error"}]}`),
		observation("2339-0", "2027-01-31T07:21:00Z", quantity("130", "mg/dL", "")),
		`{"resource":{"resourceType":"Device"}}`,
	)
	r, err := Read(folder("x.json", "\ufeff"+text), "readings", Mapping{}, Study{})
	if err != nil {
		t.Fatal(err)
	}
	if got := bounds(r.Readings); got != "101 99.09 98 >=400" || sensorsOf(r) != "arm 4" {
		t.Errorf("got %s of %s", got, sensorsOf(r))
	}
	f := r.Files[0]
	want := FileReport{File: "readings/x.json", Readings: 4, Skipped: 2, OtherEvents: 1, TimeColumn: "effectiveDateTime", TimeLayout: "rfc3339", GlucoseColumn: "valueQuantity",
		Unit: MgdL, Sensors: []string{"arm"}, Highest: 400, Guessed: []string{"highest"}, From: time.Date(2027, 1, 31, 7, 0, 0, 0, time.UTC), To: time.Date(2027, 1, 31, 7, 15, 0, 0, time.UTC),
		Notes: []string{"Readings without a value, for a reason that the file gives, left out: 1.", "Readings of a finger-stick meter, left out: 1.", "Other resources, left out: 1."}}
	if diff := cmp.Diff(want, f); diff != "" {
		t.Error(diff)
	}
}

// The same readings as a table and as FHIR count once.
func TestFHIRBesideATable(t *testing.T) {
	fsys := folder("a.csv", lines("Time,Glucose (mg/dL)", "2027-01-31 07:00,101", "2027-01-31 07:05,99"),
		"b.json", bundle(observation("105272-9", "2027-01-31T07:05:00Z", quantity("5.5", "mmol/L", "")), observation("105272-9", "2027-01-31T07:10:00Z", quantity("5.4", "mmol/L", "")),
			observation("105272-9", "2027-01-31T07:10:00Z", quantity("5.4", "mmol/L", ""))))
	r, err := Read(fsys, "readings", Mapping{}, Study{})
	if err != nil || bounds(r.Readings) != "101 99 97.28" || r.Repeated != 2 || sensorsOf(r) != " 3" {
		t.Errorf("%s, %d repeated, %q, %v", bounds(r.Readings), r.Repeated, sensorsOf(r), err)
	}
	_, err = Read(folder("x.json", `{"resourceType":"Bundle"}`), "readings", Mapping{}, Study{})
	checkError(t, err, "readings/x.json: found no reading of a glucose sensor, expected Observations with LOINC 99504-3 or 105272-9; move the file out of the folder")
	_, err = Read(folder("x.json", bundle(observation("99504-3", "2027-01-31T07:05:00Z", quantity("5400", "mg/dL", "")))), "readings", Mapping{}, Study{})
	checkError(t, err, `readings/x.json:2: valueQuantity.value: found "5400", expected a value above 0 and at most 1000 mg/dL; take the reading out`)
}
