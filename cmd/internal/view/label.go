package view

import (
	"fmt"
	"io"
	"strings"

	"mealtrial/protocol"
	"mealtrial/protocol/label"
)

// Label shows what a label says about one portion.
func Label(w io.Writer, r *label.Report) error {
	p := &printer{w: w}
	if r.Name != "" {
		p.line("%s", r.Name)
	}
	serving := ""
	if r.Serving != "" {
		serving = "; serving: " + r.Serving
	}
	p.line("Label of the %s. Values per %s%s. Portion: %s.", r.Jurisdiction.Words(), r.Per, serving, r.Portion)
	p.line("")
	p.labelLines(r)
	p.line("")
	p.labelDose(r)
	p.labelEnergy(r)
	p.line("")
	p.labelAvoid(r.Avoid)
	for _, c := range r.Comparisons {
		p.labelComparison(c)
	}
	p.labelPerGram(r)
	p.line("")
	p.line("Taken for granted")
	for _, text := range r.Assumed {
		p.line("  * %s", text)
	}
	p.notes(r.Warnings)
	p.line("")
	p.line("%s", r.Caution)
	return p.err
}

func (p *printer) labelLines(r *label.Report) {
	p.line("What the printed values may stand for (by the rounding rules; with the tolerances of compliance)")
	each := "per " + string(r.Per)
	var rows [][]string
	for _, l := range r.Lines {
		rows = append(rows, []string{strings.ReplaceAll(string(l.Nutrient), "_", " "), oneLine(l.Printed), string(l.Unit), l.Each.Text(), l.Portion.Text(), l.Wide.Text()})
	}
	p.table([]column{left("line"), right("printed"), left("unit"), left(each), left("portion"), left("portion, tolerances")}, rows)
}

func (p *printer) labelDose(r *label.Report) {
	printed := "no single number as printed"
	if x := r.Dose.AsPrinted; x != nil {
		printed = value(*x) + " g as printed"
	}
	p.line("Available carbohydrate of the portion: %s.", printed)
	p.line("  By the rounding rules: %s g.", r.Dose.Rounding.Text())
	p.line("  With tolerances of compliance (a label may miss by that much): %s g.", r.Dose.Tolerance.Text())
	p.line("  These are bounds, not confidence intervals.")
}

func (p *printer) labelEnergy(r *label.Report) {
	for _, c := range r.Energy {
		verdict := "adds up"
		if !c.AddsUp {
			verdict = "cannot add up"
		}
		p.line("Energy %s: printed %s %s, by the factors %s %s.", verdict, c.Printed.Text(), c.Unit, c.Implied.Text(), c.Unit)
	}
}

func (p *printer) labelAvoid(c label.AvoidCheck) {
	list := ""
	if len(c.Avoid) > 0 {
		list = " (" + strings.Join(c.Avoid, ", ") + ")"
	}
	p.line("Avoid list%s: %s", list, c.Text)
	for _, m := range c.Matches {
		p.line("  * %s", capital(m.Words()))
	}
	for _, note := range c.Notes {
		p.line("  * %s", note)
	}
}

func (p *printer) labelComparison(c label.DoseComparison) {
	p.line("")
	p.line("Doses: %s", c.Text)
	if c.Scenario != c.Relation {
		p.line("  With tolerances of compliance they %s.", map[label.Relation]string{label.EqualDoses: "are equal within 10 %",
			label.DosesDiffer: "differ", label.CannotTell: "may be equal or not"}[c.Scenario])
	}
	if c.WhyNotIndex != "" {
		p.line("  %s", c.WhyNotIndex)
	}
}

func (p *printer) labelPerGram(r *label.Report) {
	g := r.PerGram
	switch {
	case r.PerGramWhy != "":
		p.line("")
		p.line("%s.", capital(r.PerGramWhy))
	case g != nil:
		p.line("")
		p.line("Response per gram of available carbohydrate: %s (%s confidence of the response at least; dose by the rounding rules).",
			perGram(g.PerGramLimits, g.Unit), protocol.Percent(g.Level))
		if g.Scenario != nil {
			p.line("  With tolerances of compliance: %s.", perGram(*g.Scenario, g.Unit))
		} else {
			p.line("  With tolerances of compliance the dose may be zero, and no number bounds it.")
		}
		p.line("  A response need not grow in proportion to the dose, so this compares foods only roughly.")
	}
}

func perGram(l label.PerGramLimits, unit string) string {
	d := guarded(decimalsFor((l.High-l.Low)/4, 2), []float64{l.Low, l.High}, []float64{0})
	return fmt.Sprintf("%s to %s%s per g", fixed(l.Low, d), fixed(l.High, d), after(unit))
}
