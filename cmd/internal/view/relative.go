package view

import (
	"fmt"
	"strings"

	"mealtrial/protocol"
	"mealtrial/protocol/label"
	"mealtrial/stats/ratio"
)

// relative shows every food as a percentage of the reference, and per gram of
// available carbohydrate where labels say how much there is.
func (p *printer) relative(a *protocol.Analysis) {
	if len(a.Relative) > 0 {
		p.line("")
		p.line("Percent of the %s of %s (%s intervals, each for itself, in no family)", a.Endpoint.InWords(), a.Relative[0].Reference, protocol.Percent(float64(a.Relative[0].Level)))
		index := false
		for _, r := range a.Relative {
			index = index || r.IndexAllowed
		}
		columns := []column{left("food"), right("tests"), right("ratio of means"), left("Fieller's set"), right("mean of ratios"), left("interval")}
		if index {
			columns = append(columns, right("index of one person"))
		}
		var rows [][]string
		for _, r := range a.Relative {
			row := []string{r.Food, fmt.Sprintf("%d, %d", r.Tests, r.TestsRef), percentCell(r.Percent), fiellerWords(r), percentCell(r.ByRatios), between(r.RatiosLow, r.RatiosHigh)}
			if index {
				row = append(row, cell(r.Index, 0))
			}
			rows = append(rows, row)
		}
		p.table(columns, rows)
		p.line("  Ratio of means: in the model, both uncertain. Mean of ratios: each test over the mean of the reference, which is taken as known, as ISO 26642 does.")
		p.whyNoIndex(a)
	}
	p.dosed(a)
}

func percentCell(x *protocol.Number) string {
	if x == nil {
		return missing
	}
	return fixed(float64(*x), 0) + " %"
}

func between(low, high *protocol.Number) string {
	if low == nil || high == nil {
		return missing
	}
	return fmt.Sprintf("%s to %s %%", cell(low, 0), cell(high, 0))
}

func fiellerWords(r protocol.Relative) string {
	switch r.Shape {
	case ratio.Bounded:
		return between(r.Low, r.High)
	case ratio.Complement:
		return "everything but " + between(r.Low, r.High)
	case ratio.AtLeast:
		return "from " + percentCell(r.Low) + " up"
	case ratio.AtMost:
		return "up to " + percentCell(r.High)
	case ratio.Unbounded:
		return "unbounded"
	}
	return missing
}

// whyNoIndex gives each reason once, with the foods that it is for.
func (p *printer) whyNoIndex(a *protocol.Analysis) {
	var reasons []string
	foods := map[string]string{}
	for _, r := range a.Relative {
		if r.Missing != "" {
			p.line("  %s: %s.", r.Food, r.Missing)
		}
		if r.WhyNotIndex == "" {
			continue
		}
		if foods[r.WhyNotIndex] == "" {
			reasons = append(reasons, r.WhyNotIndex)
			foods[r.WhyNotIndex] = r.Food
			continue
		}
		foods[r.WhyNotIndex] += ", " + r.Food
	}
	for _, reason := range reasons {
		who := foods[reason] + ": "
		if strings.Count(foods[reason], ", ") == len(a.Relative)-1 { // it is that of all
			who = ""
		}
		p.line("  %s%s.", who, trimDot(map[bool]string{true: capital(reason), false: reason}[who == ""]))
	}
}

func trimDot(text string) string {
	if n := len(text); n > 0 && text[n-1] == '.' {
		return text[:n-1]
	}
	return text
}

// dosed shows responses per gram.
func (p *printer) dosed(a *protocol.Analysis) {
	if len(a.PerGram) == 0 {
		return
	}
	p.line("")
	p.line("Per gram of available carbohydrate (%s confidence of the mean at least; the dose anywhere in its interval)", protocol.Percent(levelOf(a)))
	var rows [][]string
	for _, r := range a.PerGram {
		row := []string{r.Food, r.Dose.Text() + " g", missing, missing, r.Why}
		if g := r.PerGram; g != nil {
			row[2], row[3] = perGram(g.PerGramLimits, g.Unit), "the dose may be zero"
			if g.Scenario != nil {
				row[3] = perGram(label.PerGramLimits{Low: g.Scenario.Low, High: g.Scenario.High}, g.Unit)
			}
		}
		rows = append(rows, row)
	}
	p.table([]column{left("food"), right("dose"), left("response per gram"), left("with tolerances of compliance"), left("note")}, rows)
	p.line("  A response need not grow in proportion to the dose, so this compares foods only roughly.")
}
