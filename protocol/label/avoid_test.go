package label

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"mealtrial/protocol/yamldoc"
)

func with(ingredients ...string) *Label { return &Label{Ingredients: ingredients} }

// Each allergen of Regulation (EU) No 1169/2011, annex II, and of 21 U.S.C.
// 321(qq) finds the foods that the lists name under it, and what is made of them.
func TestAllergensFindTheirKinds(t *testing.T) {
	for avoid, all := range map[string][]string{
		"gluten": {"wheat flour", "spelt", "khorasan wheat", "rye", "barley malt extract", "oats", "cereals containing gluten", "durum semolina"},
		"wheat":  {"whole wheat", "spelt flour", "khorasan", "gluten", "triticale"}, "barley": {"malt extract", "pearl barley", "gluten"},
		"crustaceans": {"shrimps", "crab meat", "lobster", "shellfish"}, "shellfish": {"prawns", "mussels", "squid", "crustaceans", "molluscs"},
		"egg": {"eggs", "dried egg white", "albumen", "mayonnaise"}, "eggs": {"egg"},
		"fish": {"cod", "anchovies", "fish sauce", "bass", "flounder"}, "cod": {"fish", "cod liver oil"},
		"peanut": {"peanuts", "groundnut oil", "monkey nuts"}, "peanuts": {"peanut butter"},
		"soya": {"soybeans", "soy lecithin", "tofu", "Soja"}, "soy": {"soya flour", "tempeh"},
		"milk":      {"skimmed milk powder", "whey", "sodium caseinate", "lactose", "butter", "double cream", "cheddar cheese", "Crème fraîche", "YOGURT", "dairy"},
		"nuts":      {"almonds", "hazelnut paste", "walnuts", "cashews", "pecan nuts", "Brazil nuts", "pistachios", "macadamia nuts", "Queensland nuts", "may contain traces of nuts", "praline"},
		"tree nuts": {"almond", "nuts"}, "walnut": {"walnuts", "nuts", "tree nuts"},
		"celery": {"celeriac", "celery seed"}, "mustard": {"mustard flour"}, "sesame": {"tahini", "sesame seeds"},
		"sulphites": {"sulphur dioxide", "sodium metabisulphite", "sulfites", "E220", "E 224"}, "lupin": {"lupine flour", "lupins"}, "molluscs": {"oysters", "mussel", "snails"},
		"palm oil": {"palm oil", "vegetable fat (palm oil)", "sustainable palm oil"}, "coconut": {"coconut milk"},
		"jalapeno": {"Jalapeño"}, "Weissbrot": {"WEIẞBROT"}, "oeuf": {"œufs"}, "牛乳": {"全粉乳（牛乳を含む）"}, "cow's milk": {"cow’s milk", "whey"},
	} {
		for _, found := range all {
			c := with("water, " + found + ", salt").Avoids([]string{avoid})
			if len(c.Matches) == 0 || !strings.HasPrefix(c.Text, "Stop:") {
				t.Errorf("avoid %s: %q is not found", avoid, found)
			}
		}
	}
}

// Whole words only: parts of words are no match.
func TestAllergensLeaveOthersAlone(t *testing.T) {
	for avoid, all := range map[string][]string{
		"egg": {"eggplant", "veggie mix"}, "nuts": {"nutmeg", "coconut", "doughnut flavour", "peanuts"}, "wheat": {"buckwheat"}, "fish": {"shellfish-free"},
		"milk": {"milkweed", "coconut milk", "oat milk powder", "cocoa butter", "peanut butter", "coconut cream", "lactic acid"}, "peanut": {"nuts", "peas"},
		"rye": {"ryegrass"}, "oats": {"goats"}, "tree nuts": {"tree bark"}, "palm oil": {"palm, oil"}, "soya": {"sunflower lecithin"}, "barley": {"wheat"}, "butter": {"whey", "milk powder"}, "tofu": {"soya flour"},
	} {
		for _, other := range all {
			if c := with(other).Avoids([]string{avoid}); len(c.Matches) > 0 {
				t.Errorf("avoid %s: %q is taken for it: %+v", avoid, other, c.Matches)
			}
		}
	}
}

// Names from plants are passed over with a note, but only where the name ends.
func TestPlantNames(t *testing.T) {
	c := with("coconut milk (coconut extract, water)", "milk chocolate").Avoids([]string{"milk"})
	want := []Match{{Avoid: "milk", Found: "milk chocolate", Word: "milk", In: "ingredients"}}
	if diff := cmp.Diff(want, c.Matches); diff != "" {
		t.Error(diff)
	}
	if diff := cmp.Diff([]string{`"coconut milk" in the ingredients was passed over, as coconut milk is made of plants; "milk" is on the avoid list.`}, c.Notes); diff != "" {
		t.Error(diff)
	}
	for _, text := range []string{"almond milk chocolate", "soy milk with cream", "cocoa butter, butter", "rice milk fat", "oat milk powder chocolate"} {
		if c := with(text).Avoids([]string{"milk"}); len(c.Matches) == 0 {
			t.Errorf("%q is passed over", text)
		}
	}
}

// Compounds of other languages are noted, not matched.
func TestLookAlikes(t *testing.T) {
	c := with("Magermilchpulver", "Zucker").Avoids([]string{"Milch"})
	want := []string{`"Magermilchpulver" in the ingredients has "Milch" in it, which is on the avoid list: find out what it is before you eat it.`}
	if diff := cmp.Diff(want, c.Notes); diff != "" || len(c.Matches) > 0 {
		t.Error(diff, c.Matches)
	}
}

// No answer says that a food is safe.
func TestNoMatchIsNoPromise(t *testing.T) {
	for _, c := range []struct {
		l     *Label
		avoid []string
		want  string
	}{
		{with("rice"), []string{"milk"}, "No word of the avoid list was found in what was entered. That is no guarantee"},
		{with("rice"), nil, "No avoid list was given, so nothing was compared."},
		{with(), []string{"milk"}, "The label was entered without ingredients and allergens, so nothing could be compared. Read the package."},
		{with("milk"), []string{"milk"}, "Stop: the label names something on the avoid list. Do not test this food."},
	} {
		got := c.l.Avoids(c.avoid)
		if !strings.HasPrefix(got.Text, c.want) || strings.Contains(got.Text, "safe") {
			t.Errorf("%v: %s", c.avoid, got.Text)
		}
	}
}

func TestStopsNamePlaceAndWord(t *testing.T) {
	l := parse(t, "jurisdiction: eu\ncarbohydrate: 50 g\nallergens: [soya, milk]\ningredients: wheat flour, skimmed milk powder, whey\n")
	const mend = ", expected no food with what you avoid; take the food out of the study; whether it may be eaten is a question for a licensed clinician"
	want := `study.yaml:4: ingredients: found "skimmed milk powder" in the ingredients is on the avoid list (milk), in the food cake` + mend + "\n" +
		`study.yaml:4: ingredients: found "whey" in the ingredients may hold what is on the avoid list (milk, by the word "whey"), in the food cake` + mend + "\n" +
		`study.yaml:3: allergens: found "milk" in the allergens is on the avoid list (milk), in the food cake` + mend
	if got := l.Stops("study.yaml", "cake", []string{"milk"}); got.Error() != want {
		t.Errorf("got\n%s\nwant\n%s", got.Error(), want)
	}
	var none *Label
	if none.Stops("study.yaml", "water", []string{"milk"}) != nil || l.Stops("study.yaml", "cake", nil) != nil {
		t.Error("a stop without a label or without a list")
	}
}

func TestReadAvoid(t *testing.T) {
	r := &yamldoc.Reader{File: "study.yaml"}
	text, _ := r.Clean([]byte("avoid: [milk, \"tree nuts, sesame\", \"!!\"]\n"))
	root, _ := r.Parse(yamldoc.Split(text)[0])
	got := ReadAvoid(root.Map("avoid")["avoid"])
	if diff := cmp.Diff([]string{"milk", "tree nuts", "sesame"}, got); diff != "" {
		t.Error(diff)
	}
	const want = `study.yaml:1: avoid[3]: found "!!", expected foods, ingredients or allergens, such as milk or tree nuts; write each as it stands on labels`
	if err := r.Err(); err == nil || err.Error() != want {
		t.Errorf("%v", err)
	}
}

// Every word of the families is written as words() makes it, so that it can be found.
func TestFamiliesAreFindable(t *testing.T) {
	for _, f := range families {
		for _, p := range append(append([]string{}, f.names...), f.kinds...) {
			if got := strings.Join(words(p), " "); got != p {
				t.Errorf("%s: %q is looked for as %q", f.name, p, got)
			}
			if c := with("x, " + p + ", y").Avoids([]string{f.name}); len(c.Matches) == 0 {
				t.Errorf("%s does not find %q", f.name, p)
			}
		}
	}
}
