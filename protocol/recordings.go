package protocol

import (
	"os"
	"time"

	"mealtrial/protocol/readings"
)

// Recordings is what the sensor's files hold and how they were understood.
type Recordings struct {
	Files       []RecordingFile     `json:"files"`
	Sensors     []RecordingSensor   `json:"sensors"`
	Repeated    int                 `json:"repeated"`    // readings that stood in more than one place and count once
	Conflicting int                 `json:"conflicting"` // times at which one sensor has two values; neither counts
	Conflicts   []RecordingConflict `json:"conflicts"`   // the first few
	Ignored     []string            `json:"ignored"`     // files with other endings
	Unit        readings.Unit       `json:"unit"`        // of every glucose value here

	set *readings.Set
}

// A RecordingFile is one file.
type RecordingFile struct {
	File        string          `json:"file"`
	Format      string          `json:"format"` // "table" or "FHIR"
	Readings    int             `json:"readings"`
	From        time.Time       `json:"from"`
	To          time.Time       `json:"to"`
	HeaderLine  int             `json:"header_line"` // 0 without one
	NewestFirst bool            `json:"newest_first"`
	Skipped     int             `json:"skipped"`      // rows without a value or a time
	OtherEvents int             `json:"other_events"` // rows with glucose that is not the sensor's
	Mapping     []RecordingPart `json:"mapping"`
	Notes       []string        `json:"notes"`
}

// A RecordingPart is one key of how a file is read.
type RecordingPart struct {
	Key    string `json:"key"` // under readings: in the study file
	Value  string `json:"value"`
	Origin string `json:"origin"` // "guessed", "study file" or "said by the file"
}

// A RecordingSensor is one sensor.
type RecordingSensor struct {
	Name     string    `json:"name"` // "" where only one is worn at a time and nothing names it
	Files    []string  `json:"files"`
	Readings int       `json:"readings"` // counted once
	From     time.Time `json:"from"`
	To       time.Time `json:"to"`
}

// A RecordingConflict is a time at which one sensor has two values.
type RecordingConflict struct {
	Time   time.Time      `json:"time"`
	Sensor string         `json:"sensor"`
	Values []RecordingRow `json:"values"`
}

// A RecordingRow is one row of a file.
type RecordingRow struct {
	File    string  `json:"file"`
	Line    int     `json:"line"`
	Glucose *Number `json:"glucose"` // null for a bound without a number
	Bound   Bound   `json:"bound,omitempty"`
}

// LoadRecordings reads the sensor's files of a folder whole. An error that the
// person can mend is a problem.List; what could be read is given all the same.
func LoadRecordings(dir string) (*Recordings, *Study, error) {
	study, err := LoadStudy(dir)
	if err != nil {
		return nil, nil, err
	}
	set, err := readings.Open(os.DirFS(dir), ReadingsDir, study.Mapping,
		readings.Study{Unit: study.Endpoint.GlucoseUnit, Zone: study.Zone})
	if set == nil {
		return nil, study, err
	}
	return newRecordings(set, study), study, err
}

func newRecordings(set *readings.Set, study *Study) *Recordings {
	r := &Recordings{Files: []RecordingFile{}, Sensors: []RecordingSensor{}, Conflicts: []RecordingConflict{}, Ignored: append([]string{}, set.Ignored...),
		Repeated: set.Repeated, Conflicting: set.Conflicting, Unit: study.Endpoint.GlucoseUnit, set: set}
	for i, f := range set.Files {
		x := RecordingFile{File: f.File, Format: map[bool]string{true: "table", false: "FHIR"}[set.IsTable(i)], Readings: f.Readings, From: f.From, To: f.To, HeaderLine: f.HeaderLine, NewestFirst: f.NewestFirst,
			Skipped: f.Skipped, OtherEvents: f.OtherEvents, Mapping: []RecordingPart{}, Notes: append([]string{}, f.Notes...)}
		for _, p := range set.Parts(i) {
			x.Mapping = append(x.Mapping, RecordingPart{p.Key, p.Value, p.Origin})
		}
		r.Files = append(r.Files, x)
	}
	for _, s := range set.Sensors {
		r.Sensors = append(r.Sensors, RecordingSensor(s))
	}
	for _, c := range set.Conflicts {
		r.Conflicts = append(r.Conflicts, RecordingConflict{Time: c.Time, Sensor: c.Sensor, Values: []RecordingRow{rowOf(c.A), rowOf(c.B)}})
	}
	return r
}

var boundOf = map[readings.Limit]Bound{readings.BelowRange: AtMost, readings.AboveRange: AtLeast}

func rowOf(x readings.Reading) RecordingRow {
	r := RecordingRow{File: x.File, Line: x.Line, Bound: boundOf[x.Limit]}
	if x.Glucose > 0 {
		r.Glucose = some(x.Glucose)
	}
	return r
}
