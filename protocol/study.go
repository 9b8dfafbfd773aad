// Package protocol is the study on paper: the study file, the schedule, the
// log and the sensor readings, and the steps that the study prescribes from
// there to an answer.
//
// Every file is plain text that a person can read and mend. What is wrong in
// one comes back as a problem.List that names file, line and field.
package protocol

import (
	"time"

	"mealtrial/protocol/readings"
	"mealtrial/stats/curve"
)

// Names of the files of a study inside its folder.
const (
	StudyFile    = "study.yaml"
	ScheduleFile = "schedule.yaml"
	LogFile      = "log.yaml"
	ReadingsDir  = "readings"
)

// Version of the program, recorded in what it writes.
const Version = "0.1.0"

// A Study is the content of a study file, with everything unsaid filled in.
type Study struct {
	Title     string
	Zone      *time.Location // of every time of day in the study
	ZoneNamed bool           // false: times are taken as they stand, without clock changes
	Endpoint  Endpoint
	Quality   Quality
	Margin    float64 // smallest difference that matters, in the endpoint's unit; 0: none declared
	Level     float64 // confidence of intervals, in (0, 1)
	Foods     []Food
	Questions []Question
	Plan      *Plan // nil where the study file has none
	Mapping   readings.Mapping
	Safety    Safety
	Digest    string // SHA-256 of the study file, in hexadecimal
}

// EndpointName is the number that is taken from a test.
type EndpointName string

// The endpoints.
const (
	PeakRise        EndpointName = "peak_rise"
	IncrementalArea EndpointName = "iauc"
)

// Words gives the endpoint as a person says it.
func (e EndpointName) Words() string {
	if e == IncrementalArea {
		return "incremental area"
	}
	return "peak rise"
}

// An Endpoint is what is measured in a test and over which minutes.
type Endpoint struct {
	Name        EndpointName
	GlucoseUnit readings.Unit
	Window      float64 // minutes after the first bite
	Baseline    float64 // minutes before the first bite
}

// Unit is the unit of the endpoint: that of glucose, times minutes for an area.
func (e Endpoint) Unit() string {
	if e.Name == IncrementalArea {
		return string(e.GlucoseUnit) + "·min"
	}
	return string(e.GlucoseUnit)
}

// Quality says when a curve is complete enough to count.
type Quality struct {
	MaxGap      float64 // minutes between neighbouring readings that may be joined
	MinCoverage float64 // share of the window that must be measured, in (0, 1]
}

func (s *Study) window() curve.Window {
	return curve.Window{BaselineFrom: -s.Endpoint.Baseline, Length: s.Endpoint.Window, MaxGap: s.Quality.MaxGap}
}

// A Role is what a food is in the study for.
type Role string

// The roles.
const (
	RoleTest      Role = "test"
	RoleReference Role = "reference"
	RoleBlank     Role = "blank" // plain water: measures the floor
)

// A Food is one of the things compared.
type Food struct {
	ID          string
	Name        string // for people; the ID where none is given
	Role        Role
	Portion     string
	Preparation string
}

// Food returns the index of a food in Foods, or −1.
func (s *Study) Food(id string) int {
	for i, f := range s.Foods {
		if f.ID == id {
			return i
		}
	}
	return -1
}

// Reference returns the index of the reference food, or −1 where there is none.
func (s *Study) Reference() int {
	for i, f := range s.Foods {
		if f.Role == RoleReference {
			return i
		}
	}
	return -1
}

func (s *Study) foodIDs() []string {
	ids := make([]string, len(s.Foods))
	for i, f := range s.Foods {
		ids[i] = f.ID
	}
	return ids
}

// A Question asks for the difference A − B of two foods.
type Question struct {
	Text string // as it was asked, "a vs b"
	A, B string // food IDs
}

// A Plan is what the schedule has to keep to.
type Plan struct {
	Start, Until Date // first and last possible test day
	Repeats      int  // tests of each food, one a block
	Washout      int  // days kept free between two tests
	Weekdays     []time.Weekday
	Busy         []DateRange
	Time         Clock  // of the first bite
	Seed         uint64 // 0: taken from the digest of the study file
	line         int    // of the plan in the study file
}

// Safety holds the tester's answers to the questions asked before any plan.
type Safety struct {
	GlucoseLoweringMedication bool
	Pregnancy                 bool
	EatingDisorder            bool
	KetoacidosisBefore        bool
	AdvisedBy                 string // the licensed person who agreed to the tests
	line                      int
}

// Concerns lists what a licensed person has to agree to first.
func (s Safety) Concerns() []string {
	var concerns []string
	for _, c := range []struct {
		yes  bool
		text string
	}{
		{s.GlucoseLoweringMedication, "glucose-lowering medication"},
		{s.Pregnancy, "pregnancy"},
		{s.EatingDisorder, "an eating disorder, now or before"},
		{s.KetoacidosisBefore, "ketoacidosis before"},
	} {
		if c.yes {
			concerns = append(concerns, c.text)
		}
	}
	return concerns
}
