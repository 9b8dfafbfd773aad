package fhir

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func read(t *testing.T, text string) ([]Observation, Summary, error) {
	t.Helper()
	var list []Observation
	summary, problems, err := Read("x.json", iotest.OneByteReader(strings.NewReader(text)), func(o Observation) { list = append(list, o) })
	if err != nil {
		t.Fatal(err)
	}
	return list, summary, problems.Err()
}

// The readings of the guide's examples, times and values as in HL7/cgm,
// input/fsh/examples.fsh (hl7.fhir.uv.cgm, CC0); the rest of the file follows
// FHIR R4. A mean over a month and a device are no readings.
func TestExamplesOfTheGuide(t *testing.T) {
	text, err := os.ReadFile("testdata/guide_examples.json")
	if err != nil {
		t.Fatal(err)
	}
	list, summary, err := read(t, string(text))
	if err != nil {
		t.Fatal(err)
	}
	want := []Observation{
		{Time: time.Date(2024, 5, 2, 10, 15, 0, 0, time.UTC), Value: 120, Unit: "mg/dL", Line: 6},
		{Time: time.Date(2024, 5, 2, 10, 30, 0, 0, time.UTC), Value: 6.7, Unit: "mmol/L", Line: 18},
	}
	if diff := cmp.Diff(want, list); diff != "" {
		t.Error(diff)
	}
	if diff := cmp.Diff(Summary{Readings: 2, Other: 2, Subject: "Patient/example"}, summary); diff != "" {
		t.Error(diff)
	}
}

const head = `"resourceType":"Observation","status":"final","code":{"coding":[{"system":"http://loinc.org","code":"99504-3"}]},"effectiveDateTime":"2027-01-31T07:00:00+01:00"`

// Codes of data-absent-reason and of observation-interpretation are those of
// FHIR R4 (hl7.org/fhir/R4/codesystem-data-absent-reason.html and
// valueset-observation-interpretation.html: "<" off scale low, ">" off scale
// high); comparators those of Quantity.
func TestValues(t *testing.T) {
	const unit = `"unit":"mg/dL","system":"http://unitsofmeasure.org","code":"mg/dL"`
	absent := `"dataAbsentReason":{"coding":[{"system":"http://terminology.hl7.org/CodeSystem/data-absent-reason","code":"unknown"}]}`
	for _, c := range []struct {
		name, body string
		value      float64
		bound      Bound
		summary    Summary
		err        string
	}{
		{"value", `"valueQuantity":{"value":99.5,` + unit + `}`, 99.5, NoBound, Summary{Readings: 1}, ""},
		{"unit for people only", `"valueQuantity":{"value":99,"unit":"mg/dl"}`, 99, NoBound, Summary{Readings: 1}, ""},
		{"below", `"valueQuantity":{"value":40,"comparator":"<",` + unit + `}`, 40, AtMost, Summary{Readings: 1}, ""},
		{"at most", `"valueQuantity":{"value":40,"comparator":"<=",` + unit + `}`, 40, AtMost, Summary{Readings: 1}, ""},
		{"above", `"valueQuantity":{"value":400,"comparator":">",` + unit + `}`, 400, AtLeast, Summary{Readings: 1}, ""},
		{"at least", `"valueQuantity":{"value":400,"comparator":">=",` + unit + `}`, 400, AtLeast, Summary{Readings: 1}, ""},
		{"absent", absent, 0, NoBound, Summary{Absent: 1}, ""},
		{"off scale", absent + `,"interpretation":[{"coding":[{"system":"http://terminology.hl7.org/CodeSystem/v3-ObservationInterpretation","code":">"}]}]`, 0, AtLeast, Summary{Readings: 1}, ""},
		{"off scale low", absent + `,"interpretation":[{"coding":[{"code":"<"}]}]`, 0, AtMost, Summary{Readings: 1}, ""},
		{"another system's unit", `"valueQuantity":{"value":99,"system":"http://example.org","code":"mg/dL"}`, 0, NoBound, Summary{},
			`x.json:1: valueQuantity.code: found "mg/dL", expected mg/dL, the unit of its code; export it again; UCUM's units are told by the case of their letters`},
		{"no number", `"valueQuantity":{` + unit + `}`, 0, NoBound, Summary{}, `x.json:1: valueQuantity.value: found "", expected a number above 0; export it again as FHIR R4`},
		{"zero", `"valueQuantity":{"value":0,` + unit + `}`, 0, NoBound, Summary{}, `x.json:1: valueQuantity.value: found "0", expected a number above 0; export it again as FHIR R4`},
		{"about", `"valueQuantity":{"value":40,"comparator":"ad",` + unit + `}`, 0, NoBound, Summary{},
			`x.json:1: valueQuantity.comparator: found "ad", expected <, <=, >= or >; export it again as FHIR R4`},
		{"another shape", `"valueQuantity":[1]`, 0, NoBound, Summary{}, `x.json:1: found an Observation of another shape (cannot unmarshal array into Go struct field resource.valueQuantity of type fhir.quantity), expected an Observation of FHIR R4; export it again as FHIR R4`},
	} {
		t.Run(c.name, func(t *testing.T) {
			list, summary, err := read(t, "{"+head+","+c.body+"}")
			if got := fmt.Sprint(errText(err)); got != c.err {
				t.Errorf("error %s\nwant  %s", got, c.err)
			}
			if diff := cmp.Diff(c.summary, summary); diff != "" {
				t.Error(diff)
			}
			if len(list) != c.summary.Readings || len(list) == 1 && (list[0].Value != c.value || list[0].Bound != c.bound) {
				t.Errorf("got %+v", list)
			}
		})
	}
}

func errText(err error) string {
	if err == nil {
		return ""
	}
	return err.Error()
}

func TestShapesOfFiles(t *testing.T) {
	value := "{" + head + `,"valueQuantity":{"value":99,"unit":"mg/dL"}}`
	for _, c := range []struct {
		name, text string
		readings   int
		err        string
	}{
		{"one a line", value + "\n" + value + "\n", 2, ""},
		{"entries before the type", `{"entry":[{"resource":` + value + `}],"resourceType":"Bundle"}`, 1, ""},
		{"entry without a resource", `{"resourceType":"Bundle","entry":[{"fullUrl":"x"},{"resource":` + value + `}]}`, 1, ""},
		{"another resource", `{"resourceType":"Patient"}`, 0, ""},
		{"voided", strings.Replace(value, "final", "entered-in-error", 1), 0, ""},
		{"another code", strings.Replace(value, "99504-3", "8867-4", 1), 0, ""},
		{"a meter's", strings.Replace(value, "99504-3", "2339-0", 1), 0, ""},
		{"no type", `{"a":1}`, 0, "x.json:1: resourceType: found nothing, expected Bundle or Observation; move the file out of the folder, or export it as FHIR R4"},
		{"entries that are none", `{"resourceType":"Bundle","entry":{}}`, 0, "x.json:1: entry: found no list, expected a list of entries; export it again as FHIR R4\n" +
			"x.json:1: found text that is not well-formed JSON (unexpected EOF), expected a FHIR Bundle or Observation in JSON; export it again; a file that ends early was not copied whole"},
		{"empty", " \n", 0, "x.json: found an empty file, expected a FHIR Bundle or Observation in JSON; export it again, or delete it"},
		{"instant", strings.Replace(value, "effectiveDateTime", "effectiveInstant", 1), 1, ""},
		{"period", strings.Replace(value, `"effectiveDateTime":"2027-01-31T07:00:00+01:00"`, `"effectivePeriod":{}`, 1), 0,
			"x.json:1: effectiveDateTime: found a period, expected the time of the reading; export single readings, not a summary"},
		{"no time", strings.Replace(value, "effectiveDateTime", "issued", 1), 0,
			"x.json:1: effectiveDateTime: found nothing, expected the time of the reading; export single readings, not a summary"},
		{"many bad", strings.Repeat(strings.Replace(value, "T07:00:00+01:00", "", 1)+"\n", 7), 0, manyBad()},
	} {
		t.Run(c.name, func(t *testing.T) {
			list, _, err := read(t, c.text)
			if got := errText(err); got != c.err || len(list) != c.readings {
				t.Errorf("%d readings, want %d; error %s\nwant %s", len(list), c.readings, got, c.err)
			}
		})
	}
	torn := errors.New("torn")
	if _, _, err := Read("x.json", io.MultiReader(strings.NewReader("{"), iotest.ErrReader(torn)), func(Observation) {}); !errors.Is(err, torn) {
		t.Errorf("got %v, want the error of the reader", err)
	}
}

func manyBad() string {
	var lines []string
	for i := range 5 {
		lines = append(lines, fmt.Sprintf(`x.json:%d: effectiveDateTime: found "2027-01-31", expected date, time of day and offset, such as 2027-01-31T07:05:00+01:00; export it again as FHIR R4`, i+1))
	}
	return strings.Join(append(lines, "x.json: found 2 more entries like this"), "\n")
}

// What is written is well-formed JSON and is read back as it was.
func TestReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var list []Observation
		for range rapid.IntRange(0, 5).Draw(t, "n") {
			o := Observation{Time: time.Unix(rapid.Int64Range(0, 4e9).Draw(t, "time"), 0).UTC(), Unit: rapid.SampledFrom([]string{MgdL, MmolL}).Draw(t, "unit"),
				Value: float64(rapid.IntRange(1, 9999).Draw(t, "value")) / 10, Bound: Bound(rapid.IntRange(0, 2).Draw(t, "bound")), Sensor: rapid.SampledFrom([]string{"", "left \"arm\"", "<µ>"}).Draw(t, "sensor")}
			if o.Bound != NoBound && rapid.Bool().Draw(t, "no number") {
				o.Value = 0
			}
			list = append(list, o)
		}
		var text strings.Builder
		w := NewWriter(&text, "invented")
		for _, o := range list {
			if err := w.Write(o); err != nil {
				t.Fatal(err)
			}
		}
		if err := w.Close(); err != nil || !json.Valid([]byte(text.String())) {
			t.Fatalf("%v\n%s", err, text.String())
		}
		var got []Observation
		summary, problems, err := Read("x.json", strings.NewReader(text.String()), func(o Observation) {
			o.Line, o.Time = 0, o.Time.UTC()
			got = append(got, o)
		})
		if diff := cmp.Diff(list, got); diff != "" || problems != nil || err != nil || summary.Readings != len(list) {
			t.Fatalf("%s %v %v\n%s", diff, problems, err, text.String())
		}
	})
}

// Whatever a file holds, reading it does not panic and gives whole readings.
func FuzzRead(f *testing.F) {
	f.Add("")
	f.Add("{" + head + `,"valueQuantity":{"value":99,"unit":"mg/dL"}}`)
	f.Add(`{"resourceType":"Bundle","entry":[{"resource":{` + head + `,"dataAbsentReason":{},"interpretation":[{"coding":[{"code":"<"}]}]}}]}`)
	f.Add(`[{"entry":[1,{"resource":null}]}]`)
	f.Add("{\"entry\":[{}\n,")
	f.Fuzz(func(t *testing.T, text string) {
		n := 0
		summary, problems, err := Read("x.json", strings.NewReader(text), func(o Observation) {
			n++
			if o.Time.IsZero() || o.Value < 0 || o.Value == 0 && o.Bound == NoBound || math.IsInf(o.Value, 0) || o.Line < 1 || o.Line > 1+strings.Count(text, "\n") || unitOf[LoincMass] != o.Unit && unitOf[LoincMolar] != o.Unit {
				t.Fatalf("%+v", o)
			}
		})
		if err != nil || n != summary.Readings {
			t.Fatalf("%d readings, %+v, %v, %v", n, summary, problems, err)
		}
	})
}
