// Package readings reads the glucose recordings of a study: text tables, one
// row a reading, and FHIR resources, exactly as a sensor's software exported
// them. Files may overlap, come twice, in any order and from several sensors; a
// reading counts once.
//
// No export format is built in. Which columns, time layout, zone and unit a
// table has is told in a Mapping, which is data of the study; what is not told
// is guessed from the content of each file, and every guess is reported.
//
// Tables are never held in memory whole: each is read once to check it and to
// note where what stands (index.go), and the parts that are wanted are read again
// (merge.go).
//
// What is wrong in a file comes back as a problem.List. The user's data never
// makes this package panic; a Unit that is neither of the two constants does,
// in Convert.
package readings

import (
	"io/fs"
	"slices"
	"time"
)

// Sizes beyond which a file is refused, so that a wrong file in the folder
// cannot take the computer's time.
const (
	MaxFileBytes = 1 << 30 // of a file
	MaxLineBytes = 1 << 20 // of one line of a file
)

// A Mapping tells how the exports of a study are to be read. Zero fields are
// guessed from the content of each file, unless Fixed says that nothing is.
type Mapping struct {
	Delimiter string // between cells: "," ";" "|" or "tab"
	Decimal   string // mark of decimals: "." or ","

	// TimeColumn and GlucoseColumn are the text of the header cell, whatever its
	// case, or the number of the column from 1, such as "2". Where date and time
	// of day stand in two columns, TimeColumn joins them: "Date + Time". Where
	// glucose stands in one of several columns, GlucoseColumn names them all, the
	// first that is not empty counts: "Stored glucose or Scanned glucose".
	TimeColumn    string
	GlucoseColumn string

	// TimeLayout is a pattern in the date letters of Unicode Technical Standard
	// #35, part 4: y, M (MMM for English short names), d, H or h with a, m, s, S,
	// X, x or Z for an offset from UTC, and VV at the end for a zone of the IANA
	// database; other text between single quotes. HH also reads 7 for 07, and
	// decimals after the seconds are always read.
	//
	//	yyyy-MM-dd HH:mm:ss
	//	yyyy-MM-dd'T'HH:mm
	//	dd.MM.yyyy HH:mm
	//	M/d/yyyy h:mm a
	//	yyyy-MM-dd HH:mm VV
	//
	// The word "rfc3339" stands for date, time of day and offset as in RFC 3339,
	// section 5.6 (seconds may be missing), "epoch" for seconds since
	// 1970-01-01T00:00:00Z, and "epoch-ms" for thousandths of them.
	TimeLayout string

	Unit       Unit           // of the glucose column
	Zone       *time.Location // of times without an offset; nil: the study's zone
	ZoneColumn string         // holds, row by row, a zone of the IANA database or an offset such as +01:00

	// EventColumn says what a row is, and Events which of them are readings of
	// the sensor, where one file holds several kinds of rows with glucose.
	EventColumn string
	Events      []string

	// SensorColumn says which sensor a row is from; Sensor names it for a file.
	SensorColumn string
	Sensor       string

	// Lowest and Highest are the reporting limits of the sensor, in the file's
	// unit: a value at or beyond one is a bound, not a measurement. 0: guessed.
	Lowest, Highest float64

	// AtMostColumn and AtLeastColumn hold a bound where there is no measurement.
	AtMostColumn, AtLeastColumn string

	Fixed bool          // nothing is guessed: what is not told is not in the files
	Files []FileMapping // for some of the files, the first that fits; what it leaves out is as above
}

// A FileMapping is a Mapping for the files that a pattern fits.
type FileMapping struct {
	Pattern string // as in package path, of the name inside the folder: "arm*.csv"
	Line    int    // in the study file
	Mapping        // its Files are not looked at
}

// A Study is what the readings are wanted in.
type Study struct {
	Unit Unit           // of Reading.Glucose; empty: MgdL
	Zone *time.Location // of Reading.Time, and of the files' times unless the Mapping has another; nil: UTC
	// Spans are the times whose readings are kept; nil keeps all. The files are
	// checked and compared whole either way.
	Spans []Span
}

// A Span is a stretch of time, both ends included.
type Span struct{ From, To time.Time }

// A Limit says that the sensor gave a bound in the place of a measurement.
type Limit int8

// The limits. A cell such as LOW, LO or <40 is BelowRange, and HIGH, HI or
// >400 AboveRange.
const (
	NotLimited Limit = iota
	BelowRange
	AboveRange
)

// A Reading is one row of a sensor file.
type Reading struct {
	Time time.Time // in the study's zone
	// Glucose is in the study's unit and above 0. Where Limit is not NotLimited it
	// is the bound: the true value is at most, or at least, this. 0: a bound that
	// the file does not tell.
	Glucose float64
	Limit   Limit
	Sensor  string // "" where only one is worn at a time and nothing names it
	File    string // for example "readings/x.csv"
	Line    int    // in File, from 1
}

// A FileReport tells what was read from a file and how it was understood, for a
// person to check.
type FileReport struct {
	File        string
	Readings    int       // with those that are a Limit
	Skipped     int       // rows without a glucose value or without a time: other events
	OtherEvents int       // rows with glucose of an event that is not in Events
	Repeated    int       // rows that stand twice in the file, counted once
	From, To    time.Time // of the first and the last reading, in the study's zone
	HeaderLine  int       // from 1; 0: the file has no header
	NewestFirst bool      // the rows run backwards in time

	Delimiter     string // as in Mapping
	Decimal       string // "" where no glucose value has decimals
	TimeColumn    string // header text or number
	TimeLayout    string
	GlucoseColumn string // header text or number
	Unit          Unit   // in the file
	ZoneColumn    string
	Zone          string // of times without an offset, as the zone database calls it
	EventColumn   string
	Events        []string
	SensorColumn  string
	AtMostColumn  string
	AtLeastColumn string
	Sensors       []string // that the file names
	Lowest        float64  // reporting limits in the file's unit; 0: none known
	Highest       float64

	// Guessed lists which of the above were neither told in the Mapping nor said
	// by the file, under their names in the study file: delimiter, decimal,
	// time_column, time_layout, glucose_column, unit, zone_column, event_column,
	// sensor_column, at_most_column, at_least_column, lowest, highest.
	Guessed []string
	Notes   []string // what else a person should know, one sentence each
}

// A Recording is all that the sensors of a study recorded.
type Recording struct {
	// Readings are all files together in the order of time; at one time there may
	// be one of each sensor.
	Readings []Reading
	Files    []FileReport // in name order
	Ignored  []string     // files in the folder whose names have other endings, in name order
	Merge
}

// Merge tells what became of files that cover the same time.
type Merge struct {
	Sensors     []SensorReport
	Repeated    int        // readings that stood in more than one place and count once
	Conflicts   []Conflict // the first few, and all within Study.Spans
	Conflicting int        // times at which one sensor has two values; neither counts
}

// A SensorReport tells what one sensor recorded.
type SensorReport struct {
	Name     string // "" where only one is worn at a time and nothing names it
	Files    []string
	Readings int // counted once
	From, To time.Time
}

// A Conflict is one time at which one sensor has two values.
type Conflict struct {
	Time   time.Time
	Sensor string
	A, B   Reading
}

// Empty tells whether there is nothing to take a test from.
func (r Recording) Empty() bool {
	return len(r.Readings) == 0 && !slices.ContainsFunc(r.Files, func(f FileReport) bool { return f.Readings > 0 })
}

// Between returns the readings from one time to another, both included. The
// result shares its memory with the recording; appending to it is safe.
func (r Recording) Between(from, to time.Time) []Reading {
	i, _ := slices.BinarySearchFunc(r.Readings, from, func(x Reading, t time.Time) int { return x.Time.Compare(t) })
	for i > 0 && !r.Readings[i-1].Time.Before(from) {
		i--
	}
	n, _ := slices.BinarySearchFunc(r.Readings[i:], to, func(x Reading, t time.Time) int {
		if x.Time.After(t) {
			return 1
		}
		return -1
	})
	return r.Readings[i : i+n : i+n]
}

// Read reads every file below dir whose name ends in .csv, .txt or .tsv (a
// table) or .json (FHIR), in name order. A missing or empty folder gives an
// empty Recording.
//
// Files and folders whose names begin with a dot are left alone; other endings
// are listed in Ignored. A link is a problem: a study is whole without files
// elsewhere.
//
// The error, if any, is a problem.List with everything wrong in the mapping and
// the files, at most five rows a file. The Recording then still holds what
// could be read. It is for looking at, not for analysis.
func Read(fsys fs.FS, dir string, m Mapping, study Study) (Recording, error) {
	s, err := Open(fsys, dir, m, study)
	if s == nil {
		return Recording{}, err
	}
	r := Recording{Ignored: s.Ignored, Files: s.Files, Merge: s.Merge}
	keep := func(x Reading) bool {
		r.Readings = append(r.Readings, x)
		return true
	}
	if failed := s.Each(study.Spans, keep); failed != nil {
		return r, failed
	}
	return r, err
}
