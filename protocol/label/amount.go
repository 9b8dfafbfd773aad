package label

import (
	"math"
	"regexp"
	"strconv"
	"strings"

	"mealtrial/protocol/yamldoc"
)

// An Amount is how much of a food is meant. As a serving it may have both pieces
// and a weight or volume; as a portion it has one of the three. Zero: not given.
type Amount struct {
	Servings float64
	Pieces   float64
	Size     float64 // in SizeUnit
	SizeUnit string  // g or ml
	Text     string

	decimals int // of Size as it is printed
}

var (
	amountForm = regexp.MustCompile(`^([0-9]+(?:[.,][0-9]+)?|[0-9]+/[0-9]+) ?(g|ml|grams?|pieces?|servings?)$`)
	amountCuts = regexp.MustCompile(`[,;] |[()]`)
)

// largestAmount bounds a serving or portion: grams, millilitres or pieces.
const largestAmount = 5000

// readAmount reads "55 g", "240 ml", "2 pieces", "1.5 servings", "2/3 serving"
// or, for a serving, "2 pieces (55 g)". ok is false where it is absent or, with
// a problem recorded, wrong.
func readAmount(n yamldoc.Node, serving bool) (a Amount, ok bool) {
	expected := `a portion in servings, pieces, grams or millilitres, such as "1.5 servings", "3 pieces" or "80 g"`
	if serving {
		expected = `the serving of the label, such as "55 g", "240 ml", "2 pieces" or "2 pieces (55 g)"`
	}
	if !n.Present() {
		return a, false
	}
	text := n.Text()
	if text == "" {
		return a, false // complained about
	}
	a.Text = text
	for _, part := range amountCuts.Split(strings.ToLower(text), -1) {
		if part = strings.TrimSpace(part); part != "" && !a.add(part) {
			n.Reject(n.Found(), expected, "give a number and its unit")
			return Amount{}, false
		}
	}
	given := 0
	for _, x := range []float64{a.Servings, a.Pieces, a.Size} {
		if x > 0 {
			given++
		}
	}
	if serving && a.Servings > 0 || !serving && given != 1 {
		n.Reject(n.Found(), expected, "give one amount, with its unit")
		return Amount{}, false
	}
	return a, true
}

// add takes in one amount with its unit, which must not have been given before.
func (a *Amount) add(text string) bool {
	m := amountForm.FindStringSubmatch(text)
	if m == nil {
		return false
	}
	x, decimals, ok := amountNumber(m[1])
	if !ok {
		return false
	}
	var at *float64
	switch m[2][0] {
	case 's':
		at = &a.Servings
	case 'p':
		at = &a.Pieces
	default:
		at, a.SizeUnit, a.decimals = &a.Size, "g", decimals
		if m[2] == "ml" {
			a.SizeUnit = "ml"
		}
	}
	free := *at == 0
	*at = x
	return free
}

func amountNumber(text string) (x float64, decimals int, ok bool) {
	if above, below, yes := strings.Cut(text, "/"); yes {
		a, errA := strconv.ParseFloat(above, 64)
		b, errB := strconv.ParseFloat(below, 64)
		x, ok = a/b, errA == nil && errB == nil && b > 0
	} else {
		text = strings.Replace(text, ",", ".", 1)
		_, fraction, _ := strings.Cut(text, ".")
		var err error
		x, err = strconv.ParseFloat(text, 64)
		decimals, ok = len(fraction), err == nil && len(fraction) < 3 // "1,000 g" could be a thousand
	}
	return x, decimals, ok && x >= 0.01 && x <= largestAmount
}

// weight is the interval of the serving's size. In the United States it is
// printed to 1 g or ml, to 0.5 between 2 and 5 and to 0.1 below 2 (Guide to
// Nutrition Labeling and Education Act Requirements, attachment 6); elsewhere to
// the decimals that it has.
func (l *Label) weight() Interval {
	size := l.Serving.Size
	half := math.Pow10(-l.Serving.decimals) / 2
	if l.Jurisdiction == US {
		switch {
		case size < 2:
			half = 0.05
		case size < 5:
			half = 0.25
		default:
			half = 0.5
		}
	}
	return Interval{Low: max(tidy(size-half), size/2), High: tidy(size + half), HighOpen: l.Jurisdiction == US}
}

// readAmounts reads what the values are for, the serving and the portion, and
// makes sure that one can be turned into the other.
func (l *Label) readAmounts(m map[string]yamldoc.Node) {
	serving, portion := m["serving"], m["portion"]
	l.Serving, _ = readAmount(serving, true)
	choices := []string{string(PerServing), string(Per100g), string(Per100ml)}
	l.Per = Per(choices[0])
	switch {
	case m["per"].Present():
		if l.Per = Per(m["per"].OneOf(choices...)); string(l.Per) != m["per"].Text() {
			return // complained about
		}
	case l.Jurisdiction == EU && l.Serving.SizeUnit == "ml":
		l.Per = Per100ml
	case l.Jurisdiction == EU:
		l.Per = Per100g
	}
	if l.Jurisdiction == EU && l.Per == PerServing && l.Serving.Size == 0 && !bad(serving, l.Serving) {
		m["per"].Reject("values per serving without its weight", "serving: with grams or millilitres as well",
			"write for example serving: 30 g: the tolerances are for 100 g")
	}
	var ok bool
	if l.Portion, ok = readAmount(portion, false); ok {
		l.PortionGiven = true
		l.checkPortion(portion, serving)
		return
	}
	l.Portion = Amount{Servings: 1, Text: "1 serving"}
	if l.Per != PerServing && l.Serving.Size == 0 {
		l.Portion = Amount{Size: 100, SizeUnit: strings.TrimPrefix(string(l.Per), "100 "), Text: string(l.Per)}
	}
	if l.Per != PerServing && l.Serving.Size > 0 && !bad(portion, l.Portion) {
		l.checkPortion(serving, serving)
	}
}

// bad tells that something was given and could not be read.
func bad(n yamldoc.Node, a Amount) bool { return n.Present() && a.Text == "" }

// checkPortion records what is missing to turn the portion into what the values
// are for.
func (l *Label) checkPortion(at, serving yamldoc.Node) {
	if bad(serving, l.Serving) {
		return
	}
	p, s := l.Portion, l.Serving
	basis := strings.TrimPrefix(string(l.Per), "100 ") // g, ml or serving
	have := func(unit string) bool { return s.Size > 0 && s.SizeUnit == unit }
	missing := ""
	switch {
	case p.Pieces > 0 && s.Pieces == 0:
		missing = "serving: with the number of pieces"
	case l.Per == PerServing && p.Size > 0 && !have(p.SizeUnit):
		missing = "serving: with its size in " + p.SizeUnit
	case l.Per != PerServing && p.Size > 0 && p.SizeUnit != basis:
		missing = "a portion in " + basis
	case l.Per != PerServing && p.Size == 0 && !have(basis):
		missing = "serving: with its size in " + basis
	default:
		return
	}
	at.Reject(`the portion "`+p.Text+`" of a label with values per `+string(l.Per), missing,
		"copy it from the label, or weigh the portion and give it as the values are given")
}

// factor is by how much the printed values are multiplied for one portion: an
// interval where the serving's rounded size comes in.
func (l *Label) factor() Interval {
	p, s := l.Portion, l.Serving
	servings := p.Servings
	if p.Pieces > 0 {
		servings = p.Pieces / s.Pieces
	}
	switch {
	case l.Per != PerServing && p.Size > 0:
		return exactly(p.Size / 100)
	case l.Per != PerServing:
		return l.weight().times(exactly(servings / 100))
	case p.Size > 0:
		return exactly(p.Size).over(l.weight())
	}
	return exactly(servings)
}

// asPrintedFactor is factor with the serving's size as it is printed.
func (l *Label) asPrintedFactor() float64 {
	p, s := l.Portion, l.Serving
	servings := p.Servings
	if p.Pieces > 0 {
		servings = p.Pieces / s.Pieces
	}
	switch {
	case l.Per != PerServing && p.Size > 0:
		return p.Size / 100
	case l.Per != PerServing:
		return s.Size * servings / 100
	case p.Size > 0:
		return p.Size / s.Size
	}
	return servings
}
