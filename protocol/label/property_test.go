package label

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"mealtrial/stats"
)

// ruled are all lines of both jurisdictions, with their units.
type ruled struct {
	j Jurisdiction
	n Nutrient
	u Unit
}

func allRuled() (out []ruled) {
	for _, j := range []Jurisdiction{US, EU} {
		for _, line := range lines {
			if j.Has(line.nutrient) {
				out = append(out, ruled{j, line.nutrient, line.unit})
			}
		}
	}
	return append(out, ruled{EU, Energy, KJ})
}

// drawAmount draws a true amount as a decimal number, often near or on a half
// or a threshold.
func drawAmount(t *rapid.T, name string, most int) float64 {
	if rapid.Bool().Draw(t, name+" near a border") {
		half := float64(rapid.IntRange(0, most*20).Draw(t, name)) / 20
		return math.Max(0, tidy(half+float64(rapid.IntRange(-1, 1).Draw(t, name+" off"))/2000))
	}
	return float64(rapid.IntRange(0, most*2000).Draw(t, name)) / 2000
}

// What the rule makes of a true amount, read back, holds that amount.
func TestPrintedHoldsTheTruth(t *testing.T) {
	all := allRuled()
	rapid.Check(t, func(t *rapid.T) {
		c := rapid.SampledFrom(all).Draw(t, "line")
		x := drawAmount(t, "amount", 200)
		rule := RuleFor(c.j, c.n, c.u)
		texts := rule.Print(x)
		if len(texts) == 0 {
			t.Fatalf("%s %s %g is not printed at all", c.j, c.n, x)
		}
		for _, text := range texts {
			p, ok := ParsePrinted(text+" "+string(c.u), c.u)
			if !ok {
				t.Fatalf("%q does not read back", text)
			}
			i, onGrid := rule.Interval(p)
			if !i.Contains(x) || !onGrid {
				t.Errorf("%s %s %g is printed as %s and read back as %v, %v", c.j, c.n, x, text, i, onGrid)
			}
		}
	})
}

// The interval of a printed value is no wider than what prints that way: by
// printing a lattice of amounts, ends and openness included.
func TestIntervalsAreSharp(t *testing.T) {
	const size, count = 0.00125, 20000 // up to 25, with all halves and thresholds below it
	for _, c := range allRuled() {
		rule := RuleFor(c.j, c.n, c.u)
		least, most := map[string]float64{}, map[string]float64{}
		scale := map[bool]float64{true: 8, false: 1}[c.n == Energy || c.n == Sodium] // up to 200
		for k := range count {
			x := tidy(float64(k) * size * scale)
			for _, text := range rule.Print(x) {
				if strings.Contains(text, ".") { // 10.0 and 10 are read as one number
					text = strings.TrimRight(strings.TrimRight(text, "0"), ".")
				}
				if _, seen := least[text]; !seen {
					least[text] = x
				}
				most[text] = x
			}
		}
		step, end := size*scale, (count-1)*size*scale
		for text, low := range least {
			p := printed(t, text, c.u)
			p.Decimals = 4 // printed with all its zeros
			i, _ := rule.Interval(p)
			if i.High >= end {
				continue
			}
			if high := most[text]; math.Abs(i.Low-low) > 1.01*step || math.Abs(i.High-high) > 1.01*step ||
				i.LowOpen != (low > i.Low+step/2) || i.HighOpen != (high < i.High-step/2) {
				t.Errorf("%s %s %s: %v, but what prints so goes from %g to %g", c.j, c.n, text, i, low, high)
			}
		}
	}
}

// A truth is the composition of a food, per serving of weight g.
type truth struct {
	weight, servings, portion                      float64 // portion: weighed, in g
	fat, saturates, starch, sugars, polyols, inert float64
	fibre, protein                                 float64
	fibreKcal, polyolKcal                          float64 // a gram
	polyolIn                                       float64 // share of polyols that is available
}

func drawTruth(t *rapid.T) truth {
	x := truth{
		fat: drawAmount(t, "fat", 12), starch: drawAmount(t, "starch", 20), sugars: drawAmount(t, "sugars", 8), polyols: drawAmount(t, "polyols", 8),
		inert: drawAmount(t, "inert", 4), fibre: drawAmount(t, "fibre", 12), protein: drawAmount(t, "protein", 12),
	}
	x.saturates = x.fat * rapid.Float64Range(0, 1).Draw(t, "saturates")
	x.weight = 80 + drawAmount(t, "water", 100)
	x.servings = float64(rapid.IntRange(10, 400).Draw(t, "hundredths of a serving")) / 100
	x.portion = float64(rapid.IntRange(20, 400).Draw(t, "portion"))
	x.polyolIn = rapid.Float64Range(0, 1).Draw(t, "share of polyols")
	x.fibreKcal = rapid.SampledFrom([]float64{0, 0.8, 2}).Draw(t, "kcal of fibre")
	x.polyolKcal = rapid.SampledFrom([]float64{1.6, 2, 2.4, 3}).Draw(t, "kcal of polyols")
	return x
}

// labelOf prints a label of a truth, each value in one of the ways that its rule
// allows; values per 100 g in the European Union.
func labelOf(t *rapid.T, x truth, j Jurisdiction) string {
	per, carbohydrate := 1.0, x.starch+x.sugars+x.polyols+x.inert
	kcal := 4*(x.starch+x.sugars+x.protein) + 9*x.fat + x.fibreKcal*x.fibre + x.polyolKcal*x.polyols
	if j == US {
		carbohydrate += x.fibre
		if rapid.Bool().Draw(t, "method B") {
			kcal = 4*(carbohydrate+x.protein) + 9*x.fat
		}
	} else {
		per = 100 / x.weight
		kcal = 4*(x.starch+x.sugars+x.protein) + 9*x.fat + 2*x.fibre + 2.4*x.polyols
	}
	var b strings.Builder
	fmt.Fprintf(&b, "jurisdiction: %s\nserving: %.0f g\n", j, math.Floor(x.weight+0.5))
	write := func(n Nutrient, u Unit, amount float64) {
		text := rapid.SampledFrom(RuleFor(j, n, u).Print(tidy(amount*per))).Draw(t, string(n)+" as printed")
		fmt.Fprintf(&b, "%s: %s %s\n", n, text, u)
	}
	write(Energy, Kcal, kcal)
	write(Fat, Gram, x.fat)
	write(Saturates, Gram, x.saturates)
	write(Carbohydrate, Gram, carbohydrate)
	write(Sugars, Gram, x.sugars)
	write(Polyols, Gram, x.polyols)
	write(NotMetabolised, Gram, x.inert)
	write(Fibre, Gram, x.fibre)
	write(Protein, Gram, x.protein)
	return b.String()
}

// A label printed by the rules from a true composition adds up, and its dose
// holds the true available carbohydrate, for servings as for a weighed portion.
func TestDoseHoldsTheTruth(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := drawTruth(t)
		for _, j := range []Jurisdiction{US, EU} {
			text := labelOf(t, x, j)
			available := x.starch + x.sugars + x.polyolIn*x.polyols
			portions := map[string]float64{
				fmt.Sprintf("portion: %g g\n", x.portion):         x.portion / x.weight,
				fmt.Sprintf("portion: %g servings\n", x.servings): x.servings,
			}
			for portion, servings := range portions {
				l, err := Parse("label.yaml", []byte(text+portion))
				if err != nil {
					t.Fatal(err)
				}
				d, true := l.Dose(), available*servings
				near := closed(d.Rounding.Low-1e-9, d.Rounding.High+1e-9)
				if !near.Contains(true) {
					t.Errorf("%s%s: %g g is not in %v", text, portion, true, d.Rounding)
				}
				if d.Tolerance.Low > d.Rounding.Low || d.Tolerance.High < d.Rounding.High {
					t.Errorf("%s: tolerance %v inside rounding %v", text, d.Tolerance, d.Rounding)
				}
				if doubts := l.contradictions(); len(doubts) > 0 {
					t.Errorf("%s: %q", text, doubts)
				}
			}
		}
	})
}

// drawInterval draws an interval and a number in it.
func drawInterval(t *rapid.T, name string) (Interval, float64) {
	low, width := float64(rapid.IntRange(0, 5000).Draw(t, name))/100, rapid.Float64Range(0.001, 20).Draw(t, name+" width")
	i := Interval{low, low + width, rapid.Bool().Draw(t, name+" low open"), rapid.Bool().Draw(t, name+" high open")}
	return i, low + width*rapid.Float64Range(0.01, 0.99).Draw(t, name+" at")
}

// Interval arithmetic holds the arithmetic of what is inside, and the text of an
// interval is never narrower than it.
func TestIntervalArithmetic(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, x := drawInterval(t, "a")
		b, y := drawInterval(t, "b")
		if y > 0 && b.Low > 0 && !a.over(b).Contains(x/y) {
			t.Errorf("%v over %v does not hold %g", a, b, x/y)
		}
		for name, c := range map[string]struct {
			i Interval
			x float64
		}{"plus": {a.plus(b), x + y}, "minus": {a.minus(b), x - y}, "times": {a.times(b), x * y}, "hull": {a.hull(b), y}} {
			if !c.i.Contains(c.x) {
				t.Errorf("%v %s %v does not hold %g", a, name, b, c.x)
			}
		}
		if a.Overlaps(b) != b.Overlaps(a) || a.Contains(y) && !a.Overlaps(b) {
			t.Errorf("overlap of %v and %v", a, b)
		}
		var low, high float64
		text := strings.NewReplacer("over ", "", "under ", "", " to ", " ").Replace(a.Text())
		if n, _ := fmt.Sscan(text, &low, &high); n != 2 || low > a.Low+1e-9 || high < a.High-1e-9 || high-low > 1.25*(a.High-a.Low)+0.2 {
			t.Errorf("%v is written as %s", a, a.Text())
		}
	})
}

// Every quotient of a response and a dose lies in the response per gram.
func TestResponsePerGramHoldsQuotients(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		dose, d := drawInterval(t, "dose")
		low := rapid.Float64Range(-30, 60).Draw(t, "response")
		response := stats.Interval{Low: low, High: low + rapid.Float64Range(0, 40).Draw(t, "width"), Level: 0.95}
		p, err := ResponsePerGram(response, dose)
		if dose.Low <= 0 {
			if err == nil {
				t.Errorf("a dose of %v is not refused", dose)
			}
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range []float64{response.Low, (response.Low + response.High) / 2, response.High} {
			if q := r / d; q < p.Low-1e-6*math.Abs(q) || q > p.High+1e-6*math.Abs(q) {
				t.Errorf("%g/%g = %g is not in %v", r, d, q, p)
			}
		}
		if p.Level != 0.95 {
			t.Errorf("level %g", p.Level)
		}
	})
}
