package label

import (
	"math"
	"slices"
	"testing"

	"mealtrial/stats"
)

// Rounding in the United States. Table: Food and Drug Administration, Guide to
// Nutrition Labeling and Education Act Requirements, attachment 7, and Food
// Labeling Guide (2009), appendix H. Halves go up (from memory): note a of appendix H for
// whole grams, the usual reading elsewhere.
func TestRoundingUS(t *testing.T) {
	for _, c := range []struct {
		nutrient Nutrient
		x        float64
		want     string
	}{
		{Energy, 4.9, "0"}, {Energy, 47, "45"}, {Energy, 52.4, "50"}, {Energy, 55, "60"}, {Energy, 5, "5"}, {Energy, 50, "50"}, {Energy, 54.9, "50"},
		{Fat, 0.49, "0"}, {Fat, 2.3, "2.5"}, {Fat, 4.9, "5"}, {Fat, 7.4, "7"}, {Saturates, 0.5, "0.5"}, {Saturates, 5, "5"},
		{Carbohydrate, 0.49, "0"}, {Carbohydrate, 0.7, "<1"}, {Carbohydrate, 12.5, "13"}, {Carbohydrate, 2.99, "3"}, {Carbohydrate, 2.5, "3"},
		{Fibre, 0.49, "0"}, {Fibre, 0.99, "<1"}, {Sugars, 1.49, "1"}, {Polyols, 0.5, "<1"}, {Protein, 0.3, "0"},
		{Sodium, 4.9, "0"}, {Sodium, 5, "5"}, {Sodium, 142, "140"}, {Sodium, 145, "150"}, {Sodium, 137.5, "140"},
	} {
		if got := RuleFor(US, c.nutrient, Gram).Print(c.x); got[0] != c.want {
			t.Errorf("%s %g is printed as %q, want %q first", c.nutrient, c.x, got, c.want)
		}
	}
	// Protein of 0.5 g to under 1 g is "less than 1 g" or 1 g: appendix H.
	if got := RuleFor(US, Protein, Gram).Print(0.6); !slices.Equal(got, []string{"<1", "1"}) {
		t.Errorf("protein 0.6 g is printed as %q", got)
	}
}

// The inverse of the same tables, worked out by hand.
func TestIntervalsUS(t *testing.T) {
	for _, c := range []struct {
		nutrient Nutrient
		text     string
		want     Interval
	}{
		{Carbohydrate, "0 g", halfOpen(0, 0.5)}, {Carbohydrate, "<1 g", halfOpen(0, 1)}, {Carbohydrate, "less than 1 g", halfOpen(0, 1)},
		{Carbohydrate, "1 g", halfOpen(0.5, 1.5)}, {Carbohydrate, "11g", halfOpen(10.5, 11.5)}, {Fibre, "11", halfOpen(10.5, 11.5)},
		{Fat, "0 g", halfOpen(0, 0.5)}, {Fat, "0.5 g", halfOpen(0.5, 0.75)}, {Fat, "4.5 g", halfOpen(4.25, 4.75)}, {Fat, "5 g", halfOpen(4.75, 5.5)}, {Fat, "6 g", halfOpen(5.5, 6.5)},
		{Energy, "0", halfOpen(0, 5)}, {Energy, "5", halfOpen(2.5, 7.5)}, {Energy, "45", halfOpen(42.5, 47.5)}, {Energy, "50", halfOpen(47.5, 55)}, {Energy, "60", halfOpen(55, 65)},
		{Sodium, "0 mg", halfOpen(0, 5)}, {Sodium, "5 mg", halfOpen(5, 7.5)}, {Sodium, "140 mg", halfOpen(137.5, 145)}, {Sodium, "150", halfOpen(145, 155)},
	} {
		unit := map[Nutrient]Unit{Energy: Kcal, Sodium: Milligram}[c.nutrient]
		if unit == "" {
			unit = Gram
		}
		got, onGrid := RuleFor(US, c.nutrient, unit).Interval(printed(t, c.text, unit))
		if got != c.want || !onGrid {
			t.Errorf("%s %s: %v, %v, want %v", c.nutrient, c.text, got, onGrid, c.want)
		}
	}
	// 12.3 g is on no grid: no coarser than whole grams.
	if got, onGrid := RuleFor(US, Carbohydrate, Gram).Interval(printed(t, "12.3 g", Gram)); got != closed(11.8, 12.8) || onGrid {
		t.Errorf("12.3 g: %v, %v", got, onGrid)
	}
}

// Rounding in the European Union: guidance on tolerances of December 2012, read
// in the summary of its table on a laboratory's page on food labelling (energy to 1 kJ and
// 1 kcal; from 10 g to 1 g, below to 0.1 g, up to 0.5 g "0" or "<0.5"; saturates
// up to 0.1 g; salt from 1 g to 0.1 g, below to 0.01 g, up to 0.0125 g "0" or
// "<0.01").
func TestRoundingEU(t *testing.T) {
	for _, c := range []struct {
		nutrient Nutrient
		x        float64
		want     []string
	}{
		{Energy, 189.4, []string{"189"}}, {Energy, 189.6, []string{"190"}},
		{Carbohydrate, 10, []string{"10"}}, {Carbohydrate, 10.4, []string{"10"}}, {Carbohydrate, 61.7, []string{"62"}}, {Carbohydrate, 9.94, []string{"9.9"}}, {Carbohydrate, 3, []string{"3.0"}},
		{Fat, 0.5, []string{"0", "<0.5", "0.5"}}, {Fat, 0.51, []string{"0.5"}}, {Fat, 0.3, []string{"0", "<0.5", "0.3"}},
		{Saturates, 0.1, []string{"0", "<0.1", "0.1"}}, {Saturates, 0.12, []string{"0.1"}}, {Saturates, 12.4, []string{"12"}},
		{Salt, 0.0125, []string{"0", "<0.01", "0.01"}}, {Salt, 0.013, []string{"0.01"}}, {Salt, 0.994, []string{"0.99"}}, {Salt, 1.23, []string{"1.2"}},
	} {
		if got := RuleFor(EU, c.nutrient, Gram).Print(c.x); !slices.Equal(got, c.want) {
			t.Errorf("%s %g is printed as %q, want %q", c.nutrient, c.x, got, c.want)
		}
	}
	for _, c := range []struct {
		nutrient Nutrient
		text     string
		want     Interval
	}{
		{Carbohydrate, "0 g", closed(0, 0.5)}, {Carbohydrate, "< 0,5 g", closed(0, 0.5)}, {Carbohydrate, "0,4 g", closed(0.35, 0.45)}, {Carbohydrate, "34 g", closed(33.5, 34.5)},
		{Carbohydrate, "10 g", closed(9.95, 10.5)}, {Carbohydrate, "3.0 g", closed(2.95, 3.05)},
		{Carbohydrate, "3 g", closed(2.5, 3.5)}, // fewer decimals than the rule prints
		{Salt, "<0.01 g", closed(0, 0.0125)}, {Salt, "0.50 g", closed(0.495, 0.505)}, {Salt, "1.0", closed(0.995, 1.05)}, {Salt, "1.2", closed(1.15, 1.25)},
		{Saturates, "<0.1 g", closed(0, 0.1)},
	} {
		if got, onGrid := RuleFor(EU, c.nutrient, Gram).Interval(printed(t, c.text, Gram)); got != c.want || !onGrid {
			t.Errorf("%s %s: %v, %v, want %v", c.nutrient, c.text, got, onGrid, c.want)
		}
	}
}

// 21 CFR 101.9(g)(4), (5): class II at least 80 %, third group at most 120 %. So
// 50 g printed may be 40 g.
func TestToleranceUS(t *testing.T) {
	l := parse(t, "{jurisdiction: us, carbohydrate: 50 g, fibre: 0 g, fat: 10 g, sugars: <1 g}")
	want := map[Nutrient]Interval{Carbohydrate: closed(40, 60), Fat: closed(8, 12), Fibre: halfOpen(0, 0.5), Sugars: closed(0, 1.2)}
	for _, line := range l.Lines() {
		if line.Wide != want[line.Nutrient] {
			t.Errorf("%s: %v, want %v", line.Nutrient, line.Wide, want[line.Nutrient])
		}
	}
}

// Guide for Developing and Using Data Bases for Nutrition Labeling (1998):
// protein of broccoli, class II, from 12 samples and a composite of 12, gives
// 4.3096 g (with t rounded to 1.796) and the label 4 g.
func TestToleranceWorkedExample(t *testing.T) {
	const mean, s, n, k = 4.6003, 0.6165770, 12.0, 12.0
	predicted := func(t float64) float64 { return (mean - t*math.Sqrt(12/k+1/n)*s) * 5 / 4 }
	if got := predicted(1.796); math.Abs(got-4.309638) > 5e-7 {
		t.Errorf("predicted %.6f, want 4.309638", got)
	}
	x := predicted(stats.TQuantile(0.95, n-1))
	if math.Abs(x-4.309730) > 5e-7 {
		t.Errorf("predicted %.6f, want 4.309730", x)
	}
	rule := RuleFor(US, Protein, Gram)
	if got := rule.Print(x); got[0] != "4" {
		t.Errorf("%g g is printed as %q, want 4", x, got)
	}
	l := parse(t, "{jurisdiction: us, carbohydrate: 6 g, fibre: 2 g, protein: 4 g}")
	if low := l.amount(Protein, byTolerance).Low; math.Abs(low-3.2) > 1e-12 || low > x*4/5 {
		t.Errorf("a printed 4 g may be from %g g, want 3.2", low)
	}
}

// Tolerances of the European Union, tables of the guidance of December 2012 for
// foods (from memory). They are for 100 g, so half as large for 50 g.
func TestToleranceEU(t *testing.T) {
	for _, c := range []struct {
		nutrient Nutrient
		x, want  float64
	}{
		{Carbohydrate, 9.9, 2}, {Carbohydrate, 10, 2}, {Sugars, 20, 4}, {Protein, 40, 8}, {Fibre, 41, 8}, {Carbohydrate, 95, 8},
		{Fat, 9.9, 1.5}, {Fat, 10, 2}, {Fat, 41, 8}, {Saturates, 3.9, 0.8}, {Saturates, 4, 0.8}, {Saturates, 4.5, 0.9}, {Saturates, 10, 2},
		{Salt, 1.24, 0.375}, {Salt, 1.25, 0.25}, {Energy, 500, 0},
	} {
		if got := euTolerance(c.nutrient, c.x); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%s %g: ±%g, want ±%g", c.nutrient, c.x, got, c.want)
		}
	}
	l := parse(t, "{jurisdiction: eu, per: serving, serving: 50 g, carbohydrate: 30 g, portion: 1 serving}")
	if got := l.Lines()[0].Wide; got != closed(26, 34) { // 60 g in 100 g: ±8 g, in 50 g ±4 g
		t.Errorf("30 g in 50 g: %v, want 26 to 34", got)
	}
}

// Energy factors: Regulation (EU) No 1169/2011, annex XIV.
func TestFactorsEU(t *testing.T) {
	want := map[Unit]factors{
		KJ:   {carbohydrate: 17, polyols: 10, protein: 17, fat: 37, alcohol: 29, fibre: 8},
		Kcal: {carbohydrate: 4, polyols: 2.4, protein: 4, fat: 9, alcohol: 7, fibre: 2},
	}
	for u, f := range want {
		if euFactors[u] != f {
			t.Errorf("%s: %v, want %v", u, euFactors[u], f)
		}
	}
}

// The same food under both laws is the same dose: carbohydrate holds fibre in
// the United States and does not in the European Union. 21 CFR 101.9(c)(6) (by
// difference); Regulation (EU) No 1169/2011, annex I, 7 and 12.
func TestSameFoodSameDose(t *testing.T) {
	us := parse(t, "{jurisdiction: us, carbohydrate: 46 g, fibre: 12 g}").Dose()
	eu := parse(t, "{jurisdiction: eu, carbohydrate: 34 g, fibre: 12 g}").Dose()
	if *us.AsPrinted != 34 || *eu.AsPrinted != 34 {
		t.Errorf("%g g and %g g, want 34 g", *us.AsPrinted, *eu.AsPrinted)
	}
	if us.Rounding != open(33, 35) || eu.Rounding != closed(33.5, 34.5) {
		t.Errorf("%v and %v", us.Rounding, eu.Rounding)
	}
	if !us.Tolerance.Contains(46*0.8-12*1.2) || !us.Tolerance.Contains(46*1.2-12*0.8) || eu.Tolerance != closed(34-6.8, 34+6.8) {
		t.Errorf("%v and %v", us.Tolerance, eu.Tolerance)
	}
}

// A printed whole gram is ±2 % of 25 g and ±1 % of 50 g.
func TestRoundingShareOfTarget(t *testing.T) {
	for text, want := range map[string]float64{"25 g": 0.02, "50 g": 0.01} {
		i, _ := RuleFor(US, Carbohydrate, Gram).Interval(printed(t, text, Gram))
		if got := (i.High - i.Low) / (i.High + i.Low); math.Abs(got-want) > 1e-12 {
			t.Errorf("%s: ±%g, want ±%g", text, got, want)
		}
	}
}

// "0 g" may be 0.49 g; 11 g with 11 g of fibre may be up to 1 g a serving, and
// twice that in two (common practice, no source: arithmetic).
func TestNoCarbohydrateMayBeSome(t *testing.T) {
	one := parse(t, "{jurisdiction: us, carbohydrate: 11 g, fibre: 11 g, portion: 1 serving}").Dose()
	two := parse(t, "{jurisdiction: us, carbohydrate: 11 g, fibre: 11 g, portion: 2 servings}").Dose()
	if one.Rounding != halfOpen(0, 1) || two.Rounding != halfOpen(0, 2) || *two.AsPrinted != 0 {
		t.Errorf("%v and %v", one.Rounding, two.Rounding)
	}
	zero := parse(t, "{jurisdiction: us, carbohydrate: 0 g, fibre: 0 g}").Dose()
	if zero.Rounding != halfOpen(0, 0.5) || !zero.Rounding.Contains(0.49) {
		t.Errorf("0 g: %v", zero.Rounding)
	}
}
