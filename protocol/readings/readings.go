// Package readings reads the glucose recordings of a study: text tables, one
// row a reading, exactly as a sensor's software exported them.
//
// No export format is built in. Which columns, time layout, zone and unit a
// table has is told in a Mapping, which is data of the study; what is not told
// is guessed from the content of each file, and every guess is reported.
//
// What is wrong in a file comes back as a problem.List. The user's data never
// makes this package panic; a Unit that is neither of the two constants does,
// in Convert.
package readings

import (
	"io/fs"
	"slices"
	"time"

	"mealtrial/protocol/problem"
)

// Sizes beyond which a file is refused, so that a wrong file in the folder
// cannot fill the memory. Reading takes up to about five times the file's size.
const (
	MaxFileBytes = 1 << 30 // of a file
	MaxLineBytes = 1 << 20 // of one line of a file
)

// A Mapping tells how the exports of a study are to be read. Zero fields are
// guessed from the content of each file.
type Mapping struct {
	Delimiter string // between cells: "," ";" "|" or "tab"
	Decimal   string // mark of decimals: "." or ","

	// TimeColumn and GlucoseColumn are the text of the header cell, whatever its
	// case, or the number of the column from 1, such as "2". Where date and time
	// of day stand in two columns, TimeColumn joins them: "Date + Time".
	TimeColumn    string
	GlucoseColumn string

	// TimeLayout is a pattern in the date letters of Unicode Technical Standard
	// #35, part 4: y, M (MMM for English short names), d, H or h with a, m, s, S,
	// and X, x or Z for an offset from UTC; other text between single quotes.
	// HH also reads 7 for 07, and decimals after the seconds are always read.
	//
	//	yyyy-MM-dd HH:mm:ss
	//	yyyy-MM-dd'T'HH:mm
	//	dd.MM.yyyy HH:mm
	//	M/d/yyyy h:mm a
	//
	// The word "rfc3339" stands for date, time of day and offset as in RFC 3339,
	// section 5.6 (seconds may be missing), and "epoch" for seconds since
	// 1970-01-01T00:00:00Z.
	TimeLayout string

	Unit Unit           // of the glucose column
	Zone *time.Location // of times without an offset; nil: the study's zone
}

// A Study is what the readings are wanted in.
type Study struct {
	Unit Unit           // of Reading.Glucose; empty: MgdL
	Zone *time.Location // of Reading.Time, and of the files' times unless the Mapping has another; nil: UTC
}

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
	Time    time.Time // in the study's zone
	Glucose float64   // in the study's unit, above 0; 0 where Limit is not NotLimited
	Limit   Limit
	File    string // for example "readings/x.csv"
	Line    int    // in File, from 1
}

// A FileReport tells what was read from a file and how it was understood, for a
// person to check.
type FileReport struct {
	File        string
	Readings    int       // with those that are a Limit
	Skipped     int       // rows without a glucose value or without a time: other events
	From, To    time.Time // of the first and the last reading, in the study's zone
	HeaderLine  int       // from 1; 0: the file has no header
	NewestFirst bool      // the rows run backwards in time

	Delimiter     string // as in Mapping
	Decimal       string // "" where no glucose value has decimals
	TimeColumn    string // header text or number
	TimeLayout    string
	GlucoseColumn string // header text or number
	Unit          Unit   // in the file

	// Guessed lists which of the above were neither told in the Mapping nor said
	// by the file, under their names in the study file: delimiter, decimal,
	// time_column, time_layout, glucose_column, unit.
	Guessed []string
	Notes   []string // what else a person should know, one sentence each
}

// A Recording is all that the sensors of a study recorded.
type Recording struct {
	Readings []Reading    // all files together, each later than the one before
	Files    []FileReport // in name order
	Ignored  []string     // files in the folder whose names have other endings, in name order
}

// Between returns the readings from one time to another, both included. The
// result shares its memory with the recording; appending to it is safe.
func (r Recording) Between(from, to time.Time) []Reading {
	i, _ := slices.BinarySearchFunc(r.Readings, from, func(x Reading, t time.Time) int { return x.Time.Compare(t) })
	n, _ := slices.BinarySearchFunc(r.Readings[i:], to, func(x Reading, t time.Time) int {
		if x.Time.After(t) {
			return 1
		}
		return -1
	})
	return r.Readings[i : i+n : i+n]
}

// Read reads every file below dir whose name ends in .csv, .txt or .tsv, in
// name order. A missing or empty folder gives an empty Recording.
//
// Files and folders whose names begin with a dot are left alone; other endings
// are listed in Ignored. A link is a problem: a study is whole without files
// elsewhere.
//
// The error, if any, is a problem.List with everything wrong in the mapping and
// the files, at most five rows a file. The Recording then still holds what
// could be read: of a file the rows without a problem, of two files that
// overlap the first by name. It is for looking at, not for analysis.
func Read(fsys fs.FS, dir string, m Mapping, study Study) (Recording, error) {
	t, problems := newTold(m, study)
	if len(problems) > 0 {
		return Recording{}, problems.Err()
	}
	found, problems := find(fsys, dir)
	r := Recording{Ignored: found.ignored}
	var files []file
	for _, name := range found.tables {
		text, p := load(fsys, name, MaxFileBytes)
		if p != nil {
			problems = append(problems, *p)
			continue
		}
		f, ps := t.read(name, text)
		problems = append(problems, ps...)
		if f.report.File != "" {
			r.Files = append(r.Files, f.report)
			files = append(files, f)
		}
	}
	var ps problem.List
	r.Readings, ps = merge(files)
	return r, append(problems, ps...).Err()
}
