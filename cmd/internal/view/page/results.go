package page

import (
	"fmt"
	"strings"

	"mealtrial/cmd/internal/view"
	"mealtrial/protocol"
)

func (b builder) unit() string { return b.a.Endpoint.Unit }

func (b builder) differences() Table {
	t := Table{Caption: fmt.Sprintf("Differences, first food minus second, in %s", b.unit()), Empty: "No question about a difference was asked.",
		Columns: []Column{column("Question"), numbers("Tests"), numbers("Difference"), numbers("Low"), numbers("High"), column("Verdict"), numbers("Alone, low"), numbers("Alone, high")}}
	for i, q := range b.a.Questions {
		if !view.Tabled(q) {
			continue
		}
		from := fmt.Sprintf("analyse:/questions/%d/", i)
		verdict := view.Verdict(q)
		if q.Missing != "" {
			verdict += ": " + q.Missing
		}
		t.add(text(q.Question), whole(q.Tests, from+"tests"), num(q.Estimate, b.dd, from+"estimate"), num(q.Low, b.dd, from+"low"), num(q.High, b.dd, from+"high"),
			text(verdict), num(q.PlainLow, b.dd, from+"plain_low"), num(q.PlainHigh, b.dd, from+"plain_high"))
	}
	return t
}

// ratios are the questions about a ratio. What the limits mean stands in the form of
// the set.
func (b builder) ratios() Table {
	t := Table{Caption: "Ratios, first food as a multiple of the second", Columns: []Column{column("Question"), numbers("Tests"), numbers("Ratio"), column("Form of the set"), numbers("Low"), numbers("High"), numbers("Level"), column("Verdict")}}
	for i, q := range b.a.Questions {
		if q.Kind != protocol.Ratio {
			continue
		}
		from := fmt.Sprintf("analyse:/questions/%d/", i)
		d := view.RatioDecimals(q)
		t.add(text(q.Question), whole(q.Tests, from+"tests"), num(q.Estimate, d, from+"estimate"), text(strings.ReplaceAll(string(q.Shape), "_", " ")), num(q.Low, d, from+"low"), num(q.High, d, from+"high"),
			percent(&q.Level, 0, from+"level"), text(view.Verdict(q)))
	}
	return t
}

// limits are the questions about a limit, with their one-sided bounds.
func (b builder) limits() Table {
	t := Table{Caption: fmt.Sprintf("Limits, in %s: each bound is one-sided, for itself at its level", b.unit()),
		Columns: []Column{column("Question"), numbers("Tests"), numbers("Limit"), numbers("Estimate"), numbers("Above"), numbers("Below"), numbers("Level"), column("Verdict")}}
	for i, q := range b.a.Questions {
		if q.Limit == nil {
			continue
		}
		from := fmt.Sprintf("analyse:/questions/%d/", i)
		d := view.LimitDecimals(b.a, q)
		t.add(text(q.Question), whole(q.Tests, from+"tests"), exactNumber(q.Limit, from+"limit"), num(q.Estimate, d, from+"estimate"), num(q.Low, d, from+"low"), num(q.High, d, from+"high"),
			percent(&q.Level, 0, from+"level"), text(view.Verdict(q)))
	}
	return t
}

// exactNumber is a declared number, as it was declared.
func exactNumber(x *protocol.Number, from string) Cell {
	return Cell{Text: view.Declared(float64(*x)), From: from, Value: jsonNumber(float64(*x))}
}

func (b builder) foods() Table {
	t := Table{Caption: fmt.Sprintf("Mean of each food, in %s, by t on the residual degrees of freedom", b.unit()),
		Columns: []Column{column("Food"), column("Role"), numbers("Tests"), numbers("Mean"), numbers("Low"), numbers("High")}}
	for i, f := range b.a.Foods {
		from := fmt.Sprintf("analyse:/foods/%d/", i)
		t.add(text(f.Name), text(string(f.Role)), whole(f.Tests, from+"tests"), num(f.Mean, b.d, from+"mean"), num(f.Low, b.d, from+"low"), num(f.High, b.d, from+"high"))
	}
	return t
}

// glucoseDecimals are those of single readings.
func (b builder) glucoseDecimals() int {
	if strings.HasPrefix(b.unit(), "mmol/L") {
		return 2
	}
	return 0
}

func (b builder) tests() Table {
	unit := string(b.in.Folder.Study.Endpoint.GlucoseUnit)
	t := Table{Caption: fmt.Sprintf("Every test: glucose in %s, time in minutes from the first bite, area in %s·min", unit, unit),
		Columns: []Column{column("Date"), column("Food"), numbers("Block"), numbers("Baseline"), numbers("Peak rise"), numbers("At minute"), numbers("Area"), numbers("Measured"), column("Counted")}}
	d := b.glucoseDecimals()
	for i, r := range b.in.Responses {
		from := fmt.Sprintf("responses:/%d/", i)
		block := text("–")
		if r.Block > 0 {
			block = whole(r.Block, from+"block")
		}
		counted := text("yes")
		if !r.Counts() {
			counted = text("no")
		}
		t.add(when(r.Date.String()), text(b.name(r.Food)), block, num(r.Baseline, d, from+"baseline"), num(r.PeakRise, max(d, 1), from+"peak_rise"),
			num(r.TimeToPeak, 0, from+"time_to_peak"), num(r.IAUC, 0, from+"iauc"), percent(r.Coverage, 0, from+"coverage"), counted)
	}
	return t
}

func (b builder) name(id string) string { return view.FoodName(b.a, id) }

func (b builder) robustness() (tables []Table) {
	for i, r := range b.a.Robustness {
		state := "holds in every way that gave an answer"
		if len(r.Fragile) > 0 {
			state = "fragile"
		}
		t := Table{Caption: fmt.Sprintf("%s, %s: %s", r.Question, r.Verdict.Words(), state),
			Columns: []Column{column("Answered with"), numbers("Estimate"), numbers("Low"), numbers("High"), column("Verdict"), column("Note")}}
		for j, w := range r.Ways {
			from := fmt.Sprintf("analyse:/robustness/%d/ways/%d/", i, j)
			d := b.dd
			if w.Unit == "" {
				d = 2
			}
			verdict := w.Verdict.Words()
			switch {
			case w.Low == nil:
				verdict = "no answer this way"
			case w.Changes:
				verdict += " (changes)"
			}
			t.add(exact(w.Way, from+"way"), num(w.Estimate, d, from+"estimate"), num(w.Low, d, from+"low"), num(w.High, d, from+"high"), text(verdict), optional(w.Note, from+"note"))
		}
		tables = append(tables, t)
	}
	return tables
}

func (b builder) retest() (t Table, notes [][]line) {
	r := b.in.Retest
	t = Table{Caption: "Which questions are open, and how many more tests of each of their foods would settle them", Empty: "No question about a difference was asked.",
		Columns: []Column{column("Question"), column("Verdict now"), numbers("More tests"), numbers("Chance"), column("Why")}}
	for i, q := range r.Questions {
		from := fmt.Sprintf("retest:/questions/%d/", i)
		more := text("–")
		switch {
		case q.Settled:
			more = text("none")
		case q.More != nil:
			more = whole(*q.More, from+"more_tests_of_each")
		}
		t.add(text(q.Question), text(q.Verdict.Words()), more, percent(q.Chance, 0, from+"chance"), exact(q.Why, from+"why"))
	}
	for i, e := range r.Repeat {
		notes = append(notes, []line{{Text: fmt.Sprintf("Repeat first: %s of %s, which did not count:", b.name(e.Food), e.Date)}, {e.Reason, fmt.Sprintf("retest:/repeat_first/%d/reason", i)}})
	}
	if r.Narrows != "" {
		notes = append(notes, []line{{Text: "If it is to be one test only, " + b.name(r.Narrows) + " narrows the declared questions most."}})
	}
	return t, append(notes, []line{{Text: "Method:"}, {r.Method, "retest:/method"}})
}

// deviations are the tests with something to be noticed.
func (b builder) deviations() Table {
	t := Table{Caption: "What is to be noticed about single tests", Empty: "Nothing was noticed.", Columns: []Column{column("Date"), column("Food"), column("Noticed"), column("Counted")}}
	for i, r := range b.in.Responses {
		if len(r.Flags) == 0 {
			continue
		}
		counted := "yes"
		if !r.Counts() {
			counted = "no"
		}
		t.add(when(r.Date.String()), text(b.name(r.Food)), exact(strings.Join(r.Flags, "; "), fmt.Sprintf("responses:/%d/flags", i)), text(counted))
	}
	return t
}

func (b builder) excluded() Table {
	t := Table{Caption: fmt.Sprintf("Tests that were left out, values in %s", b.unit()), Empty: "No test was left out.", Columns: []Column{column("Date"), column("Food"), numbers("Value"), column("Reason")}}
	for i, e := range b.a.Excluded {
		from := fmt.Sprintf("analyse:/excluded/%d/", i)
		t.add(when(e.Date.String()), text(b.name(e.Food)), num(e.Value, b.d, from+"value"), exact(e.Reason, from+"reason"))
	}
	return t
}

// with compares the answers with and without the tests that were left out.
func (b builder) with() Table {
	t := Table{Caption: fmt.Sprintf("Differences without and with the tests that were left out, in %s", b.unit()), Empty: "No test that was left out has a value, so there is nothing to put back.",
		Columns: []Column{column("Question"), column("Tests left out"), numbers("Tests"), numbers("Difference"), numbers("Low"), numbers("High"), column("Verdict")}}
	for i, q := range b.a.Questions {
		if q.All == nil || !view.Tabled(q) {
			continue
		}
		from := fmt.Sprintf("analyse:/questions/%d/", i)
		t.add(text(q.Question), text("out"), whole(q.Tests, from+"tests"), num(q.Estimate, b.dd, from+"estimate"), num(q.Low, b.dd, from+"low"), num(q.High, b.dd, from+"high"), text(q.Verdict.Words()))
		from += "with_excluded/"
		t.add(text(q.Question), text("in"), whole(q.All.Tests, from+"tests"), num(q.All.Estimate, b.dd, from+"estimate"), num(q.All.Low, b.dd, from+"low"), num(q.All.High, b.dd, from+"high"), text(q.All.Verdict.Words()))
	}
	return t
}

// schedule lays what was planned beside what was done.
func (b builder) schedule() (t Table, amendments []line) {
	f := b.in.Folder
	t = Table{Caption: "The tests as they were planned and as they were eaten", Empty: "No schedule was drawn and no test was logged.",
		Columns: []Column{column("Date"), numbers("Block"), column("Planned"), column("At"), column("Eaten"), column("First bite"), column("How much"), column("Note")}}
	row := func(date protocol.Date, planned *protocol.PlannedTest) {
		cells := []Cell{when(date.String()), text("–"), text("–"), text("–"), text("not in the log"), text("–"), text("–"), text("")}
		if planned != nil {
			cells[1], cells[2], cells[3] = text(fmt.Sprint(planned.Block)), text(b.name(planned.Food)), when(planned.Time.String())
			if planned.RunIn {
				cells[1] = text("run-in")
			}
		}
		eaten := false
		for _, test := range f.Log.Tests {
			if test.Date != date {
				continue
			}
			one := append([]Cell(nil), cells...)
			if test.Block > 0 {
				one[1] = text(fmt.Sprint(test.Block))
			}
			one[4], one[6] = text(b.name(test.Food)), text(test.Ate)
			if test.HasTime {
				one[5] = when(test.Time.String())
			}
			var notes []string
			if planned == nil && f.Schedule != nil {
				notes = append(notes, "not in the schedule")
			}
			if planned != nil && planned.Food != test.Food {
				notes = append(notes, "another food than planned")
			}
			if test.Note != "" {
				notes = append(notes, test.Note)
			}
			one[7] = text(strings.Join(append(notes, test.Deviations...), "; "))
			t.add(one...)
			eaten = true
		}
		if !eaten {
			t.add(cells...)
		}
	}
	for _, date := range b.dates() {
		row(date, f.Schedule.On(date))
	}
	if f.Schedule != nil {
		for i, a := range f.Schedule.Amendments {
			amendments = append(amendments, line{Text: fmt.Sprintf("Amendment %d, made %s by %s, from %s on: %s. %s taken out, seed %d.", i+1, a.Made, a.Who, a.From, a.Why, view.Tests(len(a.Replaced)), a.Seed)})
		}
	}
	return t, amendments
}

// dates are those of planned and of logged tests, each once and in order.
func (b builder) dates() (out []protocol.Date) {
	f := b.in.Folder
	var planned []protocol.PlannedTest
	if f.Schedule != nil {
		planned = f.Schedule.Tests
	}
	logged := f.Log.Tests
	for len(planned) > 0 || len(logged) > 0 {
		var next protocol.Date
		if len(logged) == 0 || len(planned) > 0 && planned[0].Date <= logged[0].Date {
			next = planned[0].Date
		} else {
			next = logged[0].Date
		}
		out = append(out, next)
		for len(planned) > 0 && planned[0].Date == next {
			planned = planned[1:]
		}
		for len(logged) > 0 && logged[0].Date == next {
			logged = logged[1:]
		}
	}
	return out
}
