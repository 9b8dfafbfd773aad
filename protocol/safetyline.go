package protocol

import (
	"fmt"
	"slices"
	"strings"

	"mealtrial/protocol/problem"
	"mealtrial/protocol/readings"
)

// A SafetyLine is something in a test that is a reason to stop and seek advice. It
// is no diagnosis.
type SafetyLine struct {
	Date     Date   `json:"date"`
	Food     string `json:"food"`
	Found    string `json:"found"`     // such as "glucose below 70 mg/dL"
	Advice   string `json:"advice"`    // what to do now
	LookedAt string `json:"looked_at"` // what was done about it; "": nothing yet, and the food is held back
	Text     string `json:"text"`      // all of it in words
	key      string // of the test
	line     int    // of the test in the log
}

// ketoneLimit is the concentration of blood ketones, in mmol/L, from which on help is
// to be sought at once: "> 3.0 probable ketoacidosis" in the table of remedial
// actions of Diabetes Care; the value itself is taken in.
const ketoneLimit = 3.0

// What to do; the wording follows Cautions.
const (
	lowAdvice = "stop testing, treat a low reading first with fast sugar as you were taught, check it with a blood meter, and ask a licensed clinician before the next test; below 54 mg/dL (3.0 mmol/L), or if you feel faint, confused or shaky, call for help"
	topAdvice = "stop testing, check it with a blood meter and blood ketones, and ask a licensed clinician before the next test; seek help now if it stays there, or with vomiting, belly pain, deep fast breathing or drowsiness"
	ketAdvice = "stop: this may be ketoacidosis, also with normal glucose; seek emergency care at once"
)

// watched is how many minutes after the first bite glucose is looked at for low and
// high readings, as low glucose after a meal comes within about four hours (common
// clinical use; from memory).
const watched = 4 * 60

// A crossing is a limit of glucose that readings cross, and the reading furthest
// beyond it.
type crossing struct {
	text, advice string
	crossed      bool
	worst        readings.Reading
	beyond       float64 // how far worst is beyond the limit
}

// crossed returns which glucose limits readings cross.
func crossed(near []readings.Reading, unit readings.Unit) (out []crossing) {
	low := crossing{text: fmt.Sprintf("glucose below %g", lowGlucose[unit]), advice: lowAdvice}
	high := crossing{text: fmt.Sprintf("glucose above %g", highGlucose[unit]), advice: topAdvice}
	for _, x := range near {
		low.see(x, readings.BelowRange, lowGlucose[unit]-x.Glucose)
		high.see(x, readings.AboveRange, x.Glucose-highGlucose[unit])
	}
	for _, c := range []crossing{low, high} {
		if c.crossed {
			out = append(out, c)
		}
	}
	return out
}

// see takes over a reading that lies beyond the limit: by some amount, or at the end
// of the sensor's range on that side. What LOW and HIGH stand for in the curve is only
// a bound, such as the lowest number that was reported, so its size says nothing here.
func (c *crossing) see(x readings.Reading, end readings.Limit, beyond float64) {
	ended := x.Limit == end
	if !ended && (x.Limit != readings.NotLimited || beyond <= 0) {
		return
	}
	further := beyond > c.beyond && c.worst.Limit == readings.NotLimited
	if ended {
		further = c.worst.Limit != end
	}
	if !c.crossed || further {
		c.crossed, c.worst, c.beyond = true, x, beyond
	}
}

// words name the limit, the reading and when it was.
func (c crossing) words(s *Study) string {
	at := c.worst.Time.In(s.Zone).Format("15:04")
	if c.worst.Limit != readings.NotLimited {
		return fmt.Sprintf("%s %s (at the sensor's limit at %s)", c.text, s.Endpoint.GlucoseUnit, at)
	}
	return fmt.Sprintf("%s %s (%s at %s)", c.text, s.Endpoint.GlucoseUnit, plain(c.worst.Glucose), at)
}

// watchedAround is the time in which the glucose of a test is looked at.
func (s *Study) watchedAround(t Test) readings.Span {
	span := s.around(t)
	bite, _ := t.Date.At(t.Time, s.Zone)
	if later := bite.Add(minutes(watched)); later.After(span.To) {
		span.To = later
	}
	return span
}

// SafetyOf returns the safety lines of one test: of the readings from its baseline
// to four hours after the first bite, whether it counts or not, and of ketones in the log.
func (f *Folder) SafetyOf(t Test) []SafetyLine {
	var out []SafetyLine
	if t.HasTime && !f.Recording.Empty() {
		around := f.Study.watchedAround(t)
		for _, c := range crossed(f.Recording.Between(around.From, around.To), f.Study.Endpoint.GlucoseUnit) {
			out = append(out, SafetyLine{Found: c.words(f.Study), Advice: c.advice})
		}
	}
	for _, o := range f.Study.Outcomes {
		if x, ok := t.Outcomes[o.ID]; ok && o.Kind == Ketones && x.Value >= ketoneLimit {
			out = append(out, SafetyLine{Found: fmt.Sprintf("%s %s mmol/L, %s or more", o.Name, plainDigits(x.Value), "3.0"), Advice: ketAdvice})
		}
	}
	for i := range out {
		l := &out[i]
		l.Date, l.Food, l.LookedAt, l.key, l.line = t.Date, t.Food, t.LookedAt, t.Key(), t.Line
		l.Text = fmt.Sprintf("%s, %s: %s: %s.", l.key, l.Food, l.Found, l.Advice)
		if l.LookedAt != "" {
			l.Text = fmt.Sprintf("%s, %s: %s. Looked at: %s.", l.key, l.Food, l.Found, strings.TrimSuffix(l.LookedAt, "."))
		}
	}
	return out
}

// Safety returns the safety lines of all tests, those that nobody looked at first.
func (f *Folder) Safety() []SafetyLine {
	out := []SafetyLine{}
	for _, t := range f.Log.Tests {
		out = append(out, f.SafetyOf(t)...)
	}
	slices.SortStableFunc(out, func(a, b SafetyLine) int {
		switch {
		case a.LookedAt == "" && b.LookedAt != "":
			return -1
		case a.LookedAt != "" && b.LookedAt == "":
			return 1
		}
		return 0
	})
	return out
}

// Held are the foods whose further tests are held back, because a safety line of
// theirs was not looked at.
func (f *Folder) Held() (foods []string) {
	for _, l := range f.Safety() {
		if l.LookedAt == "" && !slices.Contains(foods, l.Food) {
			foods = append(foods, l.Food)
		}
	}
	return foods
}

// HeldBack refuses to lay out tests of foods that are held back. planned are the
// foods of the tests that would be laid out. The error is a problem.List.
func (f *Folder) HeldBack(planned []PlannedTest) error {
	var problems problem.List
	for _, l := range f.Safety() {
		if l.LookedAt != "" || !slices.ContainsFunc(planned, func(t PlannedTest) bool { return t.Food == l.Food }) {
			continue
		}
		problems = append(problems, problem.Problem{File: LogFile, Line: l.line, Field: fmt.Sprintf("test %s %s", l.key, l.Food),
			Found: fmt.Sprintf("%s, which nobody has looked at", l.Found), Expected: "that it was looked at before " + l.Food + " is tested again",
			Mend: l.Advice + fmt.Sprintf("; then say so: mealtrial record %s --looked-at \"what was done\"", f.Log.flags(l.Date, l.key))})
	}
	return problems.Err()
}

// holdBack tells of safety lines before the test that is next.
func (f *Folder) holdBack(n *Next) {
	n.Safety = f.Safety()
	if n.Test == nil {
		return
	}
	if n.HeldBack = slices.Contains(f.Held(), n.Test.Food); n.HeldBack {
		n.Warnings = append(n.Warnings, fmt.Sprintf("%s is held back: do not eat it as a test before what was measured was looked at; then say so with mealtrial record --looked-at.", n.Test.Food))
	}
}

// from returns the tests that are planned from a date on.
func (s *Schedule) from(date Date) (out []PlannedTest) {
	for _, t := range s.Tests {
		if t.Date >= date {
			out = append(out, t)
		}
	}
	return out
}
