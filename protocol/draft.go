package protocol

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"
	"text/template"
	"time"
	"unicode"

	"mealtrial/protocol/problem"
)

// A Draft is what a person answered about a new study, as they typed it. Its text is
// the study file; whether an answer will do is found by reading that.
type Draft struct {
	Title, Zone                           string
	Endpoint, Unit, Margin                string
	Foods                                 []DraftFood
	Reference                             string // ID of a food; "": none
	Water                                 bool   // plain water is tested too, as the blank
	Questions                             string // with commas between them
	Start, Until, Repeats, Washout, Time  string
	DaysOff                               string // days of the week, dates and ranges, with commas between them
	Medication, Pregnancy, EatingDisorder bool
	Ketoacidosis                          bool
	AdvisedBy                             string
	Sensor                                string
}

// A DraftFood is a food of a draft.
type DraftFood struct{ ID, Name, Portion string }

// WaterID is the id of plain water in a drafted study.
const WaterID = "water"

// NewDraft returns a draft with what is usual filled in, from the Monday after today
// on; foods, and what matters to the person, are theirs to say. An unknown zone is UTC.
func NewDraft(today Date, zone string) Draft {
	if _, err := time.LoadLocation(zone); err != nil || zone == "" || zone == "Local" {
		zone = "UTC"
	}
	start := nextMonday(today)
	return Draft{Title: "My food swaps", Zone: zone, Endpoint: string(PeakRise), Unit: "mg/dL",
		Start: start.String(), Until: (start + 32).String(), Repeats: fmt.Sprint(defaultRepeats), Washout: fmt.Sprint(defaultWashout), Time: defaultTime.String()}
}

// nextMonday is the first Monday after a day.
func nextMonday(today Date) Date {
	start := today + 1
	for start.Weekday() != time.Monday {
		start++
	}
	return start
}

// FoodID makes an id of a food's name: its letters and digits in lower case, with a
// - between words.
func FoodID(name string) string {
	words := strings.FieldsFunc(strings.ToLower(name), func(r rune) bool {
		return !unicode.IsLetter(r) && !unicode.IsNumber(r) && !unicode.IsMark(r)
	})
	return strings.Join(words, "-")
}

var draftText = template.Must(template.New("").Funcs(template.FuncMap{"quoted": quoted, "yesno": yesNo}).Parse(`# A food experiment on one person. Everything after a # is a comment.
# Check it with: mealtrial check      Draw the schedule with: mealtrial plan
format: 1
title: {{quoted .Title}}

# Answer honestly. With a yes, plan asks for the licensed clinician who agreed.
safety:
  glucose_lowering_medication: {{yesno .Medication}}
  pregnancy: {{yesno .Pregnancy}}
  eating_disorder: {{yesno .EatingDisorder}}
  ketoacidosis_before: {{yesno .Ketoacidosis}}
{{- if .AdvisedBy}}
  advised_by: {{quoted .AdvisedBy}}
{{- end}}

# The zone of every time of day in this study, from the IANA time zone database.
zone: {{quoted .Zone}}

# The one number taken from each test: peak_rise (highest reading in the window
# minus the baseline) or iauc (area above the baseline). Unit: mg/dL or mmol/L.
endpoint: {name: {{quoted .Endpoint}}, unit: {{quoted .Unit}}, window: 120m, baseline: 15m}

# When a curve counts: readings at most max_gap apart are joined, and they must
# cover min_coverage of the window. With finger-sticks: max_gap: 45m.
quality: {max_gap: 20m, min_coverage: 0.8}
{{- if .Sensor}}

# The kind of sensor, in your words.
sensor: {{quoted .Sensor}}
{{- end}}
{{- with .Margin}}

# The smallest difference that matters to you, in the endpoint's unit.
margin: {{.}}
{{- end}}

# What is compared. Roles: test (the default), reference (the food repeated
# through the whole study), blank (plain water, measures the floor).
foods:
{{- range .Foods}}
  - {id: {{quoted .ID}}, name: {{quoted .Name}}{{if eq .ID $.Reference}}, role: reference{{end}}{{if .Portion}}, portion: {{quoted .Portion}}{{end}}}
{{- end}}
{{- if .Water}}
  - {id: {{.WaterID}}, name: plain water, role: blank}
{{- end}}

{{- with .Asked}}

# What you want to know. The answer to "a vs b" is a minus b.
questions:
{{- range .}}
  - {{quoted .}}
{{- end}}
{{- end}}

# When tests may be held. Each food is eaten once in each of the repeats, in
# random order, with washout days kept free between two tests.
plan:
  start: {{.Start}}
  until: {{.Until}}
  repeats: {{.Repeats}}
  washout: {{.Washout}}
  time: {{quoted .Time}}
{{- with .Weekdays}}
  weekdays: [{{.}}]
{{- end}}
{{- with .Busy}}
  busy: [{{.}}]
{{- end}}

# How the sensor's exports in readings/ are to be read; what is not said here is
# guessed from the files and shown by mealtrial check.
# readings: {time_column: Time, glucose_column: Glucose, unit: {{.Unit}}}
`))

// Asked are the questions, one each.
func (d Draft) Asked() []string { return commaSeparated(d.Questions) }

// WaterID lets the template know it.
func (d Draft) WaterID() string { return WaterID }

// commaSeparated are what stands between commas.
func commaSeparated(text string) (out []string) {
	for _, part := range strings.Split(text, ",") {
		if part = strings.Join(strings.Fields(part), " "); part != "" {
			out = append(out, part)
		}
	}
	return out
}

// daysOff tells days of the week from dates.
func (d Draft) daysOff() (off map[time.Weekday]bool, dates []string) {
	off = map[time.Weekday]bool{}
	for _, part := range commaSeparated(d.DaysOff) {
		word := strings.ToLower(part)
		if day, ok := weekdays[word[:min(3, len(word))]]; ok && (len(word) == 3 || strings.HasPrefix(strings.ToLower(day.String()), strings.TrimSuffix(word, "s"))) {
			off[day] = true
			continue
		}
		dates = append(dates, part)
	}
	return off, dates
}

// Weekdays are the days of the week that are left, as the study file lists them; ""
// where all are.
func (d Draft) Weekdays() string {
	off, _ := d.daysOff()
	var left []string
	for i := range 7 {
		if day := time.Weekday((i + 1) % 7); !off[day] {
			left = append(left, strings.ToLower(day.String()[:3]))
		}
	}
	if len(left) == 7 {
		return ""
	}
	return strings.Join(left, ", ")
}

// Busy are the single days off and ranges of them.
func (d Draft) Busy() string {
	_, dates := d.daysOff()
	for i, date := range dates {
		dates[i] = quoted(date)
	}
	return strings.Join(dates, ", ")
}

// Text returns the study file, with its comments.
func (d Draft) Text() []byte {
	var b bytes.Buffer
	if err := draftText.Execute(&b, d); err != nil {
		panic("protocol: draft template: " + err.Error())
	}
	return b.Bytes()
}

// Fields of a study file that the answers of a draft go to.
const (
	DraftTitle     = "title"
	DraftZone      = "zone"
	DraftMargin    = "margin"
	DraftFoods     = "foods"
	DraftQuestions = "questions"
	DraftPlan      = "plan"
)

// Check returns what is wrong with one field of the study file that the draft makes,
// or nil.
func (d Draft) Check(field string) error {
	if len(d.Foods) == 0 { // they are asked for later
		d.Foods = []DraftFood{{ID: "food", Name: "food"}}
	}
	if off, _ := d.daysOff(); field == DraftPlan && len(off) == 7 {
		return errors.New("found every day of the week off, expected one that is free")
	}
	_, err := ParseStudy(d.Text())
	var list problem.List
	if !errors.As(err, &list) {
		return err
	}
	for _, p := range list {
		if at := cmp.Or(p.Field, field); at == field || strings.HasPrefix(at, field+".") || strings.HasPrefix(at, field+"[") {
			text := "found " + p.Found
			if p.Expected != "" {
				text += ", expected " + p.Expected
			}
			if p.Mend != "" {
				text += "; " + p.Mend
			}
			return errors.New(text)
		}
	}
	return nil
}

// Preview draws the schedule that the draft would have, without writing anything.
func (d Draft) Preview() (*Schedule, error) {
	study, err := ParseStudy(d.Text())
	if err != nil {
		return nil, err
	}
	return DrawSchedule(study, 0)
}

// LikelyUntil is a last day that leaves a week for lost tests beyond the last one of a
// schedule drawn from the start on, or the day that stands there where none can be.
func (d Draft) LikelyUntil() string {
	start, err := ParseDate(d.Start)
	if err != nil {
		return d.Until
	}
	room := d
	room.Until = (start + longestPlan/5).String()
	room.Medication, room.Pregnancy, room.EatingDisorder, room.Ketoacidosis = false, false, false, false
	schedule, err := room.Preview()
	if err != nil {
		return d.Until
	}
	return (slices.MaxFunc(schedule.Tests, func(a, b PlannedTest) int { return int(a.Date - b.Date) }).Date + 7).String()
}
