package protocol

import (
	"bytes"
	"fmt"
	"strconv"
	"text/template"

	"github.com/google/uuid"

	"mealtrial/protocol/problem"
	"mealtrial/protocol/yamldoc"
)

// A Schedule is the randomised order placed on dates.
type Schedule struct {
	Program     string `json:"program"`        // name and version that drew it
	Seed        uint64 `json:"seed,omitempty"` // of the draw; in the key while masked
	StudyDigest string `json:"study_sha256"`   // the lock: digest of the study file at the draw
	// Calendars are the digests of the calendar files that the draw looked at.
	Calendars  map[string]string `json:"calendars,omitempty"`
	Efficiency Number            `json:"efficiency"`           // of the questions, against complete blocks with as many tests
	Masked     bool              `json:"masked,omitempty"`     // foods are codes, see Key
	Unmasked   string            `json:"unmasked,omitempty"`   // when the key was opened, RFC 3339
	Amendments []Amendment       `json:"amendments,omitempty"` // in order
	Tests      []PlannedTest     `json:"tests"`                // by date

	layout *Layout // as it was drawn; nil when read from a file
}

// A PlannedTest is one test of a schedule.
type PlannedTest struct {
	Date  Date   `json:"date"`
	Time  Clock  `json:"-"`
	At    string `json:"time"` // Time in words
	Block int    `json:"block"`
	Food  string `json:"food"`
	RunIn bool   `json:"run_in,omitempty"` // before the first block, not analysed
}

// On returns the planned test of a date, or nil.
func (s *Schedule) On(d Date) *PlannedTest {
	if s == nil {
		return nil
	}
	for i := range s.Tests {
		if s.Tests[i].Date == d {
			return &s.Tests[i]
		}
	}
	return nil
}

// TestsByFood counts the tests of each food that are to be analysed.
func (s *Schedule) TestsByFood() map[string]int {
	n := map[string]int{}
	for _, t := range s.Tests {
		if !t.RunIn {
			n[t.Food]++
		}
	}
	return n
}

// UID returns the identifier of the i-th test in a calendar. It depends on the
// lock, the seed and the place in the schedule only, so that writing the
// calendar again updates the events (RFC 5545, section 3.8.4.7). It is a
// name-based UUID (RFC 9562, section 5.5).
func (s *Schedule) UID(i int) string {
	name := fmt.Sprintf("mealtrial schedule %s %d test %d", s.StudyDigest, s.Seed, i+1)
	return uuid.NewSHA1(uuid.NameSpaceOID, []byte(name)).String()
}

var scheduleText = template.Must(template.New("").Funcs(template.FuncMap{"quote": quoted, "format": func() int { return FormatVersion }}).Parse(
	`# Written by mealtrial plan: the randomised order of the tests on dates.
# Eat in this order; write what happened into log.yaml, not here.
program: {{.Program}}
format: {{format}}
{{if .Seed}}seed: {{.Seed}}
{{end}}# The lock: SHA-256 of study.yaml when this schedule was drawn.
study_sha256: {{.StudyDigest}}
{{if .Calendars}}# SHA-256 of the calendars that were looked at.
calendars:
{{range $name, $digest := .Calendars}}  - {file: {{printf "%q" $name}}, sha256: {{$digest}}}
{{end}}{{end}}{{if .Efficiency}}# Precision of the questions against complete blocks with as many tests; 1 is the best.
efficiency: {{printf "%.4f" .Efficiency}}
{{end}}{{if .Masked}}# Foods are codes; the key is in key.yaml, for the helper.
masked: yes
{{end}}{{if .Unmasked}}unmasked: "{{.Unmasked}}"
{{end}}tests:
{{range .Tests}}  - {{template "test" .}}
{{end}}{{if .Amendments}}# What was laid out again, and what had been planned before.
amendments:
{{range .Amendments}}  - made: {{.Made}}
    from: {{.From}}
    who: {{quote .Who}}
    why: {{quote .Why}}
{{if .Seed}}    seed: {{.Seed}}
{{end}}    study_sha256: {{.StudyDigest}}
{{if .More}}    more: [{{range $i, $id := .More}}{{if $i}}, {{end}}{{quote $id}}{{end}}]
{{end}}    replaced:
{{range .Replaced}}      - {{template "test" .}}
{{else}}      []
{{end}}{{end}}{{end}}{{define "test"}}{date: {{.Date}}, time: "{{.Time}}", {{if .RunIn}}run_in: yes{{else}}block: {{.Block}}{{end}}, food: {{quote .Food}}}{{end}}`))

// Format writes the schedule as its file.
func (s *Schedule) Format() []byte {
	var b bytes.Buffer
	if err := scheduleText.Execute(&b, s); err != nil {
		panic("protocol: schedule template: " + err.Error())
	}
	return b.Bytes()
}

// ParseSchedule reads a schedule file. The error is a problem.List.
func ParseSchedule(data []byte, study *Study) (*Schedule, error) {
	r := &yamldoc.Reader{File: ScheduleFile}
	text, ok := r.Clean(data)
	if !ok {
		return nil, mendSchedule(r)
	}
	parts := yamldoc.Split(text)
	if len(parts) != 1 {
		return nil, problem.List{{File: ScheduleFile, Found: Count(len(parts), "document", "documents"), Expected: "one schedule", Mend: drawAgain}}
	}
	root, ok := r.Parse(parts[0])
	if !ok {
		return nil, mendSchedule(r)
	}
	if !readFormat(root) {
		return nil, r.Err()
	}
	m := root.Map("format", "program", "seed", "study_sha256", "calendars", "efficiency", "masked", "unmasked", "tests", "amendments")
	s := &Schedule{Program: m["program"].Text(), StudyDigest: m["study_sha256"].Text()}
	s.Seed = readSeed(m["seed"])
	for _, item := range m["calendars"].List() {
		c := item.Map("file", "sha256")
		if s.Calendars == nil {
			s.Calendars = map[string]string{}
		}
		s.Calendars[c["file"].Text()] = c["sha256"].Text()
	}
	if x, ok := m["efficiency"].Number("a share"); ok {
		s.Efficiency = Number(x)
	}
	s.Masked, s.Unmasked = m["masked"].YesNo(), m["unmasked"].Text()
	for _, item := range m["tests"].List() {
		s.Tests = append(s.Tests, readPlanned(item, study, s.Masked))
		if n := len(s.Tests); n > 1 && s.Tests[n-2].Date >= s.Tests[n-1].Date {
			item.Reject("a test on "+s.Tests[n-1].Date.String()+" after one on "+s.Tests[n-2].Date.String(), "tests in order, one a day", drawAgain)
		}
	}
	for _, item := range m["amendments"].List() {
		s.Amendments = append(s.Amendments, readAmendment(item, study, s.Masked))
	}
	if len(s.Tests) == 0 && len(r.Problems) == 0 {
		root.Reject("no tests", "the planned tests", drawAgain)
	}
	if err := r.Err(); err != nil {
		return nil, err
	}
	return s, nil
}

const drawAgain = "restore it from a copy, or delete it and run mealtrial plan, which draws the same schedule from the same study file"

func mendSchedule(r *yamldoc.Reader) error {
	for i := range r.Problems {
		if r.Problems[i].Mend == "" {
			r.Problems[i].Mend = drawAgain
		}
	}
	return r.Err()
}

func readPlanned(item yamldoc.Node, study *Study, masked bool) (t PlannedTest) {
	m := item.Map("date", "time", "block", "food", "run_in")
	var ok bool
	if t.Date, ok = readDate(m["date"]); !ok && !m["date"].Present() {
		item.Reject("a test without a date", dateExpected, drawAgain)
	}
	t.Time, _ = readClock(m["time"])
	t.At = t.Time.String()
	if t.RunIn = m["run_in"].YesNo(); !t.RunIn {
		t.Block = m["block"].Whole(1, 10000, 1)
	}
	t.Food = m["food"].Text()
	if !masked && study.Food(t.Food) < 0 {
		item.Reject("the food "+strconv.Quote(t.Food), "a food of "+StudyFile, "put the food back into "+StudyFile+"; a schedule is not changed by hand")
	}
	return t
}

func readAmendment(item yamldoc.Node, study *Study, masked bool) (a Amendment) {
	m := item.Map("made", "from", "who", "why", "seed", "study_sha256", "more", "replaced")
	a.Made, _ = readDate(m["made"])
	a.From, _ = readDate(m["from"])
	a.Who, a.Why, a.StudyDigest = m["who"].Text(), m["why"].Text(), m["study_sha256"].Text()
	a.Seed = readSeed(m["seed"])
	for _, id := range m["more"].List() {
		if a.More = append(a.More, id.Text()); study.Food(id.Text()) < 0 {
			id.Reject("the food "+strconv.Quote(id.Text()), "a food of "+StudyFile, "put the food back into "+StudyFile+"; a schedule is not changed by hand")
		}
	}
	for _, test := range m["replaced"].List() {
		a.Replaced = append(a.Replaced, readPlanned(test, study, masked))
	}
	return a
}
