package fhir

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"
)

// A Writer writes a Bundle of the type collection, one Observation at a time.
type Writer struct {
	out     io.Writer
	subject string
	n       int
	err     error
}

// NewWriter begins a Bundle. subject is how the person is called in it.
func NewWriter(out io.Writer, subject string) *Writer {
	w := &Writer{out: out, subject: subject}
	w.print("{\n \"resourceType\": \"Bundle\",\n \"type\": \"collection\"")
	return w
}

func (w *Writer) print(text string) {
	if w.err == nil {
		_, w.err = io.WriteString(w.out, text)
	}
}

type named struct {
	Display string `json:"display"`
}

type outQuantity struct {
	Value      json.Number `json:"value"`
	Comparator string      `json:"comparator,omitempty"`
	Unit       string      `json:"unit"`
	System     string      `json:"system"`
	Code       string      `json:"code"`
}

type outObservation struct {
	ResourceType      string       `json:"resourceType"`
	Status            string       `json:"status"`
	Code              concept      `json:"code"`
	Subject           named        `json:"subject"`
	EffectiveDateTime string       `json:"effectiveDateTime"`
	ValueQuantity     *outQuantity `json:"valueQuantity,omitempty"`
	DataAbsentReason  *concept     `json:"dataAbsentReason,omitempty"`
	Interpretation    []concept    `json:"interpretation,omitempty"`
	Device            *named       `json:"device,omitempty"`
}

// Write adds a reading. The same reading has the same address in every file.
func (w *Writer) Write(o Observation) error {
	x := outObservation{ResourceType: "Observation", Status: "final", Subject: named{w.subject},
		EffectiveDateTime: o.Time.Format(time.RFC3339Nano)}
	code := LoincMass
	if o.Unit == MmolL {
		code = LoincMolar
	}
	x.Code = concept{Coding: []coding{{System: systemLoinc, Code: code}}, Text: "Glucose in interstitial fluid, sensor"}
	if o.Sensor != "" {
		x.Device = &named{o.Sensor}
	}
	if o.Value > 0 {
		x.ValueQuantity = &outQuantity{Value: json.Number(strconv.FormatFloat(o.Value, 'f', -1, 64)),
			Comparator: map[Bound]string{AtMost: "<=", AtLeast: ">="}[o.Bound], Unit: o.Unit, System: systemUnits, Code: o.Unit}
	} else {
		x.DataAbsentReason = &concept{Coding: []coding{{System: systemAbsent, Code: "unknown", Display: "Unknown"}}}
	}
	if o.Bound != NoBound {
		c := map[Bound]coding{AtMost: {systemInterpretation, "<", "Off scale low"}, AtLeast: {systemInterpretation, ">", "Off scale high"}}[o.Bound]
		x.Interpretation = []concept{{Coding: []coding{c}}}
	}
	var body bytes.Buffer
	encoder := json.NewEncoder(&body)
	encoder.SetEscapeHTML(false)
	if err := encoder.Encode(x); err != nil {
		return err
	}
	name := fmt.Sprintf("mealtrial reading %s %s", o.Time.UTC().Format(time.RFC3339Nano), o.Sensor)
	separator := ",\n"
	if w.n == 0 {
		separator = ",\n \"entry\": [\n"
	}
	w.n++
	w.print(separator + `  {"fullUrl":"urn:uuid:` + uuid.NewSHA1(uuid.NameSpaceOID, []byte(name)).String() + `","resource":` + strings.TrimSuffix(body.String(), "\n") + "}")
	return w.err
}

// Close ends the Bundle. A Bundle without readings has no entry, as FHIR allows
// no empty list.
func (w *Writer) Close() error {
	if w.n > 0 {
		w.print("\n ]")
	}
	w.print("\n}\n")
	return w.err
}
