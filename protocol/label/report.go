package label

import (
	"fmt"

	"mealtrial/stats"
)

// A Report is everything that a label says about one portion. As JSON it is a
// contract: fields are added, never renamed.
type Report struct {
	Name         string        `json:"name,omitempty"`
	Jurisdiction Jurisdiction  `json:"jurisdiction"`
	Per          Per           `json:"per"`
	Serving      string        `json:"serving,omitempty"`
	Portion      string        `json:"portion"`
	Lines        []Line        `json:"lines"`
	Dose         Dose          `json:"available_carbohydrate_g"`
	Energy       []EnergyCheck `json:"energy"` // empty where it could not be checked
	Avoid        AvoidCheck    `json:"avoid"`
	Assumed      []string      `json:"assumed"`
	Warnings     []string      `json:"warnings"`

	Comparisons []DoseComparison `json:"comparisons"`            // with other labels, where there are any
	PerGram     *PerGram         `json:"per_gram"`               // where a response is given and the dose allows it
	PerGramWhy  string           `json:"per_gram_why,omitempty"` // why there is none
	Caution     string           `json:"caution"`
}

// Report works out what a label says. avoid is the tester's avoid list; it may
// be empty.
func (l *Label) Report(avoid []string) *Report {
	return &Report{Name: l.Name, Jurisdiction: l.Jurisdiction, Per: l.Per, Serving: l.Serving.Text, Portion: l.Portion.Text,
		Lines: l.Lines(), Dose: l.Dose(), Energy: append([]EnergyCheck{}, l.Energy()...), Avoid: l.Avoids(avoid),
		Assumed: l.assumed(), Warnings: append([]string{}, l.warnings()...), Comparisons: []DoseComparison{}}
}

// assumed says what was taken for granted.
func (l *Label) assumed() []string {
	out := []string{"The label's values hold for the food as the label means it, mostly as sold: weigh the portion in that state."}
	if !l.PortionGiven {
		out = append(out, fmt.Sprintf("No portion is given; %s was taken.", l.Portion.Text))
	}
	_, polyols := l.Values[Polyols]
	switch {
	case !polyols:
		out = append(out, "No polyols (sugar alcohols) are printed; none were taken.")
	case l.Polyols == PolyolsNone:
		out = append(out, "Polyols are counted as not available, as count_polyols says.")
	case l.Polyols == PolyolsAll:
		out = append(out, "Polyols are counted as available, as count_polyols says.")
	default:
		out = append(out, "Polyols raise glucose by an unknown share: the dose runs from none to all of them counted. count_polyols: none or all narrows it.")
	}
	if l.Portion.Pieces > 0 {
		out = append(out, "Pieces are taken to weigh what the label says; they differ, so weigh them.")
	}
	return out
}

func (l *Label) warnings() []string {
	out := l.contradictions()
	for _, line := range l.Lines() {
		if !line.OnGrid {
			out = append(out, fmt.Sprintf("%s %s is no value that the rounding rule prints; %s %s for %s was taken, no wider than the rule's step allows. Look whether it was copied as printed.",
				line.Nutrient, line.Printed, line.Each.Text(), line.Unit, l.basis()))
		}
	}
	_, kcal := l.Values[Energy]
	_, fat := l.Values[Fat]
	_, protein := l.Values[Protein]
	if !fat || !protein || !kcal && l.KJ == nil {
		out = append(out, "Energy, fat and protein are not all given, so whether the label adds up was not checked.")
	}
	if l.Dose().Rounding.Low <= 0 {
		out = append(out, "The portion may hold no available carbohydrate at all, as far as the label says.")
	}
	return out
}

// CompareWith adds the comparison with the portion of another label.
func (r *Report) CompareWith(other *Label) {
	r.Comparisons = append(r.Comparisons, CompareDoses(r.Name, r.Dose, other.Name, other.Dose()))
}

// AddResponse adds the response per gram of available carbohydrate, or why there
// is none. response is the interval of the mean response to such portions, unit
// its unit.
func (r *Report) AddResponse(response stats.Interval, unit string) {
	p, err := ResponsePerGram(response, r.Dose.Rounding)
	if err != nil {
		r.PerGramWhy = err.Error()
		return
	}
	p.Unit = unit
	if wide, err := ResponsePerGram(response, r.Dose.Tolerance); err == nil {
		p.Scenario = &PerGramLimits{wide.Low, wide.High}
	}
	r.PerGram = &p
}
