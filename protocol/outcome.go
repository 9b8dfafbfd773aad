package protocol

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"mealtrial/protocol/yamldoc"
)

// An Outcome is something besides glucose that is noted of each test. It is
// secondary: no question about it is in the family whose promise is kept.
type Outcome struct {
	ID        string
	Name      string // for people; the ID where none is given
	Kind      OutcomeKind
	Unit      string // of numbers; "" for ratings and events
	Low, High float64
	When      When
	Matters   float64 // smallest difference that matters; 0: none declared
}

// An OutcomeKind says how an outcome is analysed. The texts are those of the
// study file and part of the JSON contract.
type OutcomeKind string

// The kinds.
const (
	NumberOutcome OutcomeKind = "number"
	Ketones       OutcomeKind = "ketones" // blood ketones, mmol/L: a number with a safety limit
	Weight        OutcomeKind = "weight"  // a number in kg or lb
	Rating        OutcomeKind = "rating"  // whole points, usually 0 to 10
	Event         OutcomeKind = "event"   // yes or no
	// SecondaryEndpoint is not declared as an outcome: it is taken from the curve.
	SecondaryEndpoint OutcomeKind = "endpoint"
)

// numeric tells whether an outcome is analysed as a number.
func (k OutcomeKind) numeric() bool { return k == NumberOutcome || k == Ketones || k == Weight }

// When an outcome is noted.
type When string

// The times. NextMorning belongs to the test of the day before.
const (
	AtTest      When = "at the test"
	SameEvening When = "same evening"
	NextMorning When = "next morning"
)

// days is how many days after the test an outcome is noted.
func (w When) days() Date {
	if w == NextMorning {
		return 1
	}
	return 0
}

// Usual ranges. An 11-point rating runs from 0, none, to 10, the worst or the most
// (Farrar et al. 2001, Pain 94:149). The range of ketones is that of blood meters
// (common practice, no source); those of weight are wide enough for any adult.
var usualRange = map[OutcomeKind][2]float64{
	Rating: {0, 10}, Ketones: {0, 15}, Event: {0, 1},
}

var usualWeight = map[string][2]float64{"kg": {20, 400}, "lb": {44, 880}}

// Outcome returns the outcome of an id, or nil.
func (s *Study) Outcome(id string) *Outcome {
	for i := range s.Outcomes {
		if s.Outcomes[i].ID == id {
			return &s.Outcomes[i]
		}
	}
	return nil
}

func (s *Study) outcomeIDs() []string {
	ids := make([]string, len(s.Outcomes))
	for i, o := range s.Outcomes {
		ids[i] = o.ID
	}
	return ids
}

func (s *Study) readOutcomes(n yamldoc.Node) {
	if n.Present() && !n.IsList() {
		n.Reject(n.Found(), "a list of outcomes", "write for example outcomes: [{id: stiffness, kind: rating, time: next morning}]")
		return
	}
	for _, item := range n.List() {
		o, ok := readOutcome(item)
		if !ok {
			continue
		}
		if s.Outcome(o.ID) != nil {
			item.Reject(fmt.Sprintf("the id %q a second time", o.ID), "each outcome once", "give one of the two another id")
			continue
		}
		s.Outcomes = append(s.Outcomes, o)
	}
}

func readOutcome(item yamldoc.Node) (o Outcome, ok bool) {
	m := item.Map("id", "name", "kind", "unit", "range", "time", "matters")
	o = Outcome{ID: m["id"].Text(), Name: m["name"].Text(), Unit: m["unit"].Text()}
	if !validID.MatchString(o.ID) {
		item.Reject(fmt.Sprintf("the id %q", o.ID), "an id of letters, digits and - _ . +, without spaces", "write for example {id: stiffness, kind: rating, time: next morning}")
		return o, false
	}
	if !m["kind"].Present() {
		item.Reject("an outcome without a kind", "one of number, ketones, weight, rating, event", "write for example kind: rating")
		return o, false
	}
	o.Kind = OutcomeKind(m["kind"].OneOf(string(NumberOutcome), string(Ketones), string(Weight), string(Rating), string(Event)))
	o.When = When(m["time"].OneOf(string(AtTest), string(SameEvening), string(NextMorning)))
	if o.Name == "" {
		o.Name = o.ID
	}
	o.readUnit(m["unit"])
	o.readRange(m["range"])
	o.readMatters(m["matters"])
	return o, true
}

func (o *Outcome) readUnit(n yamldoc.Node) {
	switch {
	case o.Kind == Ketones:
		if o.Unit != "" && !strings.EqualFold(o.Unit, "mmol/L") {
			n.Reject(n.Found(), "mmol/L, the unit of blood ketones", "convert the values, or leave unit: out")
		}
		o.Unit = "mmol/L"
	case o.Kind == Weight && o.Unit == "":
		o.Unit = "kg"
	case o.Kind == Weight && usualWeight[o.Unit] == [2]float64{}:
		n.Reject(n.Found(), "kg or lb", "")
	case !o.Kind.numeric() && o.Unit != "":
		n.Reject(n.Found(), fmt.Sprintf("no unit, as the outcome is of the kind %s", o.Kind), "take unit: out")
	}
}

func (o *Outcome) readRange(n yamldoc.Node) {
	usual, known := usualRange[o.Kind]
	if o.Kind == Weight {
		usual, known = usualWeight[o.Unit], true
	}
	if !known {
		usual = [2]float64{-1e9, 1e9}
	}
	o.Low, o.High = usual[0], usual[1]
	if !n.Present() {
		return
	}
	const expected = "the lowest and the highest value that can be, such as [0, 10]"
	if !n.IsList() || len(n.List()) != 2 || o.Kind == Event {
		n.Reject(n.Found(), map[bool]string{true: "no range, as an event is yes or no", false: expected}[o.Kind == Event], "")
		return
	}
	items := n.List()
	low, okLow := items[0].Number(expected)
	high, okHigh := items[1].Number(expected)
	switch {
	case !okLow || !okHigh:
		return
	case low >= high:
		n.Reject(fmt.Sprintf("a range from %s to %s", plainDigits(low), plainDigits(high)), expected, "")
	case o.Kind == Rating && (low != math.Trunc(low) || high != math.Trunc(high) || high-low > 100):
		n.Reject(fmt.Sprintf("a scale from %s to %s", plainDigits(low), plainDigits(high)), "whole points, at most a hundred of them, such as [0, 10]", "")
	default:
		o.Low, o.High = low, high
	}
}

func (o *Outcome) readMatters(n yamldoc.Node) {
	const expected = "the smallest difference that matters, a number above zero"
	x, ok := n.Number(expected)
	switch {
	case !ok:
	case o.Kind == Event:
		n.Reject(n.Found(), "no size, as an event is yes or no", "take matters: out")
	case x <= 0 || x > o.High-o.Low:
		n.Reject(n.Found(), expected+" and within the range", "")
	default:
		o.Matters = x
	}
}

// A Noted is a value of an outcome in the log.
type Noted struct {
	Value float64 // 1 and 0 for yes and no
	Line  int
}

// readOutcomeValue reads one value. ok is false for a missing one, which is not
// zero, and, with a problem recorded, for a wrong one.
func (o Outcome) readValue(n yamldoc.Node) (x float64, ok bool) {
	if o.Kind == Event {
		switch text := strings.ToLower(n.Text()); text {
		case "yes", "true", "1":
			return 1, true
		case "no", "false", "0":
			return 0, true
		case "":
		default:
			n.Reject(n.Found(), "yes or no", "leave it out where it is not known")
		}
		return 0, false
	}
	x, ok = n.Number(o.expected())
	switch {
	case !ok:
		return 0, false
	case x < o.Low || x > o.High || o.Kind == Rating && x != math.Trunc(x):
		n.Reject(n.Found(), o.expected(), "leave it out where it is not known; to allow other values change range: of the outcome in "+StudyFile)
		return 0, false
	}
	return x, true
}

func (o Outcome) expected() string {
	switch {
	case o.Kind == Event:
		return "yes or no"
	case o.Kind == Rating:
		return fmt.Sprintf("whole points from %s to %s", plainDigits(o.Low), plainDigits(o.High))
	case o.High >= 1e9:
		return strings.TrimSpace("a number " + o.in())
	}
	return strings.TrimSpace(fmt.Sprintf("a number from %s to %s %s", plainDigits(o.Low), plainDigits(o.High), o.in()))
}

func (o Outcome) in() string {
	if o.Unit == "" {
		return ""
	}
	return "in " + o.Unit
}

// Text writes a value as a person notes it.
func (o Outcome) Text(x float64) string {
	if o.Kind == Event {
		return yesNo(x != 0)
	}
	return strconv.FormatFloat(x, 'f', -1, 64)
}

// Scale words an outcome for a heading.
func (o Outcome) Scale() string {
	switch {
	case o.Kind == Event:
		return "yes or no"
	case o.Kind == Rating:
		return fmt.Sprintf("%s to %s points", plainDigits(o.Low), plainDigits(o.High))
	case o.Unit == "":
		return "a number"
	}
	return o.Unit
}
