package protocol

import (
	"fmt"
	"slices"
	"strings"

	"mealtrial/protocol/yamldoc"
)

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
