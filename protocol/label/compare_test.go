package label

import (
	"errors"
	"math"
	"strings"
	"testing"

	"mealtrial/stats"
)

func dose(rounding, tolerance Interval) Dose { return Dose{Rounding: rounding, Tolerance: tolerance} }

func TestCompareDoses(t *testing.T) {
	for _, c := range []struct {
		name           string
		a, b           Interval
		want           Relation
		index          bool
		text, whyNotIn string
	}{
		{"within a tenth", closed(49, 51), closed(48, 52), EqualDoses, true, "a holds 49 to 51 g of available carbohydrate a portion, b 48 to 52 g: equal within 10 %.", ""},
		{"at a tenth", closed(50, 50), closed(55, 55), EqualDoses, true, "equal within 10 %", ""},
		{"just above a tenth", closed(50, 50), closed(55.1, 55.1), DosesDiffer, false, "the doses differ by 5.1 g", "the portions differ in dose"},
		{"apart", closed(22, 24), halfOpen(49, 50), DosesDiffer, false, "the doses differ by 25 to under 28 g, so a difference in response is one of dose as well as of food.", "the portions differ in dose"},
		{"apart, larger first", closed(49, 50), closed(22, 24), DosesDiffer, false, "the doses differ by 25 to 28 g", "the portions differ in dose"},
		{"none and some", halfOpen(0, 1), closed(49, 50), DosesDiffer, false, "a holds 0 to under 1 g", "the portions differ in dose"},
		{"touching, one open", halfOpen(10, 20), closed(20, 30), DosesDiffer, false, "the doses differ by over 0 to 20 g", "the portions differ in dose"},
		{"touching", closed(10, 20), closed(20, 30), CannotTell, false, "whether the doses are equal cannot be told from the labels", "do not show that the doses are equal"},
		{"none and perhaps some", halfOpen(0, 1), halfOpen(0, 1), CannotTell, false, "cannot be told", "do not show"},
		{"none at all", closed(0, 0), closed(0, 0), EqualDoses, false, "equal within 10 %", "may hold no available carbohydrate at all"},
	} {
		got := CompareDoses("a", dose(c.a, c.a), "b", dose(c.b, c.b))
		if got.Relation != c.want || got.IndexAllowed != c.index || !strings.Contains(got.Text, c.text) || !strings.Contains(got.WhyNotIndex, c.whyNotIn) || (got.WhyNotIndex == "") != c.index {
			t.Errorf("%s: %+v", c.name, got)
		}
		back := CompareDoses("b", dose(c.b, c.b), "a", dose(c.a, c.a))
		if back.Relation != got.Relation || back.Difference.Low != -got.Difference.High || back.Difference.High != -got.Difference.Low {
			t.Errorf("%s: the other way round %+v", c.name, back)
		}
	}
	got := CompareDoses("a", dose(closed(49, 51), closed(40, 60)), "b", dose(closed(49, 51), closed(40, 60)))
	if got.Relation != EqualDoses || got.Scenario != CannotTell {
		t.Errorf("with tolerances: %+v", got)
	}
}

// By hand: 20 to 36 mg/dL from 22 g to 24 g.
func TestResponsePerGram(t *testing.T) {
	for _, c := range []struct {
		response stats.Interval
		dose     Interval
		low, up  float64
	}{
		{stats.Interval{Low: 20, High: 36, Level: 0.95}, closed(22, 24), 20.0 / 24, 36.0 / 22},
		{stats.Interval{Low: -4, High: 36, Level: 0.95}, closed(22, 24), -4.0 / 22, 36.0 / 22},
		{stats.Interval{Low: -36, High: -20, Level: 0.95}, open(22, 24), -36.0 / 22, -20.0 / 24},
	} {
		p, err := ResponsePerGram(c.response, c.dose)
		if err != nil || math.Abs(p.Low-c.low) > 1e-9 || math.Abs(p.High-c.up) > 1e-9 || p.Level != 0.95 {
			t.Errorf("%v over %v: %+v, %v, want %g to %g", c.response, c.dose, p, err, c.low, c.up)
		}
	}
	for _, d := range []Interval{halfOpen(0, 1), open(0, 1), closed(0, 0), closed(1e-320, 1)} {
		if _, err := ResponsePerGram(stats.Interval{Low: 20, High: 36, Level: 0.95}, d); !errors.Is(err, ErrDoseReachesZero) {
			t.Errorf("%v: %v", d, err)
		}
	}
	_, err := ResponsePerGram(stats.Interval{Low: 20, High: 36, Level: 0.95}, halfOpen(0, 1))
	if want := "a response per gram is not given: the dose interval reaches zero (0 to under 1 g), so a gram may stand for any response"; err.Error() != want {
		t.Errorf("%v", err)
	}
}

func TestReportAddsWhatIsAsked(t *testing.T) {
	l := parse(t, "{name: lupin noodles, jurisdiction: us, carbohydrate: 26 g, fibre: 3 g}")
	r := l.Report(nil)
	r.CompareWith(parse(t, "{name: konjac noodles, jurisdiction: us, carbohydrate: 11 g, fibre: 11 g}"))
	r.AddResponse(stats.Interval{Low: 20, High: 36, Level: 0.95}, "mg/dL")
	if c := r.Comparisons; len(c) != 1 || c[0].Relation != DosesDiffer || c[0].A != "lupin noodles" || c[0].B != "konjac noodles" {
		t.Errorf("%+v", c)
	}
	// 80 % of 26 g less 120 % of 3 g, and the reverse.
	wide := PerGramLimits{tidy(20 / (31.2 - 2.4)), tidy(36 / (20.8 - 3.6))}
	if r.PerGram == nil || r.PerGram.Unit != "mg/dL" || r.PerGram.Low != tidy(20.0/24) || r.PerGram.Scenario == nil ||
		math.Abs(r.PerGram.Scenario.Low-wide.Low) > 1e-9 || math.Abs(r.PerGram.Scenario.High-wide.High) > 1e-9 {
		t.Errorf("%+v, %+v, want %+v", r.PerGram, r.PerGram.Scenario, wide)
	}
	r = parse(t, "{jurisdiction: us, carbohydrate: 11 g, fibre: 11 g}").Report(nil)
	r.AddResponse(stats.Interval{Low: 2, High: 3, Level: 0.95}, "mg/dL")
	if r.PerGram != nil || !strings.Contains(r.PerGramWhy, "reaches zero") {
		t.Errorf("%+v %q", r.PerGram, r.PerGramWhy)
	}
	// 12 g with 9 g of fibre is above 2 g by rounding, but nothing within tolerances.
	r = parse(t, "{jurisdiction: us, carbohydrate: 12 g, fibre: 9 g}").Report(nil)
	r.AddResponse(stats.Interval{Low: 2, High: 3, Level: 0.95}, "mg/dL")
	if r.PerGram == nil || r.PerGram.Scenario != nil {
		t.Errorf("%+v", r.PerGram)
	}
}
