// Package label reads the nutrition label of a food and says how much available
// carbohydrate one portion holds.
//
// A printed value is a rounded one: "0 g" may be 0.49 g. Each is turned into the
// interval of true amounts that its rounding rule prints in that way, and the
// intervals are carried through to the dose. What tolerances of compliance allow
// on top of rounding is a second, wider interval. A person's mistakes go to the
// Reader of the file; mistakes of the program panic with "label: …".
package label

import (
	"strings"

	"mealtrial/protocol/problem"
	"mealtrial/protocol/yamldoc"
)

// A Jurisdiction is the law that a label is printed under.
type Jurisdiction string

// The jurisdictions.
const (
	US Jurisdiction = "us" // 21 CFR 101.9
	EU Jurisdiction = "eu" // Regulation (EU) No 1169/2011, also as retained in the United Kingdom
)

// Words names the law.
func (j Jurisdiction) Words() string {
	if j == EU {
		return "European Union, Regulation (EU) No 1169/2011"
	}
	return "United States, 21 CFR 101.9"
}

// PolyolShare says how much of the polyols counts as available carbohydrate.
type PolyolShare string

// The shares. Unknown, the usual one, takes anything from none to all of them.
const (
	PolyolsUnknown PolyolShare = "unknown"
	PolyolsNone    PolyolShare = "none"
	PolyolsAll     PolyolShare = "all"
)

// Per is what the values of a label are printed for.
type Per string

// The bases.
const (
	PerServing Per = "serving"
	Per100g    Per = "100 g"
	Per100ml   Per = "100 ml"
)

// A Label is a nutrition label as it is printed, and the portion that is eaten.
type Label struct {
	Name         string
	Jurisdiction Jurisdiction
	Per          Per
	Serving      Amount // zero where the label gives none
	Portion      Amount
	PortionGiven bool // false: one serving, or 100 g, was taken
	Values       map[Nutrient]Printed
	KJ           *Printed // energy in kJ; that in kcal is Values[Energy]
	Polyols      PolyolShare
	Ingredients  []string
	Allergens    []string

	ingredients, allergens place
}

// A place is where a text stands in a file.
type place struct {
	line  int
	field string
}

// lines are the nutrients in the order of a label, with their usual units.
var lines = []struct {
	nutrient Nutrient
	unit     Unit
}{
	{Energy, Kcal}, {Fat, Gram}, {Saturates, Gram}, {Carbohydrate, Gram}, {Sugars, Gram}, {Polyols, Gram}, {NotMetabolised, Gram},
	{Fibre, Gram}, {Protein, Gram}, {Alcohol, Gram}, {Salt, Gram}, {Sodium, Milligram},
}

// Parse reads a label file. The error is a problem.List of all that is wrong.
func Parse(file string, data []byte) (*Label, error) {
	r := &yamldoc.Reader{File: file}
	text, ok := r.Clean(data)
	if !ok {
		return nil, mendEmpty(r.Err())
	}
	parts := yamldoc.Split(text)
	if len(parts) == 0 {
		return nil, mendEmpty(problem.List{{File: file, Found: "nothing but comments"}})
	}
	if len(parts) > 1 {
		return nil, problem.List{{File: file, Line: parts[1].Line, Found: "a second document",
			Expected: "one label a file", Mend: `take out the line "---" or what follows it`}}
	}
	root, ok := r.Parse(parts[0])
	if !ok {
		return nil, r.Err()
	}
	l := Read(root)
	if l == nil && r.Err() == nil {
		root.Reject(root.Found(), "a label", mendExample)
	}
	if err := r.Err(); err != nil {
		return nil, err
	}
	return l, nil
}

const mendExample = "write for example jurisdiction: eu, carbohydrate: 61 g, fibre: 9 g, one a line"

// mendEmpty says what belongs into a file where there is nothing to speak of.
func mendEmpty(err error) error {
	if list, ok := err.(problem.List); ok && len(list) == 1 && list[0].Mend == "" {
		list[0].Expected, list[0].Mend = "a label", mendExample
	}
	return err
}

// Read reads a label at a node of a file, or the label: entry of a food in a
// study file. It returns nil where the node is absent. Mistakes are recorded in
// the node's Reader; the Label is then of no use.
func Read(n yamldoc.Node) *Label {
	if !n.Present() {
		return nil
	}
	keys := []string{"name", "jurisdiction", "serving", "per", "portion", "count_polyols", "ingredients", "allergens"}
	for _, line := range lines {
		keys = append(keys, string(line.nutrient))
	}
	m := n.Map(keys...)
	if !n.IsMap() {
		return &Label{}
	}
	l := &Label{Name: m["name"].Text(), Values: map[Nutrient]Printed{}}
	if !l.readJurisdiction(n, m["jurisdiction"]) {
		return l
	}
	l.readAmounts(m)
	l.readValues(n, m)
	l.Polyols = PolyolShare(m["count_polyols"].OneOf(string(PolyolsUnknown), string(PolyolsNone), string(PolyolsAll)))
	l.Ingredients, l.ingredients = readWords(m["ingredients"])
	l.Allergens, l.allergens = readWords(m["allergens"])
	return l
}

func (l *Label) readJurisdiction(label, n yamldoc.Node) bool {
	const expected = "us or eu"
	const mend = "write us for a Nutrition Facts panel (21 CFR 101.9), eu for the European Union and the United Kingdom: carbohydrate means two different things there"
	text := strings.ToLower(n.Text())
	switch l.Jurisdiction = Jurisdiction(text); {
	case l.Jurisdiction == US || l.Jurisdiction == EU:
		return true
	case !n.Present():
		label.Reject("no jurisdiction", expected, mend)
	case text != "":
		n.Reject(n.Found(), expected, mend)
	}
	return false
}

func (l *Label) readValues(label yamldoc.Node, m map[string]yamldoc.Node) {
	for _, line := range lines {
		n := m[string(line.nutrient)]
		if !n.Present() {
			continue
		}
		if !l.Jurisdiction.Has(line.nutrient) {
			other := map[Nutrient]string{Salt: "sodium, as on a label of the United States", Sodium: "salt, as on a label of the European Union"}
			n.Reject("the line "+string(line.nutrient), other[line.nutrient], "copy that line of the label, or take this one out")
			continue
		}
		if line.nutrient == Energy {
			l.readEnergy(n)
			continue
		}
		if p := readPrinted(n, line.unit); p != nil {
			l.Values[line.nutrient] = *p
			if l.Per != PerServing && line.unit == Gram && p.Value > 100 {
				n.Reject(n.Found(), "at most 100 g in "+string(l.Per), "look at the label again, or write per: serving")
			}
		}
	}
	if !m[string(Carbohydrate)].Present() {
		label.Reject("no carbohydrate", "carbohydrate, as it is printed", "write for example carbohydrate: 46 g")
	}
	if l.Jurisdiction == US && !m[string(Fibre)].Present() {
		label.Reject("no fibre", "fibre, which a label of the United States counts in total carbohydrate",
			"copy it; where the label says that it is not a significant source of fibre write fibre: <1 g")
	}
}

// readEnergy reads "190 kcal", "800 kJ" or both with a slash between them.
func (l *Label) readEnergy(n yamldoc.Node) {
	text := n.Text()
	if text == "" {
		return // complained about
	}
	others := []Unit{KJ}
	if l.Jurisdiction == US {
		others = nil
	}
	for _, part := range strings.Split(text, "/") {
		p, ok := ParsePrinted(part, Kcal, others...)
		_, twice := l.Values[Energy]
		switch {
		case !ok && l.Jurisdiction == US:
			n.Reject(n.Found(), "calories as they are printed, such as 190 kcal", mendPrinted(text))
			return
		case !ok || p.Unit == Kcal && twice || p.Unit == KJ && l.KJ != nil:
			n.Reject(n.Found(), expectedPrinted(Kcal), mendPrinted(text))
			return
		case p.Unit == KJ:
			l.KJ = &p
		default:
			l.Values[Energy] = p
		}
	}
}

// readWords reads a list of texts, or one text with commas between them.
func readWords(n yamldoc.Node) (words []string, at place) {
	for _, item := range n.List() {
		if text := item.Text(); text != "" {
			words = append(words, text)
		}
	}
	return words, place{n.Line(), n.Field}
}
