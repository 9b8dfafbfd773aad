package label

import (
	"fmt"
	"strings"
)

// contradictions says what cannot be on a label without a misprint or a slip:
// energies that do not fit, parts larger than their whole, more mass than food.
func (l *Label) contradictions() []string {
	return append(append(l.energyMisfits(), l.partsTooLarge()...), l.tooHeavy()...)
}

const addUp = "The label cannot add up: "

func (l *Label) energyMisfits() (out []string) {
	for _, c := range l.Energy() {
		if c.AddsUp {
			continue
		}
		way, reason := "less", "Look for a misprint or a slip, and for polyols or sweeteners that have no line of their own."
		if c.Implied.below(c.Printed) {
			way, reason = "more", "Look for a misprint or a slip, and for alcohol or organic acids, which have no line of their own."
		}
		if l.Jurisdiction == US {
			reason += " Factors for single foods, which the law allows too, are not looked at."
		}
		out = append(out, fmt.Sprintf("%sit prints an energy of %s %s for %s, %s than its other lines give by the factors (%s %s). %s",
			addUp, c.Printed.Text(), c.Unit, l.basis(), way, c.Implied.Text(), c.Unit, reason))
	}
	return out
}

func (l *Label) partsTooLarge() (out []string) {
	carbohydrate := []Nutrient{Sugars, Polyols}
	if l.Jurisdiction == US {
		carbohydrate = append(carbohydrate, Fibre)
	}
	for _, c := range []struct {
		whole Nutrient
		parts []Nutrient
	}{
		{Fat, []Nutrient{Saturates}},
		{Carbohydrate, carbohydrate},
		{Carbohydrate, []Nutrient{NotMetabolised}}, // by itself: older labels count rare sugars as sugars
	} {
		if _, printed := l.Values[c.whole]; !printed {
			continue
		}
		sum := exactly(0)
		var names []string
		for _, n := range c.parts {
			if _, printed := l.Values[n]; printed {
				sum = sum.plus(l.amount(n, byRounding))
				names = append(names, string(n))
			}
		}
		if whole := l.amount(c.whole, byRounding); whole.below(sum) {
			out = append(out, fmt.Sprintf("%s%s with %s g is more than %s with %s g. Look for a misprint or a slip.",
				addUp, strings.Join(names, " and "), sum.Text(), c.whole, whole.Text()))
		}
	}
	return out
}

func (l *Label) tooHeavy() []string {
	room, mass := l.room(), l.massOf().Low
	if room == 0 || mass <= room {
		return nil
	}
	return []string{fmt.Sprintf("%sits lines weigh at least %s g together, more than there is in %s. Look for a misprint or a slip.", addUp, plain(mass), l.basis())}
}

// basis words what the values are printed for.
func (l *Label) basis() string {
	if l.Per == PerServing {
		return "one serving"
	}
	return string(l.Per)
}
