// Package fhir reads and writes glucose readings of a sensor as HL7 FHIR R4
// (4.0.1) Observations, alone or in a Bundle.
//
// Codes and units are those of the HL7 guide on continuous glucose monitoring,
// hl7.fhir.uv.cgm 1.0.0: LOINC 99504-3 with UCUM mg/dL, or LOINC 105272-9 with
// UCUM mmol/L. A reading has an effectiveDateTime, and either a valueQuantity or
// a dataAbsentReason. A value beyond the reporting range of the sensor is a
// valueQuantity with a comparator, or, where no number is known, an absent value
// with the interpretation "<" or ">" (off scale low, off scale high).
package fhir

import "time"

// LOINC codes of a sensor reading.
const (
	LoincMass  = "99504-3"  // glucose, mass per volume, interstitial fluid
	LoincMolar = "105272-9" // glucose, amount per volume, interstitial fluid
)

// Systems that codes are from.
const (
	systemLoinc          = "http://loinc.org"
	systemUnits          = "http://unitsofmeasure.org"
	systemAbsent         = "http://terminology.hl7.org/CodeSystem/data-absent-reason"
	systemInterpretation = "http://terminology.hl7.org/CodeSystem/v3-ObservationInterpretation"
)

// Units in UCUM, whose letters' case matters.
const (
	MgdL  = "mg/dL"
	MmolL = "mmol/L"
)

// unitOf is the unit that goes with a code.
var unitOf = map[string]string{LoincMass: MgdL, LoincMolar: MmolL}

// meterCodes are glucose of a finger-stick meter: 2339-0 mass and 15074-8 amount
// in blood, 41653-7 in capillary blood by glucometer (the latter two from
// memory).
var meterCodes = []string{"2339-0", "15074-8", "41653-7"}

// A Bound says that the true value lies beyond the one that is told.
type Bound int8

// The bounds.
const (
	NoBound Bound = iota
	AtMost        // comparator < or <=, or off scale low
	AtLeast       // comparator > or >=, or off scale high
)

// An Observation is one reading.
type Observation struct {
	Time   time.Time
	Value  float64 // above 0; 0 where only a bound without a number is known
	Unit   string  // MgdL or MmolL
	Bound  Bound
	Sensor string // the device, as the resource names it; may be empty
	Line   int    // in the file, from 1
}

// coding is a FHIR Coding.
type coding struct {
	System  string `json:"system,omitempty"`
	Code    string `json:"code,omitempty"`
	Display string `json:"display,omitempty"`
}

// concept is a FHIR CodeableConcept.
type concept struct {
	Coding []coding `json:"coding,omitempty"`
	Text   string   `json:"text,omitempty"`
}

// has tells whether a coding of a system is among them.
func (c concept) has(system, code string) bool {
	for _, x := range c.Coding {
		if x.Code == code && (x.System == system || x.System == "") {
			return true
		}
	}
	return false
}
