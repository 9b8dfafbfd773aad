package fhir

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"

	"mealtrial/protocol/problem"
)

// A Summary counts what a file holds besides the readings.
type Summary struct {
	Readings int
	Absent   int    // sensor readings without a value, and the reason "unknown" and the like
	Voided   int    // entered in error, or cancelled
	Meter    int    // readings of a finger-stick meter
	Other    int    // other resources and other codes
	Subject  string // of the readings; "" where none is named
}

// reference is a FHIR Reference.
type reference struct {
	Reference  string `json:"reference"`
	Display    string `json:"display"`
	Identifier struct {
		Value string `json:"value"`
	} `json:"identifier"`
}

func (r reference) name() string {
	for _, name := range []string{r.Display, r.Identifier.Value, r.Reference} {
		if name = strings.TrimSpace(name); name != "" {
			return name
		}
	}
	return ""
}

// key tells one subject from another.
func (r reference) key() string {
	for _, name := range []string{r.Reference, r.Identifier.Value, r.Display} {
		if name = strings.TrimSpace(name); name != "" {
			return name
		}
	}
	return ""
}

type quantity struct {
	Value      json.Number `json:"value"`
	Comparator string      `json:"comparator"`
	Unit       string      `json:"unit"`
	System     string      `json:"system"`
	Code       string      `json:"code"`
}

type resource struct {
	ResourceType      string          `json:"resourceType"`
	Status            string          `json:"status"`
	Code              concept         `json:"code"`
	Subject           reference       `json:"subject"`
	Device            reference       `json:"device"`
	EffectiveDateTime string          `json:"effectiveDateTime"`
	EffectiveInstant  string          `json:"effectiveInstant"`
	EffectivePeriod   json.RawMessage `json:"effectivePeriod"`
	ValueQuantity     *quantity       `json:"valueQuantity"`
	DataAbsentReason  *concept        `json:"dataAbsentReason"`
	Interpretation    []concept       `json:"interpretation"`
}

// mostProblems of a file are told one by one.
const mostProblems = 5

// A reader goes through one file.
type reader struct {
	file     string
	lines    *lineCounter
	decoder  *json.Decoder
	yield    func(Observation)
	summary  Summary
	problems problem.List
	bad      int // readings with a problem
}

// Read gives every sensor reading of a file: an Observation, a Bundle of any
// type, or several resources one after the other (NDJSON). It reads one entry at
// a time, however long the file. What is wrong comes back as a problem.List, at
// most a few entries one by one; readings without a problem are given all the
// same. The error is a failure to read.
func Read(file string, in io.Reader, yield func(Observation)) (Summary, problem.List, error) {
	r := &reader{file: file, lines: &lineCounter{in: in}, yield: yield}
	r.decoder = json.NewDecoder(r.lines)
	err := r.all()
	if more := r.bad - mostProblems; more > 0 {
		r.add(0, "", fmt.Sprintf("%d more entries like this", more), "", "")
	}
	var syntax *json.SyntaxError
	var kind *json.UnmarshalTypeError
	switch {
	case errors.As(err, &syntax), errors.As(err, &kind), errors.Is(err, io.ErrUnexpectedEOF), errors.Is(err, io.EOF):
		r.add(r.lines.at(r.decoder.InputOffset()), "", "text that is not well-formed JSON ("+strings.TrimPrefix(err.Error(), "json: ")+")",
			"a FHIR Bundle or Observation in JSON", "export it again; a file that ends early was not copied whole")
	case err != nil:
		return r.summary, r.problems, err
	}
	return r.summary, r.problems, nil
}

func (r *reader) add(line int, field, found, expected, mend string) {
	r.problems = append(r.problems, problem.Problem{File: r.file, Line: line, Field: field, Found: found, Expected: expected, Mend: mend})
}

// all reads one top-level value after the other.
func (r *reader) all() error {
	for n := 0; ; n++ {
		token, err := r.decoder.Token()
		if err == io.EOF {
			if n == 0 {
				r.add(0, "", "an empty file", "a FHIR Bundle or Observation in JSON", "export it again, or delete it")
			}
			return nil
		}
		if err != nil {
			return err
		}
		line := r.lines.at(r.decoder.InputOffset())
		if token != json.Delim('{') {
			r.add(line, "", "JSON that is no FHIR resource", "a Bundle or an Observation", "move the file out of the folder, or export it as FHIR R4")
			return nil
		}
		if err := r.top(line); err != nil {
			return err
		}
	}
}

// top reads one resource, whose opening bracket is read. The entries of a
// Bundle are taken as they come, whatever stands before or after them.
func (r *reader) top(line int) error {
	rest := map[string]json.RawMessage{}
	for r.decoder.More() {
		token, err := r.decoder.Token()
		if err != nil {
			return err
		}
		key, _ := token.(string)
		if key == "entry" {
			if err := r.entries(); err != nil {
				return err
			}
			continue
		}
		var value json.RawMessage
		if err := r.decoder.Decode(&value); err != nil {
			return err
		}
		rest[key] = value
	}
	if _, err := r.decoder.Token(); err != nil {
		return err
	}
	var kind string
	_ = json.Unmarshal(rest["resourceType"], &kind)
	switch kind {
	case "Bundle":
	case "Observation":
		whole, err := json.Marshal(rest)
		if err != nil {
			return err
		}
		r.resource(whole, line)
	case "":
		r.add(line, "resourceType", "nothing", "Bundle or Observation", "move the file out of the folder, or export it as FHIR R4")
	default:
		r.summary.Other++
	}
	return nil
}

func (r *reader) entries() error {
	token, err := r.decoder.Token()
	if err != nil {
		return err
	}
	if token != json.Delim('[') {
		r.add(r.lines.at(r.decoder.InputOffset()), "entry", "no list", "a list of entries", "export it again as FHIR R4")
		// What follows cannot be told apart any more.
		return io.ErrUnexpectedEOF
	}
	for r.decoder.More() {
		var raw json.RawMessage
		if err := r.decoder.Decode(&raw); err != nil {
			return err
		}
		line := r.lines.at(r.decoder.InputOffset() - int64(len(raw)))
		var entry struct {
			Resource json.RawMessage `json:"resource"`
		}
		if err := json.Unmarshal(raw, &entry); err != nil || entry.Resource == nil {
			r.summary.Other++
			continue
		}
		r.resource(entry.Resource, line)
	}
	_, err = r.decoder.Token()
	return err
}

// resource takes a reading, and counts what is none.
func (r *reader) resource(raw json.RawMessage, line int) {
	var x resource
	if err := json.Unmarshal(raw, &x); err != nil {
		var head struct {
			ResourceType string `json:"resourceType"`
		}
		if json.Unmarshal(raw, &head) == nil && head.ResourceType != "Observation" {
			r.summary.Other++
			return
		}
		r.complain(&problem.Problem{Line: line, Found: "an Observation of another shape (" + strings.TrimPrefix(err.Error(), "json: ") + ")",
			Expected: "an Observation of FHIR R4", Mend: "export it again as FHIR R4"})
		return
	}
	unit := ""
	for code, u := range unitOf {
		if x.Code.has(systemLoinc, code) {
			unit = u
		}
	}
	switch {
	case x.ResourceType != "Observation":
		r.summary.Other++
	case unit == "" && slices.ContainsFunc(meterCodes, func(code string) bool { return x.Code.has(systemLoinc, code) }):
		r.summary.Meter++
	case unit == "":
		r.summary.Other++
	case x.Status == "entered-in-error" || x.Status == "cancelled":
		r.summary.Voided++
	default:
		r.reading(&x, unit, line)
	}
}

func (r *reader) complain(p *problem.Problem) {
	if r.bad++; r.bad <= mostProblems {
		p.File = r.file
		r.problems = append(r.problems, *p)
	}
}

func (r *reader) reading(x *resource, unit string, line int) {
	o := Observation{Unit: unit, Sensor: x.Device.name(), Line: line}
	p := x.when(&o)
	absent := false
	if p == nil {
		absent, p = x.value(&o)
	}
	if p == nil {
		p = r.sameSubject(x.Subject.key())
	}
	if p != nil {
		p.Line = line
		r.complain(p)
		return
	}
	if absent {
		r.summary.Absent++
		return
	}
	r.summary.Readings++
	r.yield(o)
}

// sameSubject: a file of two persons must not be taken for one.
func (r *reader) sameSubject(key string) *problem.Problem {
	if key == "" || key == r.summary.Subject {
		return nil
	}
	if r.summary.Subject == "" {
		r.summary.Subject = key
		return nil
	}
	return &problem.Problem{Field: "subject", Found: strconv.Quote(key) + " and, before it, " + strconv.Quote(r.summary.Subject),
		Expected: "readings of one person", Mend: "export the readings of the tester alone"}
}

// when reads the time. FHIR R4, section 2.24.0.1: a dateTime with a time of day
// has seconds and an offset.
func (x *resource) when(o *Observation) *problem.Problem {
	text, field := x.EffectiveDateTime, "effectiveDateTime"
	if text == "" && x.EffectiveInstant != "" {
		text, field = x.EffectiveInstant, "effectiveInstant"
	}
	if text == "" {
		found := "nothing"
		if len(x.EffectivePeriod) > 0 {
			found = "a period"
		}
		return &problem.Problem{Field: field, Found: found, Expected: "the time of the reading", Mend: "export single readings, not a summary"}
	}
	t, err := time.Parse(time.RFC3339, text)
	if err != nil || t.Year() < 1970 {
		return &problem.Problem{Field: field, Found: strconv.Quote(text), Expected: "date, time of day and offset, such as 2027-01-31T07:05:00+01:00",
			Mend: "export it again as FHIR R4"}
	}
	o.Time = t
	return nil
}

// value reads the value or why there is none.
func (x *resource) value(o *Observation) (absent bool, p *problem.Problem) {
	q := x.ValueQuantity
	switch {
	case q != nil && x.DataAbsentReason != nil:
		return false, &problem.Problem{Field: "dataAbsentReason", Found: "a reason for the absence of a value beside a value", Expected: "one of the two", Mend: "export it again as FHIR R4"}
	case q == nil && x.DataAbsentReason == nil:
		return false, &problem.Problem{Field: "valueQuantity", Found: "neither a value nor a reason for its absence", Expected: "one of the two", Mend: "export it again as FHIR R4"}
	case q == nil:
		for _, c := range x.Interpretation {
			switch {
			case c.has(systemInterpretation, "<"):
				o.Bound = AtMost
			case c.has(systemInterpretation, ">"):
				o.Bound = AtLeast
			}
		}
		return o.Bound == NoBound, nil
	}
	if !q.in(o.Unit) {
		return false, &problem.Problem{Field: "valueQuantity.code", Found: strconv.Quote(firstOf(q.Code, q.Unit)), Expected: o.Unit + ", the unit of its code",
			Mend: "export it again; UCUM's units are told by the case of their letters"}
	}
	v, err := q.Value.Float64()
	if err != nil || !(v > 0) {
		return false, &problem.Problem{Field: "valueQuantity.value", Found: strconv.Quote(q.Value.String()), Expected: "a number above 0", Mend: "export it again as FHIR R4"}
	}
	o.Value = v
	switch q.Comparator {
	case "":
	case "<", "<=":
		o.Bound = AtMost
	case ">", ">=":
		o.Bound = AtLeast
	default:
		return false, &problem.Problem{Field: "valueQuantity.comparator", Found: strconv.Quote(q.Comparator), Expected: "<, <=, >= or >", Mend: "export it again as FHIR R4"}
	}
	return false, nil
}

// in tells whether a quantity has a unit: by its UCUM code, or, where it has
// none, by what people read.
func (q *quantity) in(unit string) bool {
	if q.Code == "" {
		return strings.EqualFold(q.Unit, unit)
	}
	return q.Code == unit && (q.System == systemUnits || q.System == "")
}

func firstOf(texts ...string) string {
	for _, text := range texts {
		if text != "" {
			return text
		}
	}
	return ""
}

// A lineCounter knows the line of a place that was read.
type lineCounter struct {
	in    io.Reader
	read  int64
	ends  []int64 // of lines that were read and not passed yet
	lines int     // passed
}

func (c *lineCounter) Read(p []byte) (int, error) {
	n, err := c.in.Read(p)
	for i, b := range p[:n] {
		if b == '\n' {
			c.ends = append(c.ends, c.read+int64(i))
		}
	}
	c.read += int64(n)
	return n, err
}

// at gives the line of an offset, from 1; offsets must not go back.
func (c *lineCounter) at(offset int64) int {
	n := 0
	for n < len(c.ends) && c.ends[n] < offset {
		n++
	}
	c.lines += n
	c.ends = c.ends[:copy(c.ends, c.ends[n:])]
	return c.lines + 1
}
