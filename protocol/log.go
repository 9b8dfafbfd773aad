package protocol

import (
	"bytes"
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"
	"unicode/utf8"

	"mealtrial/protocol/problem"
	"mealtrial/protocol/readings"
	"mealtrial/protocol/yamldoc"
)

// A Test is one serving eaten and measured, after all corrections.
type Test struct {
	Date       Date
	Time       Clock // of the first bite; valid when HasTime
	HasTime    bool
	Food       string
	Block      int // 0: none given
	Ate        string
	Value      float64 // endpoint read by hand, in the study's unit; valid when HasValue
	HasValue   bool
	Deviations []string
	Exclude    string // the reason not to count the test; "" where it counts
	Note       string
	Outcomes   map[string]Noted // by id; what was not noted is missing
	LookedAt   string           // what was done about a safety line of the test
	Happened   []Happening      // eating, exercise and other things around the test
	Added      []int            // lines of late entries
	Masked     bool             // entered before the key of a masked schedule was opened
	Line       int              // of the entry in the log
	Corrected  []int            // lines of its corrections
	Coded      bool             // Food is a code of a masked schedule
}

// Key names a test by its date and, where given, time of first bite.
func (t Test) Key() string {
	if t.HasTime {
		return t.Date.String() + " " + t.Time.String()
	}
	return t.Date.String()
}

// clash tells whether two tests cannot be told apart by date and time.
func (t Test) clash(o Test) bool {
	return t.Date == o.Date && (t.Time == o.Time || !t.HasTime || !o.HasTime)
}

// A Log is the tests of a study.
type Log struct {
	Tests    []Test // by date and time
	Entries  int    // documents in the file, corrections included
	HalfLine int    // line of a half-written last entry; 0: none
}

// largestRise bounds a peak rise typed by hand, by unit: above it the unit must
// be wrong. Common practice, no source: sensors report up to 400–500 mg/dL.
var largestRise = map[readings.Unit]float64{readings.MgdL: 700, readings.MmolL: 39}

// ParseLog reads the log of a study: a stream of YAML documents, one a test; a
// document with "corrects" changes an earlier one. A last entry that breaks off
// is reported in the result and the rest is kept. The error is a problem.List.
func ParseLog(data []byte, s *Study) (*Log, error) {
	r := &yamldoc.Reader{File: LogFile}
	data, halfLine := wholeEntries(data)
	text, ok := r.Clean(data)
	if !ok {
		return nil, mendEmptyLog(r.Err())
	}
	log := &Log{HalfLine: halfLine}
	parts := yamldoc.Split(text)
	if len(parts) > mostEntries {
		return nil, problem.List{{File: LogFile, Line: parts[mostEntries].Line, Found: Count(len(parts), "entry", "entries"),
			Expected: fmt.Sprintf("at most %d", mostEntries), Mend: "begin a new study in another folder"}}
	}
	for i, part := range parts {
		before := len(r.Problems)
		root, ok := r.Parse(part)
		if last := i == len(parts)-1; !ok && last {
			log.HalfLine = part.Line
			r.Problems = r.Problems[:before]
			break
		}
		if ok && !readFormat(root) {
			break
		}
		if ok {
			log.Entries++
			log.readEntry(root, s)
		}
	}
	if err := r.Err(); err != nil {
		return nil, err
	}
	if problems := log.overlaps(s); len(problems) > 0 {
		return nil, problems
	}
	sort.SliceStable(log.Tests, func(i, j int) bool {
		a, b := log.Tests[i], log.Tests[j]
		return a.Date < b.Date || a.Date == b.Date && a.Time < b.Time
	})
	return log, nil
}

// mostEntries bounds a log: ten years of daily tests, each corrected twice.
const mostEntries = 12000

// wholeEntries cuts off what is left of an entry that broke off in the middle of a
// letter, in the line between two entries, or as zero bytes, which some file
// systems leave after a power cut. line is where it began; 0: nothing was cut. An
// entry that broke off elsewhere is not well-formed, and is told by that.
func wholeEntries(data []byte) (whole []byte, line int) {
	whole = bytes.TrimRight(data, "\x00")
	cut := len(whole) < len(data)
	if last := bytes.LastIndexByte(whole, '\n'); last+1 < len(whole) {
		tail := string(whole[last+1:])
		if start := lastRune(whole); tail == "-" || tail == "--" {
			whole, cut = whole[:last+1], true
		} else if !utf8.FullRune(whole[start:]) {
			whole, cut = whole[:start], true
		}
	}
	if !cut || len(bytes.TrimSpace(whole)) == 0 {
		return data, 0
	}
	// An entry that is whole up to the cut stands on lines of its own.
	return whole, bytes.Count(whole, []byte("\n")) + 1
}

// lastRune is where the last letter of a text begins, whole or not.
func lastRune(text []byte) int {
	for n := 1; n < utf8.UTFMax && n < len(text); n++ {
		if utf8.RuneStart(text[len(text)-n]) {
			return len(text) - n
		}
	}
	return len(text) - 1
}

// overlaps names tests that were begun within the window of another one: their
// curves run into each other, so only one of two may count.
func (log *Log) overlaps(s *Study) (problems problem.List) {
	for i, t := range log.Tests {
		for _, o := range log.Tests[:i] {
			apart := math.Abs(float64(t.Time-o.Time)) + dayMinutes*math.Abs(float64(t.Date-o.Date))
			if t.HasTime && o.HasTime && t.Exclude == "" && o.Exclude == "" && apart < s.Endpoint.Window && t.Date == o.Date {
				problems = append(problems, problem.Problem{File: LogFile, Line: t.Line, Field: "time",
					Found:    fmt.Sprintf("a test at %s, within the window of the one at %s (line %d)", t.Time, o.Time, o.Line),
					Expected: fmt.Sprintf("tests at least %s min apart", plain(s.Endpoint.Window)),
					Mend:     "mend the time, take a copy out, or leave one of them out with exclude: and the reason"})
			}
		}
	}
	return problems
}

func mendEmptyLog(err error) error {
	if list, ok := err.(problem.List); ok && len(list) == 1 && list[0].Mend == "" {
		list[0].Expected = "one YAML document a test"
		list[0].Mend = "delete it, or enter the first test with mealtrial record"
	}
	return err
}

var logKeys = []string{"date", "time", "food", "block", "ate", "value", "deviation", "exclude", "note", "masked", "corrects", "outcomes", "measured", "looked_at", "happened", "format"}

func (log *Log) readEntry(root yamldoc.Node, s *Study) {
	m := root.Map(logKeys...)
	if addition(m) {
		log.add(root, m, s)
		return
	}
	if m["measured"].Present() {
		m["measured"].Reject(m["measured"].Found()+" in the entry of a test", "measured: only in an entry that adds outcomes to an earlier test", "take it out, or take food: out")
		return
	}
	if !m["date"].Present() {
		root.Reject("an entry without a date", dateExpected, "write for example date: 2027-01-11")
		return
	}
	date, ok := readDate(m["date"])
	if !ok {
		return
	}
	if m["corrects"].Present() {
		log.correct(root, m, s, date)
		return
	}
	t := Test{Date: date, Line: root.Line()}
	if !m["food"].Present() {
		root.Reject("an entry without a food", "one of the foods "+strings.Join(s.logFoods(), ", "), "write for example food: "+s.Foods[0].ID)
	}
	t.read(m, s)
	for _, earlier := range log.Tests {
		if t.clash(earlier) {
			root.Reject(fmt.Sprintf("a second test on %s (the first is on line %d)", t.Key(), earlier.Line),
				"one test at a date and time",
				"if it corrects the first, add corrects: yes; if both were eaten, give each its time")
			return
		}
	}
	log.Tests = append(log.Tests, t)
}

// correct applies a correction: what it names takes the place of what the
// earlier entry said, the rest stays.
func (log *Log) correct(root yamldoc.Node, m map[string]yamldoc.Node, s *Study, date Date) {
	which := strings.ToLower(m["corrects"].Text())
	wanted := date.String()
	if which == "yes" || which == "true" {
		if c, ok := readClock(m["time"]); ok {
			wanted += " " + c.String()
		}
	} else {
		wanted = m["corrects"].Text()
	}
	var found []int
	for i, t := range log.Tests {
		if t.Key() == wanted || t.Date.String() == wanted ||
			!t.HasTime && strings.HasPrefix(wanted, t.Date.String()+" ") {
			found = append(found, i)
		}
	}
	if len(found) != 1 {
		m["corrects"].Reject(fmt.Sprintf("a correction of the test on %s, of which the log has %d before this line", wanted, len(found)),
			"the date, and the time where a day has several tests, of one earlier test",
			"write for example corrects: 2027-01-11 07:30")
		return
	}
	t := &log.Tests[found[0]]
	t.Date = date
	t.Corrected = append(t.Corrected, root.Line())
	t.read(m, s)
	for i, other := range log.Tests {
		if i != found[0] && t.clash(other) {
			root.Reject(fmt.Sprintf("a correction that moves the test to %s, where line %d has one", t.Key(), other.Line),
				"one test at a date and time", "")
			return
		}
	}
}

// read takes over the fields that an entry names.
func (t *Test) read(m map[string]yamldoc.Node, s *Study) {
	if m["time"].Null() {
		t.HasTime = false
	}
	if c, ok := readClock(m["time"]); ok {
		t.Time, t.HasTime = c, true
		if _, exists := t.Date.At(c, s.Zone); !exists {
			m["time"].Reject(m["time"].Found(), "a time that exists on "+t.Date.String()+": clocks were put forward over it", "write the time that the clock showed")
		}
	}
	if m["food"].Present() {
		t.Food = m["food"].Text()
		t.Coded = s.coded(m["food"], m["masked"])
		if !slices.Contains(s.logFoods(), t.Food) {
			m["food"].Reject(fmt.Sprintf("the food %q", t.Food), "one of the foods "+strings.Join(s.logFoods(), ", "), yamldoc.DidYouMean(t.Food, s.logFoods()))
		}
	}
	t.Block = m["block"].Whole(1, 10000, t.Block)
	t.readValue(m["value"], s)
	t.Masked = t.Masked || m["masked"].YesNo()
	t.note(m["outcomes"], s, false)
	t.readLookedAt(m["looked_at"])
	t.readHappened(m["happened"], false)
	for key, field := range map[string]*string{"ate": &t.Ate, "exclude": &t.Exclude, "note": &t.Note} {
		if n := m[key]; n.Present() || n.Null() {
			*field = n.Text()
		}
	}
	if word := strings.ToLower(t.Exclude); word == "yes" || word == "true" || word == "no" || word == "false" {
		m["exclude"].Reject(m["exclude"].Found(), "the reason in words", "write for example exclude: \"ran for the bus\", or exclude: \"\" to count the test again")
	}
	if n := m["deviation"]; n.Present() || n.Null() {
		t.Deviations = nil
		for _, item := range n.List() {
			if text := item.Text(); text != "" {
				t.Deviations = append(t.Deviations, text)
			}
		}
	}
}

func (t *Test) readValue(n yamldoc.Node, s *Study) {
	if n.Null() {
		t.HasValue = false
		return
	}
	x, ok := n.Number("a number in " + s.Endpoint.Unit())
	if !ok {
		return
	}
	t.Value, t.HasValue = x, true
	s.Endpoint.checkTyped(x, n)
}
