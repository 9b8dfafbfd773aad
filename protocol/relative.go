package protocol

import (
	"fmt"
	"math"
	"slices"

	"mealtrial/protocol/label"
	"mealtrial/stats"
	"mealtrial/stats/ratio"
)

// A Relative is the response to a food as a percentage of that to the reference.
// Nothing in it is in the family of the main questions.
type Relative struct {
	Food      string `json:"food"`
	Reference string `json:"reference"`
	Tests     int    `json:"tests"`
	TestsRef  int    `json:"tests_reference"`
	Level     Number `json:"level"`
	// Percent is the ratio of the two means in the model, with Fieller's set, which
	// allows for the uncertainty of both; Shape says what its limits mean.
	Percent *Number     `json:"percent"`
	Low     *Number     `json:"low"`
	High    *Number     `json:"high"`
	Shape   ratio.Shape `json:"shape,omitempty"`
	// ByRatios is the mean of the single tests as percentages of the mean of the
	// reference, as ISO 26642 makes it, the mean of the reference taken as known.
	ByRatios     *Number `json:"percent_mean_of_ratios"`
	RatiosLow    *Number `json:"mean_of_ratios_low"`
	RatiosHigh   *Number `json:"mean_of_ratios_high"`
	Index        *Number `json:"index"` // whole number; nil where WhyNotIndex says why it is none
	IndexAllowed bool    `json:"index_allowed"`
	WhyNotIndex  string  `json:"why_not_index,omitempty"`
	Missing      string  `json:"missing,omitempty"`
}

// A DoseResponse is the mean response of a food per gram of available carbohydrate.
type DoseResponse struct {
	Food    string         `json:"food"`
	Dose    label.Interval `json:"dose_g"` // of a portion, by the rounding rules
	PerGram *label.PerGram `json:"per_gram"`
	Why     string         `json:"why_not,omitempty"` // why there is none
}

// What ISO 26642:2010 asks of an index besides equal doses (from memory, the standard
// was not opened; the repeats are named by a laboratory's summary of it).
const (
	indexWindow     = 120
	indexReferences = 2 // tests of the reference at least; three are preferred
)

// relative holds every food against the reference.
func (a *Analysis) relative(f *Folder, m models) {
	s := f.Study
	a.Relative, a.PerGram = []Relative{}, []DoseResponse{}
	a.perGram(s, m)
	ref := s.Reference()
	if ref < 0 || !s.Endpoint.Name.floored() || m.main.tests[ref] == 0 {
		return
	}
	linear := *s
	linear.LogRatios, linear.Margin = false, 0
	values := make([][]float64, len(s.Foods))
	for _, r := range m.main.from {
		values[r.food] = append(values[r.food], float64(*r.Value))
	}
	for i, food := range s.Foods {
		if i == ref || food.Role == RoleBlank || len(values[i]) == 0 {
			continue
		}
		r := Relative{Food: food.ID, Reference: s.Foods[ref].ID, Tests: len(values[i]), TestsRef: len(values[ref]), Level: Number(s.Level)}
		if !s.OwnSpread {
			q := newQuestion(food.ID, r.Reference)
			q.Kind = Ratio
			r.fieller(m.main.answerRatio(&linear, q, s.Level))
		}
		if of, err := ratio.RatiosToMean(values[i], values[ref], s.Level); err == nil {
			r.ByRatios = percent(of.Mean)
			if of.HasLimits {
				r.RatiosLow, r.RatiosHigh = percent(of.Limits.Low), percent(of.Limits.High)
			}
		} else {
			r.Missing = fmt.Sprintf("the mean of %s is not above zero, so a percentage of it says nothing", r.Reference)
		}
		r.WhyNotIndex = s.whyNotIndex(i, ref, r.TestsRef)
		if r.IndexAllowed = r.WhyNotIndex == "" && r.ByRatios != nil; r.IndexAllowed {
			r.Index = some(math.Round(float64(*r.ByRatios)))
		}
		a.Relative = append(a.Relative, r)
	}
}

func percent(x float64) *Number { return finite(100 * x) }

// fieller takes over the ratio of two means.
func (r *Relative) fieller(answer Answer) {
	if answer.Estimate == nil {
		r.Missing = answer.Missing
		return
	}
	r.Percent, r.Shape = percent(float64(*answer.Estimate)), answer.Shape
	if answer.Low != nil {
		r.Low = percent(float64(*answer.Low))
	}
	if answer.High != nil {
		r.High = percent(float64(*answer.High))
	}
}

// whyNotIndex says why a percentage is no index; "": it may be called one.
func (s *Study) whyNotIndex(food, ref, repeats int) string {
	const rule = "no index (ISO 26642): "
	a, b := s.Foods[food], s.Foods[ref]
	switch {
	case s.Endpoint.Name != IncrementalArea || s.Endpoint.Window != indexWindow:
		return rule + fmt.Sprintf("an index is of the incremental area over %d min, and this is the %s over %s min", indexWindow, s.Endpoint.Name.Words(), plain(s.Endpoint.Window))
	case a.Label == nil || b.Label == nil:
		missing := a.ID
		if a.Label != nil {
			missing = b.ID
		}
		return rule + fmt.Sprintf("it needs portions of equal available carbohydrate, and %s has no label in the study file to show its dose", missing)
	}
	c := label.CompareDoses(a.ID, a.Label.Dose(), b.ID, b.Label.Dose())
	switch {
	case !c.IndexAllowed && c.Relation == label.DosesDiffer:
		return rule + "the portions differ in available carbohydrate: " + c.Text
	case !c.IndexAllowed && c.Relation == label.CannotTell:
		return rule + "the labels do not show that the portions hold equal available carbohydrate: " + c.Text
	case !c.IndexAllowed:
		return rule + "the portions may hold no available carbohydrate at all"
	case repeats < indexReferences:
		return rule + fmt.Sprintf("the reference has to be tested at least twice, better three times, and %s counts %s", b.ID, Count(repeats, "test", "tests"))
	}
	return ""
}

// perGram divides the mean of each food with a label by its dose.
func (a *Analysis) perGram(s *Study, m models) {
	if !s.Endpoint.Name.floored() {
		return
	}
	for _, of := range a.Foods {
		food := s.Foods[s.Food(of.Food)]
		if food.Label == nil || food.Role == RoleBlank || of.Tests == 0 {
			continue
		}
		dose := food.Label.Dose()
		out := DoseResponse{Food: food.ID, Dose: dose.Rounding}
		if of.Low == nil || of.High == nil {
			out.Why = "its mean has no interval yet"
		} else {
			response := stats.Interval{Low: float64(*of.Low), High: float64(*of.High), Level: s.Level}
			per, err := label.ResponsePerGram(response, dose.Rounding)
			if err != nil {
				out.Why = err.Error()
			} else {
				per.Unit = s.Endpoint.Unit()
				if wide, err := label.ResponsePerGram(response, dose.Tolerance); err == nil {
					per.Scenario = &label.PerGramLimits{Low: wide.Low, High: wide.High}
				}
				out.PerGram = &per
			}
		}
		a.PerGram = append(a.PerGram, out)
	}
}

// indexDoubts say what an index of one person is not.
func (a *Analysis) indexDoubts() {
	if slices.ContainsFunc(a.Relative, func(r Relative) bool { return r.IndexAllowed }) {
		a.Warnings = append(a.Warnings, "An index here is that of one person: the standard (ISO 26642) asks for ten people at least, so it is not the index of the food.")
	}
}
