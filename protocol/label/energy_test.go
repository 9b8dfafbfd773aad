package label

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

// By hand with the factors of annex XIV. The values as they are printed give
// 61·4 + 18·9 + 8·4 + 5.5·2 = 451 kcal, and 61·17 + 18·37 + 8·17 + 5.5·8 = 1883 kJ.
func TestEnergyEU(t *testing.T) {
	const text = "{jurisdiction: eu, energy: %, fat: 18 g, carbohydrate: 61 g, protein: 8.0 g, fibre: 5.5 g}"
	want := closed(60.5*4+17.5*9+7.95*4+5.45*2, 61.5*4+18.5*9+8.05*4+5.55*2)
	wantKJ := closed(60.5*17+17.5*37+7.95*17+5.45*8, 61.5*17+18.5*37+8.05*17+5.55*8)
	got := parse(t, strings.Replace(text, "%", "1883 kJ / 451 kcal", 1)).Energy()
	if len(got) != 2 || !got[0].AddsUp || !got[1].AddsUp {
		t.Fatalf("%+v", got)
	}
	for i, want := range []Interval{want, wantKJ} {
		if diff := cmp.Diff(want, got[i].Implied, cmpopts.EquateApprox(1e-12, 0)); diff != "" {
			t.Error(diff)
		}
	}
	for printed, adds := range map[string]bool{"441 kcal": false, "442 kcal": true, "456 kcal": true, "457 kcal": false, "1854 kJ": false, "1855 kJ": true, "1911 kJ": true, "1912 kJ": false} {
		if got := parse(t, strings.Replace(text, "%", printed, 1)).Energy(); got[0].AddsUp != adds {
			t.Errorf("%s: %+v, want %v", printed, got, adds)
		}
	}
}

// Polyols have 2.4 kcal, erythritol none; fibre that is not printed may fill the rest.
func TestEnergyEUPolyols(t *testing.T) {
	l := parse(t, "{jurisdiction: eu, energy: 100 kcal, fat: 0 g, carbohydrate: 80 g, polyols: 50 g, not_metabolised: 20 g, protein: 0 g, fibre: 0 g}")
	want := closed((79.5-20.5)*4-50.5*1.6, (80.5-19.5)*4-49.5*1.6+0.5*(9+4+2))
	if diff := cmp.Diff(want, l.Energy()[0].Implied, cmpopts.EquateApprox(1e-12, 0)); diff != "" {
		t.Error(diff)
	}
	l = parse(t, "{jurisdiction: eu, energy: 200 kcal, fat: 10 g, carbohydrate: 10 g, protein: 10 g}")
	if got := l.Energy()[0].Implied; got.High != 10.5*9+10.5*4+10.5*4+2*(100-3*9.95) {
		t.Errorf("with fibre that is not printed: %v", got)
	}
}

// General factors 4, 4 and 9 of 21 CFR 101.9(c)(1)(i)(B), or without fibre and
// sugar alcohols (C): 26 g of carbohydrate, 3 g of fibre, 4 g of protein and 8 g
// of fat are from 4·(25.5 − 3.5) + 4·3.5 + 9·7.5 kcal up.
func TestEnergyUS(t *testing.T) {
	const text = "{jurisdiction: us, energy: %, fat: 8 g, carbohydrate: 26 g, fibre: 3 g, protein: 4 g}"
	got := parse(t, strings.Replace(text, "%", "190", 1)).Energy()
	if want := open(4*(25.5-3.5)+4*3.5+9*7.5, 4*26.5+4*4.5+9*8.5); len(got) != 1 || got[0].Implied != want || !got[0].AddsUp {
		t.Errorf("%+v, want %v", got, want)
	}
	for printed, adds := range map[string]bool{"160": false, "170": true, "200": true, "210": false} {
		if got := parse(t, strings.Replace(text, "%", printed, 1)).Energy(); got[0].AddsUp != adds {
			t.Errorf("%s: %+v, want %v", printed, got, adds)
		}
	}
}

func TestContradictions(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"{jurisdiction: us, energy: 300 kcal, fat: 8 g, carbohydrate: 26 g, fibre: 3 g, protein: 4 g}",
			"it prints an energy of 295 to under 305 kcal for one serving, more than its other lines give by the factors (169.5 to under 200.5 kcal). Look for a misprint or a slip, and for alcohol or organic acids"},
		{"{jurisdiction: eu, energy: 100 kcal, fat: 8.0 g, carbohydrate: 26 g, fibre: 3.0 g, protein: 4.0 g}",
			"it prints an energy of 99.5 to 100.5 kcal for 100 g, less than its other lines give by the factors (195.2 to 200.8 kcal). Look for a misprint or a slip, and for polyols"},
		{"{jurisdiction: eu, fat: 3.0 g, saturates: 4.0 g, carbohydrate: 1 g}", "saturates with 3.95 to 4.05 g is more than fat with 2.95 to 3.05 g"},
		{"{jurisdiction: us, carbohydrate: 20 g, fibre: 12 g, sugars: 10 g}", "sugars and fibre with 21 to under 23 g is more than carbohydrate with 19.5 to under 20.5 g"},
		{"{jurisdiction: eu, carbohydrate: 20 g, not_metabolised: 22 g}", "not_metabolised with 21.5 to 22.5 g is more than carbohydrate"},
		{"{jurisdiction: eu, carbohydrate: 60 g, fat: 30 g, protein: 14 g}", "its lines weigh at least 102.5 g together, more than there is in 100 g"},
		{"{jurisdiction: us, serving: 30 g, carbohydrate: 30 g, fibre: 2 g, fat: 5 g}", "its lines weigh at least 34.25 g together, more than there is in one serving"},
	} {
		got := parse(t, c.text).contradictions()
		if len(got) != 1 || !strings.HasPrefix(got[0], addUp+c.want) {
			t.Errorf("%s\n got %q\nwant %s", c.text, got, c.want)
		}
	}
	// Fibre may be as much as the carbohydrate in which it is counted, and is no
	// part of it in the European Union.
	for _, text := range []string{
		"{jurisdiction: us, carbohydrate: 11 g, fibre: 11 g, sugars: <1 g}", "{jurisdiction: eu, carbohydrate: 1.0 g, fibre: 40 g}",
		"{jurisdiction: eu, per: 100 ml, carbohydrate: 80 g, protein: 40 g}", "{jurisdiction: us, carbohydrate: 40 g, fibre: 2 g, fat: 5 g}",
	} {
		if got := parse(t, text).contradictions(); len(got) > 0 {
			t.Errorf("%s: %q", text, got)
		}
	}
}
