// Package protocol is the study on paper: the study file, the schedule, the
// log and the sensor readings, and the steps that the study prescribes from
// there to an answer.
//
// Every file is plain text that a person can read and mend. What is wrong in
// one comes back as a problem.List that names file, line and field.
package protocol

import (
	"slices"
	"time"

	"mealtrial/design"

	"mealtrial/protocol/busy"
	"mealtrial/protocol/label"
	"mealtrial/protocol/readings"
	"mealtrial/protocol/yamldoc"
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
const Version = "0.2.0"

// A Study is the content of a study file, with everything unsaid filled in.
type Study struct {
	Title        string
	Zone         *time.Location // of every time of day in the study
	ZoneNamed    bool           // false: times are taken as they stand, without clock changes
	Endpoint     Endpoint
	Quality      Quality
	Margin       float64 // smallest difference that matters, in the endpoint's unit; 0: none declared
	Level        float64 // confidence of intervals, in (0, 1)
	Foods        []Food
	Questions    []Question
	Looks        Looks     // when the study may be analysed and stopped
	Sensor       string    // kind of sensor, in the tester's words
	Earlier      []Earlier // spreads of earlier studies to pool with
	LogRatios    bool      // ratios are of geometric means: spread in proportion to the response
	OwnSpread    bool      // each food has a spread of its own
	RandomBlocks bool      // blocks are a random sample of days or sensors
	Plan         *Plan     // nil where the study file has none
	Mapping      readings.Mapping
	Safety       Safety
	Outcomes     []Outcome // secondary, besides glucose
	Watch        Watch     // of the search for a change with which a plan fits; nil: nobody watches
	Digest       string    // SHA-256 of the study file without its readings: part, in hexadecimal: the lock

	whole  string   // SHA-256 of all bytes of the study file; versions before 0.2 took it for the lock
	codes  []string // of a masked schedule, which the log may use for foods
	masked bool     // and its key was not opened yet
}

// Keeps tells whether a lock is that of the study file as it is now.
func (s *Study) Keeps(lock string) bool { return lock == s.Digest || lock == s.whole }

// EndpointName is the number that is taken from a test.
type EndpointName string

// The endpoints.
const (
	PeakRise        EndpointName = "peak_rise"
	IncrementalArea EndpointName = "iauc"
)

// Words gives the endpoint as a person says it.
func (e EndpointName) Words() string {
	return endpointWords[e]
}

// An Endpoint is what is measured in a test and over which minutes.
type Endpoint struct {
	Name        EndpointName
	GlucoseUnit readings.Unit
	Window      float64 // minutes after the first bite
	Baseline    float64 // minutes before the first bite
	Level       float64 // of time_above, in GlucoseUnit
	Secondary   []Secondary
	Smoothing   curve.Smoothing // of the readings, before anything is measured
	Span        int             // readings that are smoothed over
}

// Unit is the unit of the endpoint: that of glucose, times minutes for an area, or
// minutes.
func (e Endpoint) Unit() string {
	switch e.Name.quantity() {
	case anArea:
		return string(e.GlucoseUnit) + "·min"
	case aTime:
		return "min"
	}
	return string(e.GlucoseUnit)
}

// Quality says when a curve is complete enough to count.
type Quality struct {
	MaxGap      float64 // minutes between neighbouring readings that may be joined
	MinCoverage float64 // share of the window that must be measured, in (0, 1]
	// LimitIsBound: a test with its endpoint at the sensor's reporting limit counts
	// with the bound for its value. Otherwise it is left out of the means.
	LimitIsBound bool
	Flags        Thresholds // of the quality flags
	Sensors      []string   // where several cover a test, the first of these that covers enough is taken
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
	Repeats     int          // tests; 0: as the plan says
	From, Until Date         // days on which it may be had; 0: any
	Label       *label.Label // nil: none was copied
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

// Served returns the index in Foods of the food that a schedule names, or −1 where
// it names a code of which the food is not to be known.
func (s *Study) Served(word string) int {
	if s.masked {
		return -1
	}
	return s.Food(word)
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

// logFoods are the words that the log may use for a food.
// While a schedule is masked these are its codes alone.
func (s *Study) logFoods() []string {
	if s.masked {
		return s.codes
	}
	return append(s.foodIDs(), s.codes...)
}

// coded tells whether the food of an entry in the log is a code. In schedules that
// were masked before codes kept clear of ids, a code may be the id of a food as
// well; there the entry has to say which it means, as record does.
func (s *Study) coded(food, masked yamldoc.Node) bool {
	if s.masked || !s.ambiguous(food.Text()) {
		return slices.Contains(s.codes, food.Text())
	}
	if !masked.Present() {
		food.Reject(food.Found()+", which is the id of a food and a code of the masked schedule as well", "masked: yes with a code, masked: no with an id",
			"add masked: yes if the entry was made before the key was opened, masked: no if after it")
	}
	return masked.YesNo()
}

// ambiguous tells whether a word is the id of a food and a code as well.
func (s *Study) ambiguous(food string) bool {
	return slices.Contains(s.codes, food) && s.Food(food) >= 0
}

func (s *Study) foodIDs() []string {
	ids := make([]string, len(s.Foods))
	for i, f := range s.Foods {
		ids[i] = f.ID
	}
	return ids
}

// A Question asks something about one or two foods.
type Question struct {
	Text    string // in words, such as "a vs b" or "a below 30"
	Kind    QuestionKind
	A, B    string  // food IDs; B is empty for questions about a limit
	Limit   float64 // of Below and NextBelow, in the endpoint's unit
	Terms   []Term  // of a Contrast: weights that cancel out
	Primary bool    // the one that the study is there for
}

// A QuestionKind is what is asked.
type QuestionKind string

// The kinds of questions. Their texts are part of the JSON contract.
const (
	Difference QuestionKind = "difference" // a vs b: a minus b
	Ratio      QuestionKind = "ratio"      // a vs b as ratio: a over b
	Below      QuestionKind = "below"      // a below 30: the mean
	NextBelow  QuestionKind = "next_below" // next a below 30: the next serving
	SameAs     QuestionKind = "same"       // a same as b: within the margin, by two one-sided tests
	Contrast   QuestionKind = "contrast"   // (a+c) - a vs (b+c) - b: a weighted sum of means
)

// A Term is a food with its weight in a contrast.
type Term struct {
	Food   string
	Weight float64
}

// compares tells whether the question is about a difference between foods.
func (k QuestionKind) compares() bool {
	return k == Difference || k == Ratio || k == SameAs || k == Contrast
}

// Weights returns the weight of each food in what the question compares.
func (s *Study) Weights(q Question) []float64 {
	w := make([]float64, len(s.Foods))
	if q.Kind != Contrast {
		w[s.Food(q.A)], w[s.Food(q.B)] = 1, -1
	}
	for _, t := range q.Terms {
		w[s.Food(t.Food)] += t.Weight
	}
	return w
}

// foodsOf returns the indexes of the foods of a question.
func (s *Study) foodsOf(q Question) (foods []int) {
	if !q.Kind.compares() {
		return []int{s.Food(q.A)}
	}
	for i, w := range s.Weights(q) {
		if w != 0 {
			foods = append(foods, i)
		}
	}
	return foods
}

// A Plan is what the schedule has to keep to.
type Plan struct {
	Start, Until Date           // first and last possible test day
	Repeats      int            // tests of each food where the food does not say
	Washout      int            // days kept free between two tests
	After        map[string]int // days kept free after a food, where more
	Before       map[string]int // days kept free before a food, where more
	Weekdays     []time.Weekday
	PerWeek      int // most tests in any seven days; 0: no limit
	Busy         []DateRange
	Calendars    []string // iCalendar files in the study folder
	Filming      []Date   // days on which a test is wanted
	Time         Clock    // of the first bite
	Tolerance    float64  // minutes that the first bite may be early or late
	Fast         float64  // minutes before the first bite in which nothing may be booked
	BlockSize    int      // tests in a block; 0: every food once
	Sensors      []Sensor // lives of the sensors; empty: not known
	Straddle     bool     // a block may lie on two sensors
	ReferenceMax int      // most tests of the reference in one block
	RunIn        int      // tests of the reference before the first block, not analysed
	CarryOver    bool     // balance which food follows which
	Trend        bool     // balance places within blocks
	Consecutive  bool     // a food may stand on two consecutive tests
	Seed         uint64   // 0: taken from the digest of the study file

	line    int         // of the plan in the study file
	booked  []busy.Span // from the calendars, filled in by the folder
	digests map[string]string

	held  []design.Held // tests eaten before a plan that is laid out again
	quick bool          // a plan that is only tried out
	skip  bool          // every second sensor is left without a block
	slack int           // tests by which the room of a sensor is taken to be smaller

	CalendarNotes []string // what was left out of the calendars, or read with goodwill
}

// A Sensor is the life of one sensor.
type Sensor struct {
	Start  time.Time // when it is set
	Life   float64   // days
	Settle float64   // minutes after Start in which no test counts
}

// Safety holds the tester's answers to the questions asked before any plan.
type Safety struct {
	GlucoseLoweringMedication bool
	Pregnancy                 bool
	EatingDisorder            bool
	KetoacidosisBefore        bool
	AdvisedBy                 string   // the licensed person who agreed to the tests
	Avoid                     []string // foods, ingredients and allergens that the tester does not eat
	Answered                  bool     // every question has an answer
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
