package cli

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"mealtrial/cmd/internal/ask"
	"mealtrial/protocol"
	"mealtrial/protocol/problem"
)

// A newEntry is what record has been told so far.
type newEntry struct {
	*ask.Asker
	f     *protocol.Folder
	today protocol.Date
	due   []protocol.Due
	which string // number in due, or other

	date, time, food, block, ate, deviations, value string
	outcomes                                        map[string]string
	readings                                        bool // there are sensor files
}

// other is a test that is not due.
const other = "other"

// askEntry asks for what is to be noted, with what is due today filled in.
func askEntry(s Streams, dir string, f *protocol.Folder) (protocol.Entry, error) {
	n := &newEntry{Asker: s.asker(), f: f, today: protocol.NewDate(s.Now().In(f.Study.Zone)), which: "0", outcomes: map[string]string{}}
	n.due = f.Due(n.today)
	if len(n.due) == 0 {
		n.which = other
	}
	files, _ := os.ReadDir(filepath.Join(dir, protocol.ReadingsDir)) // where it cannot be read, the value is asked for
	for _, file := range files {
		n.readings = n.readings || !strings.HasPrefix(file.Name(), ".")
	}
	err := askedAll(n.Asker, append(n.steps(), n.outcomeSteps()...), n.comesTo)
	return n.entry(), err
}

// chosen is what is due and was chosen; nil: another test.
func (n *newEntry) chosen() *protocol.Due {
	if i, err := strconv.Atoi(n.which); err == nil {
		return &n.due[i]
	}
	return nil
}

// late tells whether outcomes are added to a test that is in the log.
func (n *newEntry) late() bool { d := n.chosen(); return d != nil && d.Planned == nil }

func (n *newEntry) steps() []ask.Step {
	planned := func() bool { return n.chosen() != nil }
	unit := n.f.Study.Endpoint.Unit()
	return []ask.Step{
		{Name: "What", Ask: n.askWhich, Answer: func() string {
			if d := n.chosen(); d != nil {
				return d.Words
			}
			return "another test"
		}},
		{Name: "Date", Skip: planned, Answer: func() string { return n.date }, Ask: func() error {
			return n.Text(ask.Question{Title: "On which day was the test?", Help: "Year-month-day.", Hint: weekdayOf, Check: func(text string) error {
				_, err := protocol.ParseDate(text)
				return err
			}}, &n.date)
		}},
		{Name: "Food", Skip: planned, Answer: func() string { return n.food }, Ask: func() error {
			var options []ask.Option
			for _, id := range n.f.Study.LogFoods() {
				options = append(options, ask.Option{Words: id, Value: id})
			}
			if n.food == "" {
				n.food = options[0].Value
			}
			return n.Choose(ask.Question{Title: "What was eaten?"}, options, &n.food)
		}},
		{Name: "Block", Skip: func() bool { return planned() || n.f.Schedule == nil || n.onSchedule() }, Answer: func() string { return n.block }, Ask: func() error {
			return n.Text(ask.Question{Title: "To which block does it belong?", Help: "Its number, as the schedule has it.", Optional: true,
				Check: n.with(func(e *newEntry, text string) { e.block = text })}, &n.block)
		}},
		{Name: "First bite", Skip: n.late, Answer: func() string { return n.time }, Ask: func() error {
			return n.Text(ask.Question{Title: "When was the first bite?", Help: "Hours:minutes on the 24-hour clock, as it really was: the curve is read from then on.", Optional: true,
				Check: n.with(func(e *newEntry, text string) { e.time = text })}, &n.time)
		}},
		{Name: "Eaten", Skip: n.late, Answer: func() string { return n.ate }, Ask: func() error {
			return n.Text(ask.Question{Title: "What was eaten, and how much?", Optional: true}, &n.ate)
		}},
		{Name: "Deviations", Skip: n.late, Answer: func() string { return n.deviations }, Ask: func() error {
			return n.Text(ask.Question{Title: "What did not go as planned?", Help: "Such as: slept five hours only. With ; between several.", Optional: true}, &n.deviations)
		}},
		{Name: "Value", Skip: func() bool { return n.late() || n.readings }, Answer: func() string { return n.value }, Ask: func() error {
			return n.Text(ask.Question{Title: fmt.Sprintf("Which %s was read by hand, in %s?", n.f.Study.Endpoint.Name.Words(), unit),
				Help: "Leave it empty if the sensor's file will go into " + protocol.ReadingsDir + "/.", Optional: true,
				Check: n.with(func(e *newEntry, text string) { e.value = text })}, &n.value)
		}},
	}
}

func (n *newEntry) onSchedule() bool {
	date, err := protocol.ParseDate(n.date)
	return err == nil && n.f.Schedule.On(date) != nil
}

// askWhich asks what is to be noted, and fills in what is known of it.
func (n *newEntry) askWhich() error {
	was := n.which
	var options []ask.Option
	for i, d := range n.due {
		options = append(options, ask.Option{Words: d.Words, Value: fmt.Sprint(i)})
	}
	if len(options) > 0 {
		options = append(options, ask.Option{Words: "another test", Value: other})
		if err := n.Choose(ask.Question{Title: "What do you want to note?"}, options, &n.which); err != nil {
			return err
		}
	} else {
		n.Say("Nothing is due: " + n.f.Next(n.today).Why + ".")
	}
	if n.which == was && n.date != "" {
		return nil
	}
	d := n.chosen()
	n.time, n.ate, n.food, n.date = "", "", "", n.today.String()
	if d != nil {
		n.date = d.Date.String()
	}
	if next := n.f.Next(n.today); d != nil && next.HeldBack && next.Test != nil && next.Test.Date == d.Date {
		for _, line := range next.Safety {
			n.Say("Before it is eaten, this is to be looked at: " + line.Text)
		}
	}
	if d != nil && d.Planned != nil {
		n.food, n.time = d.Planned.Food, d.Planned.Time.String()
		if i := n.f.Study.Served(n.food); i >= 0 {
			n.ate = n.f.Study.Foods[i].Portion
		}
	}
	return nil
}

// outcomeSteps ask for the outcomes that can be noted by now, each with its own step.
func (n *newEntry) outcomeSteps() (steps []ask.Step) {
	for _, o := range n.f.Study.Outcomes {
		steps = append(steps, ask.Step{Name: o.Name, Skip: func() bool { return !n.open(o) }, Answer: func() string { return n.outcomes[o.ID] }, Ask: func() error {
			value := n.outcomes[o.ID]
			err := n.Text(ask.Question{Title: fmt.Sprintf("%s (%s)?", o.Name, o.When), Help: o.Expected() + ".", Optional: true,
				Check: n.with(func(e *newEntry, text string) { e.outcomes = map[string]string{o.ID: text} })}, &value)
			n.outcomes[o.ID] = value
			return err
		}})
	}
	return steps
}

// open tells whether an outcome of the chosen test can be noted by now.
func (n *newEntry) open(o protocol.Outcome) bool {
	d := n.chosen()
	if d == nil {
		return o.When == protocol.AtTest
	}
	for _, due := range d.Outcomes {
		if due.ID == o.ID {
			return true
		}
	}
	return false
}

// with holds an answer against the log as it would be. What is missing elsewhere is
// asked for later.
func (n *newEntry) with(set func(e *newEntry, text string)) func(string) error {
	return func(text string) error {
		copied := *n
		copied.outcomes = nil
		set(&copied, text)
		if !isNumber(copied.value) || !isNumber(copied.block) {
			return fmt.Errorf("found %q, expected a number; decimals are written with a point", text)
		}
		return short(n.f.CheckEntry(copied.entry()))
	}
}

func isNumber(text string) bool {
	_, err := strconv.ParseFloat(text, 64)
	return text == "" || err == nil
}

// short words the first problem of an entry without its place.
func short(err error) error {
	var list problem.List
	if !errors.As(err, &list) || len(list) == 0 || list[0].File != "record" {
		return err
	}
	list[0].File, list[0].Field = "", ""
	return errors.New(strings.TrimPrefix(list[:1].Error(), ": "))
}

func (n *newEntry) entry() protocol.Entry {
	e := protocol.Entry{Date: n.date}
	text := func(s string) *string {
		if s == "" {
			return nil
		}
		return &s
	}
	if !n.late() {
		e.Food, e.Time, e.Ate = text(n.food), text(n.time), text(n.ate)
		if c, err := protocol.ParseClock(n.time); err == nil {
			e.Time = text(c.String()) // 7:30 is 07:30
		}
		if x, err := strconv.ParseFloat(n.value, 64); err == nil {
			e.Value = &x
		}
		if x, err := strconv.Atoi(n.block); err == nil {
			e.Block = &x
		}
		for _, d := range strings.Split(n.deviations, ";") {
			if d = strings.TrimSpace(d); d != "" {
				e.Deviations = append(e.Deviations, d)
			}
		}
	}
	for _, o := range n.f.Study.Outcomes { // in the order of the study
		if value := n.outcomes[o.ID]; value != "" && n.open(o) {
			e.Outcomes = append(e.Outcomes, protocol.OutcomeEntry{ID: o.ID, Value: value})
		}
	}
	return e
}

// comesTo says what is wrong with the entry, if anything is.
func (n *newEntry) comesTo() string {
	if n.late() && len(n.entry().Outcomes) == 0 {
		return "No outcome was noted: there is nothing to save."
	}
	if err := short(n.f.CheckEntry(n.entry())); err != nil {
		return "It cannot be saved as it stands: " + err.Error() + "."
	}
	return ""
}
