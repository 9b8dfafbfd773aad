package page

import (
	"fmt"
	"math"

	"mealtrial/cmd/internal/view"
	"mealtrial/protocol"
)

// safety are the reasons to stop and seek advice; they stand before everything else.
func (b builder) safety() (lines []line) {
	for i, l := range b.a.Safety {
		lines = append(lines, line{l.Text, fmt.Sprintf("analyse:/safety/%d/text", i)})
	}
	return lines
}

// safetyTitle says whether something is still to be looked at.
func (b builder) safetyTitle() string {
	for _, l := range b.a.Safety {
		if l.LookedAt == "" {
			return "Stop and seek advice"
		}
	}
	return "Looked at"
}

// besides are the tables of what is shown beside the main endpoint's answers.
func (b builder) besides() (tables []Table) {
	tables = append(tables, b.floor()...)
	tables = append(tables, b.relative()...)
	for i, r := range b.a.Secondary {
		tables = append(tables, b.outcome(r, fmt.Sprintf("analyse:/secondary_endpoints/%d/", i))...)
	}
	for i, r := range b.a.Outcomes {
		tables = append(tables, b.outcome(r, fmt.Sprintf("analyse:/outcomes/%d/", i))...)
	}
	return tables
}

func (b builder) floor() []Table {
	o := b.a.Floor
	if o == nil || len(o.Foods) == 0 {
		return nil
	}
	t := Table{Caption: fmt.Sprintf("Each food against a day without food (the floor, from %s), in %s", o.Source, b.unit()),
		Columns: []Column{column("Food"), numbers("Tests"), numbers("Above the floor"), numbers("Low"), numbers("High"), numbers("Tests within it"), column("Note")}}
	for i, f := range o.Foods {
		from := fmt.Sprintf("analyse:/floor/foods/%d/", i)
		t.add(text(b.name(f.Food)), whole(f.Tests, from+"tests"), num(f.Difference, b.dd, from+"difference"), num(f.Low, b.dd, from+"low"), num(f.High, b.dd, from+"high"),
			whole(f.Small, from+"tests_within_floor"), exact(f.Text, from+"text"))
	}
	return []Table{t}
}

func (b builder) relative() []Table {
	if len(b.a.Relative) == 0 {
		return nil
	}
	t := Table{Caption: fmt.Sprintf("Percent of the %s of the reference, %s: the ratio of the two means with Fieller's set, and the mean of the single tests over the mean of the reference", b.a.Endpoint.InWords(), b.name(b.a.Relative[0].Reference)), Given: true,
		Columns: []Column{column("Food"), numbers("Ratio of means"), numbers("Low"), numbers("High"), column("Set"), numbers("Mean of ratios"), numbers("Low"), numbers("High"), column("Index")}}
	for i, r := range b.a.Relative {
		from := fmt.Sprintf("analyse:/relative_to_reference/%d/", i)
		index := optional(r.WhyNotIndex, from+"why_not_index")
		if r.Index != nil {
			index = num(r.Index, 0, from+"index")
		}
		t.add(text(b.name(r.Food)), num(r.Percent, 0, from+"percent"), num(r.Low, 0, from+"low"), num(r.High, 0, from+"high"), text(string(r.Shape)),
			num(r.ByRatios, 0, from+"percent_mean_of_ratios"), num(r.RatiosLow, 0, from+"mean_of_ratios_low"), num(r.RatiosHigh, 0, from+"mean_of_ratios_high"), index)
	}
	return []Table{t}
}

// outcome shows one secondary outcome or endpoint: its foods, and its comparisons.
func (b builder) outcome(r protocol.OutcomeResult, from string) []Table {
	if r.Tests == 0 {
		return nil
	}
	name := fmt.Sprintf("%s, %s", r.Name, r.Scale)
	mean, difference := "Mean", "Difference"
	d := view.OutcomeDecimals(r)
	value := func(x *protocol.Number, from string) Cell { return num(x, d, from) }
	if r.Kind == protocol.Event {
		mean, difference = "Rate", "Difference of rates"
		value = func(x *protocol.Number, from string) Cell { return percent(x, 0, from) }
	}
	foods := Table{Caption: name, Given: true, Columns: []Column{column("Food"), numbers("Tests"), numbers(mean), numbers("Low"), numbers("High")}}
	if r.Kind == protocol.Event {
		foods.Columns = append(foods.Columns, column("Note"))
	}
	questions := Table{Caption: name + ": first food minus second", Given: true, Empty: "Nothing was compared.",
		Columns: []Column{column("Question"), numbers(difference), numbers("Low"), numbers("High"), numbers("p"), column("Verdict")}}
	for i, f := range r.Foods {
		at := fmt.Sprintf("%sfoods/%d/", from, i)
		row := []Cell{text(b.name(f.Food)), whole(f.Tests, at+"tests"), value(f.Mean, at+"mean"), value(f.Low, at+"low"), value(f.High, at+"high")}
		if r.Kind == protocol.Event {
			row = append(row, optional(f.Text, at+"text"))
		}
		foods.add(row...)
	}
	for i, q := range r.Questions {
		at := fmt.Sprintf("%squestions/%d/", from, i)
		verdict := exact(q.Verdict, at+"verdict")
		if q.Missing != "" {
			verdict = exact(q.Missing, at+"missing")
		}
		questions.add(text(q.Question), value(q.Estimate, at+"estimate"), value(q.Low, at+"low"), value(q.High, at+"high"), pValue(q.P, at+"p"), verdict)
	}
	return []Table{foods, questions}
}

// pValue keeps so many decimals that a p-value is never 0.
func pValue(p *protocol.Number, from string) Cell {
	d := 3
	for p != nil && *p < 1 && float64(*p)*math.Pow10(d) < 1 && d < 12 {
		d++
	}
	return num(p, d, from)
}
