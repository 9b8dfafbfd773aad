package label

import (
	"math"
	"slices"
	"strconv"
)

// A Nutrient is a line of a label.
type Nutrient string

// The lines. Their texts are the keys of the label file.
const (
	Energy         Nutrient = "energy"
	Fat            Nutrient = "fat"
	Saturates      Nutrient = "saturates"
	Carbohydrate   Nutrient = "carbohydrate"
	Sugars         Nutrient = "sugars"
	Polyols        Nutrient = "polyols"         // sugar alcohols, without those that are not metabolised
	NotMetabolised Nutrient = "not_metabolised" // erythritol, and rare sugars such as allulose
	Fibre          Nutrient = "fibre"
	Protein        Nutrient = "protein"
	Alcohol        Nutrient = "alcohol"
	Salt           Nutrient = "salt"   // European Union
	Sodium         Nutrient = "sodium" // United States
)

// A Rule is how a true amount becomes a printed one. Amounts are per serving in
// the United States and per 100 g, 100 ml or portion in the European Union.
type Rule struct {
	Source string

	steps     []step  // by ascending from; the last one has no end
	zero      float64 // amounts below it may be printed as 0
	zeroTo    bool    // and zero itself too
	mustZero  bool    // amounts below zero are always printed as 0
	below     float64 // "<below" may be printed; 0: there is no such form
	belowTo   float64 // for amounts below this one
	belowTill bool    // and for this one itself
	halfUp    bool    // halves are rounded up; else the rule does not say where
	fixed     bool    // prints the decimals of its step: 3.0, not 3
}

// A step says to which multiple amounts from a value on are rounded.
type step struct {
	from     float64
	size     float64
	decimals int
}

// RuleFor returns the rounding rule of a line. It panics for a line that the
// jurisdiction does not have.
func RuleFor(j Jurisdiction, n Nutrient, u Unit) Rule {
	rules := unitedStates
	if j == EU {
		rules = europeanUnion
	}
	r, ok := rules[n]
	if !ok || j == US && u == KJ {
		panic("label: no rounding rule for this line")
	}
	return r
}

// Has tells whether a jurisdiction's labels have a line.
func (j Jurisdiction) Has(n Nutrient) bool {
	if j == EU {
		return europeanUnion[n].steps != nil
	}
	return unitedStates[n].steps != nil
}

// The rules of the United States, from 21 CFR 101.9(c) and appendix H of the
// Food Labeling Guide of the Food and Drug Administration (2009). From memory:
// halves are rounded up, as its note says of whole grams, and the regulation only
// allows ("may") 0 for less than 5 calories and "less than 1 g" for less than
// 0.5 g, so that both forms are possible. Alcohol has no line there; it is taken
// to be rounded as carbohydrate is.
var (
	usGrams = Rule{Source: "21 CFR 101.9(c)(6), (7)", zero: 0.5, below: 1, belowTo: 1, halfUp: true,
		steps: []step{{size: 1}}}
	usFat = Rule{Source: "21 CFR 101.9(c)(2)", zero: 0.5, mustZero: true, halfUp: true,
		steps: []step{{size: 0.5, decimals: 1}, {from: 5, size: 1}}}

	unitedStates = map[Nutrient]Rule{
		Energy: {Source: "21 CFR 101.9(c)(1)", zero: 5, halfUp: true,
			steps: []step{{size: 5}, {from: 50, size: 10}}},
		Fat: usFat, Saturates: usFat,
		Carbohydrate: usGrams, Sugars: usGrams, Polyols: usGrams, NotMetabolised: usGrams, Fibre: usGrams, Protein: usGrams, Alcohol: usGrams,
		Sodium: {Source: "21 CFR 101.9(c)(4)", zero: 5, mustZero: true, halfUp: true,
			steps: []step{{size: 5}, {from: 140, size: 10}}},
	}
)

// The rules of the European Union, from the guidance on tolerances of the
// Commission's services of December 2012, rounding: it binds nobody, so amounts
// below the limit of "0" may be printed as a number as well. The summaries of it
// that were read do not say where halves go.
var (
	euGrams = Rule{Source: "EU guidance on tolerances, December 2012, rounding", zero: 0.5, zeroTo: true,
		below: 0.5, belowTo: 0.5, belowTill: true, fixed: true,
		steps: []step{{size: 0.1, decimals: 1}, {from: 10, size: 1}}}
	euFattyAcids = Rule{Source: euGrams.Source, zero: 0.1, zeroTo: true, below: 0.1, belowTo: 0.1, belowTill: true, fixed: true,
		steps: []step{{size: 0.1, decimals: 1}, {from: 10, size: 1}}}

	europeanUnion = map[Nutrient]Rule{
		Energy: {Source: euGrams.Source, steps: []step{{size: 1}}, fixed: true},
		Fat:    euGrams, Saturates: euFattyAcids,
		Carbohydrate: euGrams, Sugars: euGrams, Polyols: euGrams, NotMetabolised: euGrams, Fibre: euGrams, Protein: euGrams, Alcohol: euGrams,
		// The printed form is "<0.01 g", for amounts up to 0.0125 g.
		Salt: {Source: euGrams.Source, zero: 0.0125, zeroTo: true, below: 0.01, belowTo: 0.0125, belowTill: true, fixed: true,
			steps: []step{{size: 0.01, decimals: 2}, {from: 1, size: 0.1, decimals: 1}}},
	}
)

// Print returns the ways in which the rule allows an amount to be printed,
// without the unit, the usual one first. x must not be negative.
func (r Rule) Print(x float64) []string {
	if !(x >= 0) {
		panic("label: a negative amount")
	}
	var texts []string
	zero := x < r.zero || x == r.zero && r.zeroTo || x == 0
	if zero {
		texts = append(texts, "0")
	}
	if r.below > 0 && (x < r.belowTo || x == r.belowTo && r.belowTill) {
		texts = append(texts, "<"+plain(r.below))
	}
	if zero && (r.mustZero || x == 0) {
		return texts
	}
	s := r.stepAt(x)
	units := tidy(x / s.size)
	up, down := math.Floor(units+0.5), math.Ceil(units-0.5)
	if r.halfUp {
		down = up
	}
	for k := up; k >= down; k-- {
		text := strconv.FormatFloat(k*s.size, 'f', s.decimals, 64)
		if k == 0 || !r.fixed {
			text = plain(k * s.size)
		}
		if !slices.Contains(texts, text) {
			texts = append(texts, text)
		}
	}
	return texts
}

func (r Rule) stepAt(x float64) step {
	at := r.steps[0]
	for _, s := range r.steps {
		if x >= s.from {
			at = s
		}
	}
	return at
}

// Interval returns the true amounts that may stand behind a printed one, by the
// rule read backwards. Where a rule leaves a choice, all that it allows is held.
// A number that the rule does not print, such as 12.3 g in the United States, is
// taken to be rounded to something no coarser than the rule's step: onGrid is
// then false.
func (r Rule) Interval(p Printed) (i Interval, onGrid bool) {
	switch {
	case p.Below && p.Value == r.below:
		return Interval{High: r.belowTo, HighOpen: !r.belowTill}, true
	case p.Below:
		return Interval{High: p.Value, HighOpen: true}, false
	case p.Value == 0 && r.zero > 0:
		return Interval{High: r.zero, HighOpen: !r.zeroTo}, true
	}
	found, coarse := r.behind(p, &i)
	if !found {
		half := max(r.stepAt(p.Value).size, math.Pow10(-p.Decimals)) / 2
		return Interval{Low: tidy(p.Value - half), High: tidy(p.Value + half)}.atLeast(0), false
	}
	if coarse { // "3 g" where the rule prints 3.0: perhaps rounded to whole grams
		half := math.Pow10(-p.Decimals) / 2
		i = i.hull(Interval{Low: tidy(p.Value - half), High: tidy(p.Value + half)}).atLeast(0)
	}
	return i, true
}

// behind gathers what each step of the rule prints as p; coarse tells that p has
// fewer decimals than any of them prints.
func (r Rule) behind(p Printed, i *Interval) (found, coarse bool) {
	coarse = r.fixed
	for k, s := range r.steps {
		if units := p.Value / s.size; math.Abs(units-math.Round(units)) > 1e-9 {
			continue
		}
		here := Interval{Low: tidy(p.Value - s.size/2), High: tidy(p.Value + s.size/2), HighOpen: r.halfUp}
		first := s.from
		if k == 0 && r.mustZero {
			first = r.zero
		}
		if first >= here.Low {
			here.Low = first
		}
		if k+1 < len(r.steps) && r.steps[k+1].from <= here.High {
			here.High, here.HighOpen = r.steps[k+1].from, true
		}
		if here.Low > here.High || here.Low == here.High && here.HighOpen {
			continue
		}
		if !found {
			*i = here
		}
		*i, found = i.hull(here), true
		coarse = coarse && p.Decimals < s.decimals
	}
	return found, coarse
}
