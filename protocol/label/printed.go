package label

import (
	"regexp"
	"slices"
	"strconv"
	"strings"

	"mealtrial/protocol/yamldoc"
)

// A Printed is a value as it is printed on a label.
type Printed struct {
	Text     string  // as it stands in the file
	Value    float64 // the number, in Unit
	Below    bool    // "<1 g": the amount is below Value
	Decimals int     // printed behind the point or comma
	Unit     Unit
}

// A Unit of a printed value.
type Unit string

// The units.
const (
	Gram      Unit = "g"
	Milligram Unit = "mg"
	Kcal      Unit = "kcal"
	KJ        Unit = "kJ"
)

// largestPrinted bounds a printed number; more is a slip of the finger.
const largestPrinted = 100000

var printedForm = regexp.MustCompile(`^(<|(?:contains )?less than)? ?((?:0|[1-9][0-9]{0,5})(?:[.,][0-9]{1,4})?) ?([a-z]*)$`)

// unitWords are the ways to print a unit, in lower case. "Calories" on a label
// are kilocalories.
var unitWords = map[string]Unit{"g": Gram, "gram": Gram, "grams": Gram, "mg": Milligram,
	"kcal": Kcal, "cal": Kcal, "calories": Kcal, "kj": KJ}

// ParsePrinted reads a value such as "11g", "0 g", "<1 g", "less than 1 g",
// "< 0,5 g" or "190 kcal". unit is taken where none is printed; ok is false
// for anything else, for another unit than the ones allowed, and for a number
// above 100 000.
func ParsePrinted(text string, unit Unit, others ...Unit) (p Printed, ok bool) {
	text = strings.Join(strings.Fields(text), " ")
	m := printedForm.FindStringSubmatch(strings.ToLower(text))
	if m == nil {
		return Printed{}, false
	}
	p = Printed{Text: text, Below: m[1] != "", Unit: unit}
	if m[3] != "" {
		p.Unit = unitWords[m[3]]
	}
	if p.Unit != unit && !slices.Contains(others, p.Unit) {
		return Printed{}, false
	}
	return p.number(m[2])
}

// number fills in the number. Where digits in threes could be thousands as well
// as decimals it is refused: "1,234 kJ".
func (p Printed) number(text string) (Printed, bool) {
	text = strings.Replace(text, ",", ".", 1)
	whole, fraction, _ := strings.Cut(text, ".")
	if len(fraction) == 3 && whole != "0" {
		return Printed{}, false
	}
	x, err := strconv.ParseFloat(text, 64)
	if err != nil || x > largestPrinted || p.Below && x == 0 {
		return Printed{}, false
	}
	p.Value, p.Decimals = x, len(fraction)
	return p, true
}

// readPrinted reads the value of a label at a node; nil where it is absent or,
// with a problem recorded, wrong.
func readPrinted(n yamldoc.Node, unit Unit, others ...Unit) *Printed {
	if !n.Present() {
		return nil
	}
	text := n.Text()
	p, ok := ParsePrinted(text, unit, others...)
	if ok {
		return &p
	}
	if text != "" { // else a mapping, a list or hidden characters were complained about
		n.Reject(n.Found(), expectedPrinted(unit), mendPrinted(text))
	}
	return nil
}

func expectedPrinted(unit Unit) string {
	switch unit {
	case Kcal:
		return "an energy as it is printed, such as 190 kcal, 800 kJ or 800 kJ / 190 kcal"
	case Milligram:
		return "a value as it is printed, such as 160 mg"
	}
	return "a value as it is printed, such as 11 g, 0.5 g, 0 g or <1 g"
}

var thousands = regexp.MustCompile(`[1-9][0-9]*[.,][0-9]{3}\b`)

func mendPrinted(text string) string {
	if thousands.MatchString(text) {
		return "write thousands without a separator, and decimals with up to two digits"
	}
	return "copy the number and its unit from the label"
}
