package label

import (
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

// What counts as available, by hand from the definitions.
func TestAvailable(t *testing.T) {
	for _, c := range []struct {
		text    string
		want    Interval
		printed any // float64, or nil where there is none
	}{
		// Polyols: unknown, none, all; what is not metabolised never.
		{"{jurisdiction: us, carbohydrate: 30 g, fibre: 5 g, polyols: 10 g}", open(30-5-10-1.5, 30-5+1), nil},
		{"{jurisdiction: us, carbohydrate: 30 g, fibre: 5 g, polyols: 10 g, count_polyols: none}", open(30-5-10-1.5, 30-5-10+1.5), 15.0},
		{"{jurisdiction: us, carbohydrate: 30 g, fibre: 5 g, polyols: 10 g, count_polyols: all}", open(24, 26), 25.0},
		{"{jurisdiction: us, carbohydrate: 30 g, fibre: 5 g, not_metabolised: 10 g}", open(13.5, 16.5), 15.0},
		{"{jurisdiction: us, carbohydrate: 30 g, fibre: 5 g, polyols: 0 g}", open(30-5-1.5, 30-5+1), 25.0},
		{"{jurisdiction: eu, carbohydrate: 60 g, fibre: 5 g, polyols: 50 g}", closed(9, 60.5), nil},
		{"{jurisdiction: eu, carbohydrate: 60 g, polyols: 50 g, count_polyols: none}", closed(9, 11), 10.0},
		{"{jurisdiction: eu, carbohydrate: 60 g, polyols: 50 g, count_polyols: all}", closed(59.5, 60.5), 60.0},
		{"{jurisdiction: eu, carbohydrate: 60 g, not_metabolised: 50 g}", closed(9, 11), 10.0},
		// Sugars are a part of it; rare sugars that may be counted in them are not.
		{"{jurisdiction: us, carbohydrate: 12 g, fibre: 9 g, sugars: 3 g}", Interval{2.5, 4, false, true}, 3.0},
		{"{jurisdiction: us, carbohydrate: 12 g, fibre: 2 g, sugars: 8 g, not_metabolised: 8 g}", Interval{0.5, 3.5, true, true}, 2.0},
		{"{jurisdiction: us, carbohydrate: 12 g, fibre: 2 g, sugars: 7 g, not_metabolised: 4 g}", open(4.5, 7.5), 6.0},
		{"{jurisdiction: us, carbohydrate: 3 g, fibre: 2 g, sugars: 1 g}", Interval{0.5, 2, false, true}, 1.0},
		// Sugars that contradict the rest don't count.
		{"{jurisdiction: us, carbohydrate: 12 g, fibre: 10 g, sugars: 8 g}", open(1, 3), 2.0},
		// "Less than" has no number.
		{"{jurisdiction: us, carbohydrate: <1 g, fibre: 0 g}", halfOpen(0, 1), nil},
		{"{jurisdiction: us, carbohydrate: 5 g, fibre: <1 g}", open(3.5, 5.5), nil},
	} {
		d := parse(t, c.text).Dose()
		if diff := cmp.Diff(c.want, d.Rounding, cmpopts.EquateApprox(1e-12, 1e-12)); diff != "" {
			t.Errorf("%s: %s", c.text, diff)
		}
		if want, some := c.printed.(float64); some != (d.AsPrinted != nil) || some && *d.AsPrinted != want {
			t.Errorf("%s: as printed %v, want %v", c.text, d.AsPrinted, c.printed)
		}
	}
}

// The doses as printed follow the serving's printed size.
func TestDoseAsPrinted(t *testing.T) {
	for text, want := range map[string]float64{
		"{jurisdiction: us, carbohydrate: 20 g, fibre: 2 g, serving: 50 g, portion: 75 g}":                27,
		"{jurisdiction: us, carbohydrate: 20 g, fibre: 2 g, serving: 4 pieces, portion: 6 pieces}":        27,
		"{jurisdiction: eu, carbohydrate: 20 g, serving: 2 pieces (30 g), portion: 3 pieces}":             9,
		"{jurisdiction: eu, carbohydrate: 20 g, portion: 180 g}":                                          36,
		"{jurisdiction: eu, carbohydrate: 0 g}":                                                           0,
		"{jurisdiction: us, carbohydrate: 8 g, fibre: 9 g}":                                               0,
		"{jurisdiction: eu, per: serving, serving: 40 g, carbohydrate: 20 g, portion: 2 servings}":        40,
		"{jurisdiction: us, carbohydrate: 46 g, fibre: 12 g, portion: 1.5 servings, serving: 1 piece}":    51,
		"{jurisdiction: us, per: 100 g, carbohydrate: 46 g, fibre: 12 g, portion: 50 g, serving: 80 g}":   17,
		"{jurisdiction: us, carbohydrate: 46 g, fibre: 12 g, portion: 120 ml, serving: 240 ml, fat: 0 g}": 17,
	} {
		if got := parse(t, text).Dose().AsPrinted; got == nil || *got != want {
			t.Errorf("%s: %v, want %g", text, got, want)
		}
	}
}

func TestReportSaysWhatItTook(t *testing.T) {
	has := func(all []string, part string) bool {
		return slices.ContainsFunc(all, func(s string) bool { return strings.Contains(s, part) })
	}
	for _, c := range []struct{ text, assumed, warning string }{
		{"{jurisdiction: us, carbohydrate: 46 g, fibre: 12 g}", "No portion is given; 1 serving was taken.", "whether the label adds up was not checked"},
		{"{jurisdiction: eu, carbohydrate: 46 g}", "No portion is given; 100 g was taken.", ""},
		{"{jurisdiction: eu, carbohydrate: 46 g}", "No polyols (sugar alcohols) are printed; none were taken.", ""},
		{"{jurisdiction: eu, carbohydrate: 46 g, polyols: 3.0 g}", "the dose runs from none to all of them counted", ""},
		{"{jurisdiction: eu, carbohydrate: 46 g, polyols: 3.0 g, count_polyols: all}", "Polyols are counted as available", ""},
		{"{jurisdiction: eu, carbohydrate: 46 g, polyols: 3.0 g, count_polyols: none}", "Polyols are counted as not available", ""},
		{"{jurisdiction: us, carbohydrate: 46 g, fibre: 2 g, serving: 3 pieces, portion: 2 pieces}", "Pieces are taken to weigh what the label says", ""},
		{"{jurisdiction: us, carbohydrate: 46.5 g, fibre: 2 g}", "", "carbohydrate 46.5 g is no value that the rounding rule prints; 46 to 47 g for one serving was taken"},
		{"{jurisdiction: us, carbohydrate: 11 g, fibre: 11 g}", "", "may hold no available carbohydrate at all"},
		{"{jurisdiction: us, energy: 900, fat: 1 g, protein: 1 g, carbohydrate: 11 g, fibre: 1 g}", "", "The label cannot add up"},
	} {
		r := parse(t, c.text).Report(nil)
		if c.assumed != "" && !has(r.Assumed, c.assumed) || c.warning != "" && !has(r.Warnings, c.warning) {
			t.Errorf("%s: %q, %q", c.text, r.Assumed, r.Warnings)
		}
	}
	r := parse(t, "{jurisdiction: us, energy: 190, fat: 8 g, protein: 4 g, carbohydrate: 26 g, fibre: 3 g, portion: 1 serving}").Report(nil)
	if len(r.Warnings) > 0 {
		t.Errorf("warnings on a sound label: %q", r.Warnings)
	}
}
