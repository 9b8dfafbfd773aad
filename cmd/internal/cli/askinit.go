package cli

import (
	"fmt"
	"slices"
	"strings"

	"mealtrial/cmd/internal/ask"
	"mealtrial/protocol"
)

// A newStudy is what init has been told so far.
type newStudy struct {
	*ask.Asker
	d      protocol.Draft
	named  bool // questions were given by the person, not filled in
	until  bool // so was the last day
	safety [4]string
}

// askStudy asks for a new study and returns its study file.
func askStudy(s Streams) ([]byte, error) {
	n := &newStudy{Asker: s.asker(), d: protocol.NewDraft(protocol.NewDate(s.Now()), s.Zone)}
	err := askedAll(n.Asker, slices.Concat(n.what(), n.when(), n.who()), n.comesTo)
	return n.d.Text(), err
}

// field asks for a text that goes to one field of the study file.
func (n *newStudy) field(name, title, help, field string, to func(*protocol.Draft) *string, optional bool, hint func(string) string) ask.Step {
	return ask.Step{Name: name, Answer: func() string { return *to(&n.d) }, Ask: func() error {
		return n.Text(ask.Question{Title: title, Help: help, Optional: optional, Hint: hint, Check: n.checked(field, func(d *protocol.Draft, text string) { *to(d) = text })}, to(&n.d))
	}}
}

// checked holds an answer against the study file that it would make. It works on a
// copy, as answers are checked while they are typed.
func (n *newStudy) checked(field string, set func(d *protocol.Draft, text string)) func(string) error {
	return func(text string) error {
		d := n.d
		set(&d, text)
		return d.Check(field)
	}
}

// what are the questions about what is compared.
func (n *newStudy) what() []ask.Step {
	d := &n.d
	units := []ask.Option{{Words: "mg/dL", Value: "mg/dL"}, {Words: "mmol/L", Value: "mmol/L"}}
	endpoints := []ask.Option{{Words: "peak rise: the highest reading in two hours, less the one before the first bite", Value: "peak_rise"},
		{Words: "incremental area: the area above the baseline in two hours", Value: "iauc"}}
	return []ask.Step{
		n.field("Name", "What is the study called?", "", protocol.DraftTitle, func(d *protocol.Draft) *string { return &d.Title }, false, nil),
		{Name: "Unit of glucose", Answer: func() string { return d.Unit }, Ask: func() error {
			was := d.Unit
			err := n.Choose(ask.Question{Title: "In which unit does your sensor report?"}, units, &d.Unit)
			if d.Unit != was {
				d.Margin = ""
			}
			return err
		}},
		{Name: "Measured", Answer: func() string { return protocol.EndpointName(d.Endpoint).Words() }, Ask: func() error {
			was := d.Endpoint
			err := n.Choose(ask.Question{Title: "Which number is taken from each test?"}, endpoints, &d.Endpoint)
			if d.Endpoint != was {
				d.Margin = ""
			}
			return err
		}},
		{Name: "Foods", Answer: n.foodWords, Ask: n.askFoods},
		{Name: "Reference", Answer: func() string { return d.Reference }, Ask: n.askReference},
		{Name: "Plain water", Answer: func() string { return yesOrNo(d.Water) }, Ask: func() error {
			return n.askBool("Is plain water tested too?", "As the blank, it measures what your glucose does on a morning without food; it costs as many tests as a food.", &d.Water)
		}},
		{Name: "Questions", Answer: func() string { return d.Questions }, Ask: n.askQuestions},
		{Name: "Smallest difference that matters", Answer: func() string { return d.Margin + " " + n.unit() }, Ask: func() error {
			return n.Text(ask.Question{Title: "What is the smallest difference that matters to you, in " + n.unit() + "?",
				Help:  "Decide it now, before the first test: smaller differences will be called too small to matter.",
				Check: n.checked(protocol.DraftMargin, func(d *protocol.Draft, text string) { d.Margin = text })}, &d.Margin)
		}},
	}
}

func (n *newStudy) unit() string {
	if n.d.Endpoint == string(protocol.IncrementalArea) {
		return n.d.Unit + "·min"
	}
	return n.d.Unit
}

func (n *newStudy) foodWords() string {
	var words []string
	for _, f := range n.d.Foods {
		words = append(words, f.Name+" ("+f.ID+")")
	}
	return strings.Join(words, ", ")
}

const mostAsked = 20 // foods; beyond them the file is the better place

func (n *newStudy) askFoods() error {
	old := n.d.Foods
	n.d.Foods = nil
	err := n.askEachFood(old)
	if err != nil {
		n.d.Foods = old
		return err
	}
	ids := []string{}
	for _, f := range n.d.Foods {
		ids = append(ids, f.ID)
	}
	if !slices.Contains(ids, n.d.Reference) {
		n.d.Reference = ids[0]
	}
	if n.d.Check(protocol.DraftQuestions) != nil {
		n.named = false
	}
	return nil
}

func (n *newStudy) askEachFood(old []protocol.DraftFood) error {
	for i := 0; i < mostAsked; i++ {
		var f protocol.DraftFood
		if i < len(old) {
			f = old[i]
		}
		title, help := fmt.Sprintf("Food %d: what is it called?", i+1), "The first may be the one that you eat now."
		if i > 0 {
			help = "Leave it empty when that was all."
		}
		known := f.Name
		if err := n.Text(ask.Question{Title: title, Help: help, Optional: i > 0}, &f.Name); err != nil {
			return err
		}
		if f.Name == "" {
			return nil
		}
		if f.ID == "" || f.Name != known {
			f.ID = protocol.FoodID(f.Name)
		}
		at := n.checked(protocol.DraftFoods, func(d *protocol.Draft, id string) {
			d.Foods = append(slices.Clone(d.Foods), protocol.DraftFood{ID: id, Name: f.Name})
			d.Water = true // so that no food takes its id
		})
		if err := n.Text(ask.Question{Title: "Its short id, for files and tables?", Check: at}, &f.ID); err != nil {
			return err
		}
		if err := n.Text(ask.Question{Title: "Its portion, the same at every test?", Help: "Such as 180 g cooked.", Optional: true}, &f.Portion); err != nil {
			return err
		}
		n.d.Foods = append(n.d.Foods, f)
	}
	return nil
}

func (n *newStudy) askReference() error {
	options := []ask.Option{}
	for _, f := range n.d.Foods {
		options = append(options, ask.Option{Words: f.Name, Value: f.ID})
	}
	options = append(options, ask.Option{Words: "none of them", Value: ""})
	return n.Choose(ask.Question{Title: "Which is the reference, that the others are held against?",
		Help: "It is repeated through the whole study, so that days and sensors can be linked."}, options, &n.d.Reference)
}

func (n *newStudy) askQuestions() error {
	if !n.named {
		n.d.Questions = n.filledIn()
	}
	filled := n.d.Questions
	var ids []string
	for _, f := range n.d.Foods {
		ids = append(ids, f.ID)
	}
	example := fmt.Sprintf("\"%s below 30\"", ids[0])
	if len(ids) > 1 {
		example = fmt.Sprintf("\"%s vs %s\" (the answer is the first minus the second)", ids[1], ids[0])
	}
	err := n.Text(ask.Question{Title: "What do you want to know?",
		Help:  fmt.Sprintf("Such as %s, with commas between questions; or \"each vs reference\", \"all pairs\". Foods: %s.", example, strings.Join(ids, ", ")),
		Check: n.checked(protocol.DraftQuestions, func(d *protocol.Draft, text string) { d.Questions = text })}, &n.d.Questions)
	n.named = n.named || n.d.Questions != filled
	return err
}

// filledIn compares each food with the reference, or with the first.
func (n *newStudy) filledIn() string {
	against := n.d.Reference
	if against == "" {
		against = n.d.Foods[0].ID
	}
	var out []string
	for _, f := range n.d.Foods {
		if f.ID != against {
			out = append(out, f.ID+" vs "+against)
		}
	}
	return strings.Join(out, ", ")
}

// when are the questions about the calendar.
func (n *newStudy) when() []ask.Step {
	d := &n.d
	return []ask.Step{
		n.field("Zone", "In which time zone are you?", "A name of the IANA time zone database, such as Europe/Vienna or America/Chicago.", protocol.DraftZone, func(d *protocol.Draft) *string { return &d.Zone }, false, nil),
		n.field("First day", "What is the first day on which a test may be held?", "Year-month-day.", protocol.DraftPlan, func(d *protocol.Draft) *string { return &d.Start }, false, weekdayOf),
		n.field("Tests of each food", "How many tests of each food?", "Three is the least that shows how far repeats scatter; mealtrial power says what more would show.", protocol.DraftPlan, func(d *protocol.Draft) *string { return &d.Repeats }, false, nil),
		n.field("Days kept free between tests", "How many days are kept free between two tests?", "0 for tests on days that follow each other.", protocol.DraftPlan, func(d *protocol.Draft) *string { return &d.Washout }, false, nil),
		n.field("First bite", "At what time is the first bite?", "Hours:minutes on the 24-hour clock.", protocol.DraftPlan, func(d *protocol.Draft) *string { return &d.Time }, false, nil),
		n.field("Days off", "On which days can there be no test?", "Days of the week, dates and ranges, with commas between them: sat, sun, 2026-12-24..2026-12-26.", protocol.DraftPlan, func(d *protocol.Draft) *string { return &d.DaysOff }, true, nil),
		{Name: "Last day", Answer: func() string { return d.Until }, Ask: func() error {
			if !n.until {
				d.Until = d.LikelyUntil()
			}
			filled := d.Until
			err := n.Text(ask.Question{Title: "What is the last day on which a test may be held?", Help: "What is filled in leaves a week for lost tests.", Hint: weekdayOf,
				Check: n.checked(protocol.DraftPlan, func(d *protocol.Draft, text string) { d.Until = text })}, &d.Until)
			n.until = n.until || d.Until != filled
			return err
		}},
	}
}

// weekdayOf names the day of a date.
func weekdayOf(text string) string {
	d, err := protocol.ParseDate(text)
	if err != nil {
		return ""
	}
	return "a " + d.Weekday().String()
}

// who are the questions asked before any plan, and the sensor.
func (n *newStudy) who() []ask.Step {
	d := &n.d
	var steps []ask.Step
	for i, q := range []struct {
		name, title string
		to          *bool
	}{
		{"Glucose-lowering medication", "Do you take insulin or any other medicine that lowers glucose?", &d.Medication},
		{"Pregnancy", "Are you pregnant or breast-feeding?", &d.Pregnancy},
		{"Eating disorder", "Do you have, or have you had, an eating disorder?", &d.EatingDisorder},
		{"Ketoacidosis before", "Have you ever had ketoacidosis?", &d.Ketoacidosis},
	} {
		steps = append(steps, ask.Step{Name: q.name, Answer: func() string { return n.safety[i] }, Ask: func() error {
			err := n.YesNo(ask.Question{Title: q.title}, &n.safety[i])
			*q.to = n.safety[i] == "yes"
			return err
		}})
	}
	return append(steps,
		ask.Step{Name: "Advised by", Skip: func() bool { return !n.concerned() }, Answer: func() string { return d.AdvisedBy }, Ask: func() error {
			n.Say(protocol.Cautions)
			return n.Text(ask.Question{Title: "Which licensed clinician agreed to these tests?", Optional: true,
				Help: "Without one no schedule is drawn: talk to one first, then add advised_by under safety in study.yaml."}, &d.AdvisedBy)
		}},
		ask.Step{Name: "Sensor", Answer: func() string { return d.Sensor }, Ask: func() error {
			return n.Text(ask.Question{Title: "Which kind of sensor do you wear?", Optional: true, Help: "In your words, such as: upper arm, one reading in 5 minutes."}, &d.Sensor)
		}})
}

func (n *newStudy) concerned() bool {
	return n.d.Medication || n.d.Pregnancy || n.d.EatingDisorder || n.d.Ketoacidosis
}

func (n *newStudy) askBool(title, help string, to *bool) error {
	answer := yesOrNo(*to)
	err := n.YesNo(ask.Question{Title: title, Help: help}, &answer)
	*to = answer == "yes"
	return err
}

func yesOrNo(x bool) string {
	if x {
		return "yes"
	}
	return "no"
}

// comesTo says what the schedule of the answers would be, or why there is none.
func (n *newStudy) comesTo() string {
	schedule, err := n.d.Preview()
	if err != nil {
		return "As it stands no schedule can be drawn:\n  " + strings.ReplaceAll(err.Error(), "\n", "\n  ")
	}
	first, last := schedule.Tests[0].Date, schedule.Tests[0].Date
	for _, t := range schedule.Tests {
		first, last = min(first, t.Date), max(last, t.Date)
	}
	return fmt.Sprintf("It comes to %s, from %s to %s.", protocol.Count(len(schedule.Tests), "test", "tests"), first, last)
}
