package protocol

import (
	"fmt"
	"math"
	"slices"
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

// note takes over the outcomes of a log entry. An addition may not change a value
// that is there, a correction may.
func (t *Test) note(n yamldoc.Node, s *Study, adding bool) {
	if !n.Present() {
		return
	}
	if !n.IsMap() {
		n.Reject(n.Found(), "outcomes with their values", "write for example outcomes: {stiffness: 3, buy_again: yes}")
		return
	}
	noted := map[string]Noted{}
	for id, x := range t.Outcomes {
		noted[id] = x
	}
	for _, pair := range n.Pairs() {
		o := s.Outcome(pair.Key)
		if o == nil {
			mend := yamldoc.DidYouMean(pair.Key, s.outcomeIDs())
			if len(s.Outcomes) == 0 {
				mend = "declare it in " + StudyFile + " under outcomes:, before the first test"
			}
			pair.Value.Reject(fmt.Sprintf("the outcome %q", pair.Key), "an outcome that "+StudyFile+" declares"+listed(s.outcomeIDs()), mend)
			continue
		}
		if pair.Value.Null() {
			if !adding {
				delete(noted, o.ID)
			}
			continue
		}
		x, ok := o.readValue(pair.Value)
		if !ok {
			continue
		}
		if earlier, is := noted[o.ID]; is && adding {
			pair.Value.Reject(fmt.Sprintf("a second value of %s for the test on %s (%s stands on line %d)", o.ID, t.Key(), o.Text(earlier.Value), earlier.Line), "one value a test", "if it corrects the first, add corrects: yes")
			continue
		}
		noted[o.ID] = Noted{x, pair.Line}
	}
	t.Outcomes = noted
}

func listed(items []string) string {
	if len(items) == 0 {
		return ""
	}
	return ": " + strings.Join(items, ", ")
}

// addition tells whether an entry adds to a test instead of being one: it has
// outcomes, says what happened or that something was looked at, and names no food.
func addition(m map[string]yamldoc.Node) bool {
	return !m["food"].Present() && !m["corrects"].Present() && (m["outcomes"].Present() || m["looked_at"].Present() || m["happened"].Present())
}

// testFields are what an addition cannot say.
var testFields = []string{"block", "ate", "value", "deviation", "exclude", "masked"}

// add attaches a late entry to the test that it belongs to. With date: it is the
// test of that date; with measured: alone it is that of the day before where the
// outcomes are of the next morning, else that of the same day.
func (log *Log) add(root yamldoc.Node, m map[string]yamldoc.Node, s *Study) {
	for _, key := range testFields {
		if m[key].Present() {
			m[key].Reject(m[key].Found()+" in an entry that adds to a test", "date:, time:, measured:, outcomes:, looked_at:, happened: and note:", "for a new test add food:, to mend an earlier one add corrects: yes")
			return
		}
	}
	measured, noted := readDate(m["measured"])
	on, given := readDate(m["date"])
	switch {
	case m["measured"].Present() && !noted, m["date"].Present() && !given:
		return
	case !given && !noted:
		root.Reject("an entry without a date", "date: of the test, or measured: when the outcomes were noted", "write for example measured: 2027-01-12")
		return
	case given && noted && measured < on:
		m["measured"].Reject("outcomes noted on "+measured.String()+", before the test on "+on.String(), "a day on or after it", "")
		return
	case !given && !m["outcomes"].Present():
		root.Reject("an entry without date:", "the date of the test that it belongs to", "write for example date: 2027-01-11")
		return
	case !given:
		days, ok := daysOf(m["outcomes"], s)
		if !ok {
			root.Reject("outcomes of different times noted on "+measured.String(), "outcomes that belong to one test", "enter those of the next morning by themselves, or name the test with date:")
			return
		}
		on = measured - days
	}
	i, ok := log.testOn(root, m, on)
	if !ok {
		return
	}
	t := &log.Tests[i]
	t.Added = append(t.Added, root.Line())
	t.note(m["outcomes"], s, true)
	t.readLookedAt(m["looked_at"])
	t.readHappened(m["happened"], true)
	if text := m["note"].Text(); text != "" {
		t.Note = strings.TrimSpace(t.Note + " " + text)
	}
}

// daysOf returns how many days before the entry the test of its outcomes was; not
// ok where they belong to different days.
func daysOf(n yamldoc.Node, s *Study) (days Date, ok bool) {
	var all []Date
	for _, pair := range n.Pairs() {
		if o := s.Outcome(pair.Key); o != nil && !slices.Contains(all, o.When.days()) {
			all = append(all, o.When.days())
		}
	}
	if len(all) == 0 {
		return 0, true // named as unknown when it is read
	}
	return all[0], len(all) == 1
}

// testOn finds the one test of a date, and of a time where that is given.
func (log *Log) testOn(root yamldoc.Node, m map[string]yamldoc.Node, on Date) (index int, ok bool) {
	c, timed := readClock(m["time"])
	var found []int
	nearest := -1
	for i, t := range log.Tests {
		if t.Date == on && (!timed || !t.HasTime || t.Time == c) {
			found = append(found, i)
		}
		if nearest < 0 || abs(t.Date-on) < abs(log.Tests[nearest].Date-on) {
			nearest = i
		}
	}
	if len(found) == 1 {
		return found[0], true
	}
	expected, mend := "the date of one test that stands before it in the log", "enter the test first"
	switch {
	case len(found) > 1:
		expected, mend = "one test", "add time: of its first bite"
	case nearest >= 0:
		mend = fmt.Sprintf("the nearest test before this line is that of %s on %s: write date: %s if it belongs there, or enter the test first", log.Tests[nearest].Food, log.Tests[nearest].Date, log.Tests[nearest].Date)
	}
	root.Reject(fmt.Sprintf("an entry that belongs to %s on %s", map[bool]string{true: "one of several tests", false: "a test"}[len(found) > 1], on), expected, mend)
	return 0, false
}

func abs(d Date) Date { return max(d, -d) }

// readLookedAt takes over that somebody looked at what the safety lines named.
func (t *Test) readLookedAt(n yamldoc.Node) {
	if n.Null() {
		t.LookedAt = ""
	}
	if !n.Present() {
		return
	}
	switch text := n.Text(); strings.ToLower(text) {
	case "", "yes", "no", "true", "false":
		n.Reject(n.Found(), "in words what was done about it", "write for example looked_at: \"talked to my doctor on 12 January\"")
	default:
		t.LookedAt = text
	}
}
