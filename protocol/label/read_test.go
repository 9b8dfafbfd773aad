package label

import (
	"errors"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"mealtrial/protocol/problem"
	"mealtrial/protocol/yamldoc"
)

func TestReadLabel(t *testing.T) {
	l := parse(t, `
name: oat biscuits
jurisdiction: EU
serving: 2 pieces (25g)
portion: 3 pieces
energy: 1950 kJ / 465 kcal
fat: 18 g
saturates: "1,5 g"
carbohydrate: 61g
sugars: 22
fibre: < 0,5 g
protein: 8.0 g
salt: 0.50 g
count_polyols: none
ingredients: [oat flour, "sugar, butter"]
allergens: milk
`)
	want := &Label{Name: "oat biscuits", Jurisdiction: EU, Per: Per100g, PortionGiven: true,
		Serving: Amount{Pieces: 2, Size: 25, SizeUnit: "g", Text: "2 pieces (25g)"}, Portion: Amount{Pieces: 3, Text: "3 pieces"},
		KJ: &Printed{Text: "1950 kJ", Value: 1950, Unit: KJ}, Polyols: PolyolsNone,
		Values: map[Nutrient]Printed{
			Energy: {Text: "465 kcal", Value: 465, Unit: Kcal}, Fat: {Text: "18 g", Value: 18, Unit: Gram}, Saturates: {Text: "1,5 g", Value: 1.5, Decimals: 1, Unit: Gram},
			Carbohydrate: {Text: "61g", Value: 61, Unit: Gram}, Sugars: {Text: "22", Value: 22, Unit: Gram},
			Fibre: {Text: "< 0,5 g", Value: 0.5, Below: true, Decimals: 1, Unit: Gram}, Protein: {Text: "8.0 g", Value: 8, Decimals: 1, Unit: Gram},
			Salt: {Text: "0.50 g", Value: 0.5, Decimals: 2, Unit: Gram}},
		Ingredients: []string{"oat flour", "sugar, butter"}, Allergens: []string{"milk"}}
	if diff := cmp.Diff(want, l, cmpopts.IgnoreUnexported(Label{}, Amount{})); diff != "" {
		t.Error(diff)
	}
}

func TestPrintedForms(t *testing.T) {
	for text, want := range map[string]Printed{
		"11g": {Value: 11}, "0 g": {}, "<1 g": {Value: 1, Below: true}, "< 0,5 g": {Value: 0.5, Below: true, Decimals: 1}, "Less than 1 gram": {Value: 1, Below: true},
		"Contains less than 1 g": {Value: 1, Below: true}, "0.125 g": {Value: 0.125, Decimals: 3}, "3.0": {Value: 3, Decimals: 1},
	} {
		want.Text, want.Unit = text, Gram
		if got, ok := ParsePrinted(text, Gram); got != want || !ok {
			t.Errorf("%q: %+v, %v, want %+v", text, got, ok, want)
		}
	}
	for _, text := range []string{"", "g", "-1 g", "1 mg", "1 oz", "1.234 g", "1,234 g", "010", "1e3", "traces", "<0 g", "100001 g", "1 2 g", "NaN", "∞ g", "0x1 g", "1.00000 g", "> 5 g"} {
		if p, ok := ParsePrinted(text, Gram); ok {
			t.Errorf("%q is read as %+v", text, p)
		}
	}
}

// The portion in servings, pieces, grams and millilitres, by hand.
func TestPortions(t *testing.T) {
	for _, c := range []struct {
		label string
		want  Interval // of 20 g, which is [19.5, 20.5) or [19.5, 20.5]
	}{
		{"{jurisdiction: us, fibre: 0, carbohydrate: 20 g}", halfOpen(19.5, 20.5)},
		{"{jurisdiction: us, fibre: 0, carbohydrate: 20 g, portion: 2 servings}", halfOpen(39, 41)},
		{"{jurisdiction: us, fibre: 0, carbohydrate: 20 g, portion: 1/2 serving}", halfOpen(9.75, 10.25)},
		{"{jurisdiction: us, fibre: 0, carbohydrate: 20 g, serving: 4 pieces, portion: 6 pieces}", halfOpen(29.25, 30.75)},
		// A printed serving of 50 g may weigh 49.5 g to under 50.5 g.
		{"{jurisdiction: us, fibre: 0, carbohydrate: 20 g, serving: 50 g, portion: 100 g}", open(19.5*100/50.5, 20.5*100/49.5)},
		{"{jurisdiction: us, fibre: 0, carbohydrate: 20 g, serving: 3 g, portion: 3 g}", open(19.5*3/3.25, 20.5*3/2.75)},
		{"{jurisdiction: us, fibre: 0, carbohydrate: 20 g, serving: 1.5 g, portion: 3 g}", open(19.5*3/1.55, 20.5*3/1.45)},
		{"{jurisdiction: eu, carbohydrate: 20 g}", closed(19.5, 20.5)},
		{"{jurisdiction: eu, carbohydrate: 20 g, portion: 250 g}", closed(48.75, 51.25)},
		{"{jurisdiction: eu, carbohydrate: 20 g, serving: 30 g}", closed(19.5*0.295, 20.5*0.305)},
		{"{jurisdiction: eu, carbohydrate: 20 g, serving: 12.5 g, portion: 2 servings}", closed(19.5*0.249, 20.5*0.251)},
		{"{jurisdiction: eu, carbohydrate: 20 g, serving: 2 pieces (30 g), portion: 3 pieces}", closed(19.5*0.295*1.5, 20.5*0.305*1.5)},
		{"{jurisdiction: eu, carbohydrate: 20 g, serving: 250 ml}", closed(19.5*2.495, 20.5*2.505)},
		{"{jurisdiction: eu, carbohydrate: 20 g, per: 100 ml, portion: 330 ml}", closed(19.5*3.3, 20.5*3.3)},
		{"{jurisdiction: eu, carbohydrate: 20 g, per: serving, serving: 30 g, portion: 60 g}", closed(19.5*60/30.5, 20.5*60/29.5)},
	} {
		// A fibre of "0" adds up to 0.5 g below.
		l := parse(t, c.label)
		got := l.Lines()[0].Portion
		if diff := cmp.Diff(c.want, got, cmpopts.EquateApprox(1e-9, 0)); diff != "" {
			t.Errorf("%s: %s", c.label, diff)
		}
	}
}

// A label inside another file keeps line and field.
func TestReadInsideAStudy(t *testing.T) {
	r := &yamldoc.Reader{File: "study.yaml"}
	text, _ := r.Clean([]byte("foods:\n  - id: lupin\n    label: {jurisdiction: eu, carbohydrate: some}\n  - id: water\n"))
	root, ok := r.Parse(yamldoc.Split(text)[0])
	if !ok {
		t.Fatal(r.Err())
	}
	foods := root.Map("foods")["foods"].List()
	Read(foods[0].Map("id", "label")["label"])
	if l := Read(foods[1].Map("id", "label")["label"]); l != nil {
		t.Errorf("a label where there is none: %+v", l)
	}
	const want = `study.yaml:3: foods[1].label.carbohydrate: found "some", expected a value as it is printed, such as 11 g, 0.5 g, 0 g or <1 g; copy the number and its unit from the label`
	if err := r.Err(); err == nil || err.Error() != want {
		t.Errorf("%v", err)
	}
}

func TestProblems(t *testing.T) {
	const grams = ", expected a value as it is printed, such as 11 g, 0.5 g, 0 g or <1 g; copy the number and its unit from the label"
	for _, c := range []struct{ text, want string }{
		{"", "label.yaml: found an empty file, expected a label; " + mendExample},
		{"# later", "label.yaml: found nothing but comments, expected a label; " + mendExample},
		{"null", "label.yaml:1: found nothing, expected a label; " + mendExample},
		{"a: 1\n---\nb: 2", `label.yaml:2: found a second document, expected one label a file; take out the line "---" or what follows it`},
		{"[1]", "label.yaml:1: found a list, expected a mapping with the keys name, jurisdiction, serving, per, portion, count_polyols, ingredients, allergens, energy, fat, saturates, carbohydrate, sugars, polyols, not_metabolised, fibre, protein, alcohol, salt, sodium"},
		{"carbohydrate: 1 g", "label.yaml:1: found no jurisdiction, expected us or eu; write us for a Nutrition Facts panel (21 CFR 101.9), eu for the European Union and the United Kingdom: carbohydrate means two different things there"},
		{"jurisdiction: mars", `label.yaml:1: jurisdiction: found "mars", expected us or eu; write us for a Nutrition Facts panel (21 CFR 101.9), eu for the European Union and the United Kingdom: carbohydrate means two different things there`},
		{"jurisdiction: eu", "label.yaml:1: found no carbohydrate, expected carbohydrate, as it is printed; write for example carbohydrate: 46 g"},
		{"{jurisdiction: us, carbohydrate: 4 g}", "label.yaml:1: found no fibre, expected fibre, which a label of the United States counts in total carbohydrate; copy it; where the label says that it is not a significant source of fibre write fibre: <1 g"},
		{"{jurisdiction: eu, carbohydrate: 4 g, sodium: 3}", "label.yaml:1: sodium: found the line sodium, expected salt, as on a label of the European Union; copy that line of the label, or take this one out"},
		{"{jurisdiction: us, carbohydrate: 4 g, fibre: 0, salt: 3}", "label.yaml:1: salt: found the line salt, expected sodium, as on a label of the United States; copy that line of the label, or take this one out"},
		{"{jurisdiction: eu, carbohydrate: traces}", `label.yaml:1: carbohydrate: found "traces"` + grams},
		{"{jurisdiction: eu, carbohydrate: -1 g}", `label.yaml:1: carbohydrate: found "-1 g"` + grams},
		{"{jurisdiction: eu, carbohydrate: 101 g}", `label.yaml:1: carbohydrate: found "101 g", expected at most 100 g in 100 g; look at the label again, or write per: serving`},
		{"{jurisdiction: eu, carbohydrate: '1,234 g'}", `label.yaml:1: carbohydrate: found "1,234 g", expected a value as it is printed, such as 11 g, 0.5 g, 0 g or <1 g; write thousands without a separator, and decimals with up to two digits`},
		{"{jurisdiction: eu, carbohydrate: [1]}", "label.yaml:1: carbohydrate: found a list, expected a text"},
		{"{jurisdiction: us, carbohydrate: 1 g, fibre: 0, sodium: 1 g}", `label.yaml:1: sodium: found "1 g", expected a value as it is printed, such as 160 mg; copy the number and its unit from the label`},
		{"{jurisdiction: us, carbohydrate: 1 g, fibre: 0, energy: 80 kJ}", `label.yaml:1: energy: found "80 kJ", expected calories as they are printed, such as 190 kcal; copy the number and its unit from the label`},
		{"{jurisdiction: eu, carbohydrate: 1 g, energy: 80 kJ / 90 kJ}", `label.yaml:1: energy: found "80 kJ / 90 kJ", expected an energy as it is printed, such as 190 kcal, 800 kJ or 800 kJ / 190 kcal; copy the number and its unit from the label`},
		{"{jurisdiction: eu, carbohydrate: 1 g, energy: '1,950 kJ'}", `label.yaml:1: energy: found "1,950 kJ", expected an energy as it is printed, such as 190 kcal, 800 kJ or 800 kJ / 190 kcal; write thousands without a separator, and decimals with up to two digits`},
		{"{jurisdiction: eu, carbohydrate: 1 g, serving: one cup}", `label.yaml:1: serving: found "one cup", expected the serving of the label, such as "55 g", "240 ml", "2 pieces" or "2 pieces (55 g)"; give a number and its unit`},
		{"{jurisdiction: eu, carbohydrate: 1 g, serving: 1 serving}", `label.yaml:1: serving: found "1 serving", expected the serving of the label, such as "55 g", "240 ml", "2 pieces" or "2 pieces (55 g)"; give one amount, with its unit`},
		{"{jurisdiction: eu, carbohydrate: 1 g, portion: 2}", `label.yaml:1: portion: found "2", expected a portion in servings, pieces, grams or millilitres, such as "1.5 servings", "3 pieces" or "80 g"; give a number and its unit`},
		{"{jurisdiction: eu, carbohydrate: 1 g, portion: 0 g}", `label.yaml:1: portion: found "0 g", expected a portion in servings, pieces, grams or millilitres, such as "1.5 servings", "3 pieces" or "80 g"; give a number and its unit`},
		{"{jurisdiction: eu, carbohydrate: 1 g, portion: '1,000 g'}", `label.yaml:1: portion: found "1,000 g", expected a portion in servings, pieces, grams or millilitres, such as "1.5 servings", "3 pieces" or "80 g"; give a number and its unit`},
		{"{jurisdiction: eu, carbohydrate: 1 g, portion: 2 pieces (30 g)}", `label.yaml:1: portion: found "2 pieces (30 g)", expected a portion in servings, pieces, grams or millilitres, such as "1.5 servings", "3 pieces" or "80 g"; give one amount, with its unit`},
		{"{jurisdiction: eu, carbohydrate: 1 g, portion: 2 servings}", `label.yaml:1: portion: found the portion "2 servings" of a label with values per 100 g, expected serving: with its size in g; copy it from the label, or weigh the portion and give it as the values are given`},
		{"{jurisdiction: us, carbohydrate: 1 g, fibre: 0, portion: 80 g}", `label.yaml:1: portion: found the portion "80 g" of a label with values per serving, expected serving: with its size in g; copy it from the label, or weigh the portion and give it as the values are given`},
		{"{jurisdiction: us, carbohydrate: 1 g, fibre: 0, serving: 30 g, portion: 3 pieces}", `label.yaml:1: portion: found the portion "3 pieces" of a label with values per serving, expected serving: with the number of pieces; copy it from the label, or weigh the portion and give it as the values are given`},
		{"{jurisdiction: eu, carbohydrate: 1 g, portion: 200 ml}", `label.yaml:1: portion: found the portion "200 ml" of a label with values per 100 g, expected a portion in g; copy it from the label, or weigh the portion and give it as the values are given`},
		{"{jurisdiction: eu, carbohydrate: 1 g, per: serving}", `label.yaml:1: per: found values per serving without its weight, expected serving: with grams or millilitres as well; write for example serving: 30 g: the tolerances are for 100 g`},
		{"{jurisdiction: eu, carbohydrate: 1 g, per: cup}", `label.yaml:1: per: found "cup", expected one of serving, 100 g, 100 ml`},
		{"{jurisdiction: eu, carbohydrate: 1 g, count_polyols: most}", `label.yaml:1: count_polyols: found "most", expected one of unknown, none, all`},
		{"{jurisdiction: eu, carbohydrates: 1 g, carbohydrate: 1 g}", `label.yaml:1: carbohydrates: found the key "carbohydrates", expected one of name, jurisdiction, serving, per, portion, count_polyols, ingredients, allergens, energy, fat, saturates, carbohydrate, sugars, polyols, not_metabolised, fibre, protein, alcohol, salt, sodium; did you mean "carbohydrate"?`},
		{"{jurisdiction: eu, carbohydrate: 1 g, ingredients: {a: b}}", `label.yaml:1: ingredients: found a mapping, expected a list; write for example [first, second]`},
	} {
		_, err := Parse("label.yaml", []byte(c.text))
		var list problem.List
		if !errors.As(err, &list) {
			t.Errorf("%s: %v, want a problem.List", c.text, err)
			continue
		}
		if got := list.Error(); got != c.want {
			t.Errorf("%s\n got %s\nwant %s", c.text, got, c.want)
		}
	}
}

// All mistakes of a file come together.
func TestProblemsComeTogether(t *testing.T) {
	_, err := Parse("label.yaml", []byte("jurisdiction: eu\nfat: x\ncarbohydrate: y\nportion: z\nallergens: ['\u200b']\n"))
	for _, want := range []string{":2: fat:", ":3: carbohydrate:", ":4: portion:", ":5: allergens[1]:"} {
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("no %s in %v", want, err)
		}
	}
}
