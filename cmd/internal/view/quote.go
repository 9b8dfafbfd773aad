package view

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"mealtrial/protocol"
	"mealtrial/stats"
)

// A Quote is what may be said about one question, with the numbers in it.
type Quote struct {
	Question string           `json:"question"`
	Verdict  stats.Verdict    `json:"verdict"`
	Short    string           `json:"short"`
	Long     string           `json:"long"`
	Screen   string           `json:"on_screen"`
	Unit     string           `json:"unit"`
	Estimate *protocol.Number `json:"estimate"`
	Low      *protocol.Number `json:"low"`
	High     *protocol.Number `json:"high"`
	Level    protocol.Number  `json:"level"`
	Method   string           `json:"method"`
	Tests    int              `json:"tests"`
	Warnings []string         `json:"warnings"`
	Caution  string           `json:"caution"`
	// Outcomes are sentences on secondary outcomes of the same two foods, Safety the
	// reasons to stop of the whole study.
	Outcomes []OutcomeQuote        `json:"outcomes,omitempty"`
	Safety   []protocol.SafetyLine `json:"safety,omitempty"`
}

// Quotes words the answer to each question, and never says more than was shown.
func Quotes(a *protocol.Analysis) []Quote {
	quotes := []Quote{}
	for _, q := range a.Questions {
		s := speaker{a, q}
		quotes = append(quotes, Quote{Outcomes: outcomesOf(a, q), Safety: a.Safety, Question: q.Question, Verdict: q.Verdict, Short: s.short(), Long: s.long(), Screen: s.screen(), Unit: a.Endpoint.Unit,
			Estimate: q.Estimate, Low: q.Low, High: q.High, Level: q.Level, Method: q.Method, Tests: q.Tests, Warnings: a.Warnings, Caution: a.Caution})
	}
	return quotes
}

// PrintQuotes shows the sentences, and below them what to keep in mind.
func PrintQuotes(w io.Writer, a *protocol.Analysis) error {
	p := &printer{w: w}
	p.safety(a.Safety)
	for _, q := range Quotes(a) {
		p.line("%s", q.Question)
		p.line("  Short: %s", q.Short)
		p.line("  Long:  %s", q.Long)
		p.line("  On screen: %s", q.Screen)
		p.line("")
	}
	p.outcomeQuotes(a)
	p.line("Method of the intervals: %s.", a.IntervalMethod())
	p.notes(a.Warnings)
	p.line("")
	p.line("%s", a.Caution)
	return p.err
}

const inMyBody = "In my body, under these conditions"

type speaker struct {
	a *protocol.Analysis
	q protocol.Answer
}

func (s speaker) name(id string) string {
	for _, f := range s.a.Foods {
		if f.Food == id {
			return f.Name
		}
	}
	return id
}

func (s speaker) names() (a, b string) { return s.name(s.q.A), s.name(s.q.B) }

// decimals start from one significant digit of the standard error and keep the
// rounded interval on its side of zero and of the margin.
func (s speaker) decimals() int {
	return guarded(decimalsFor(float64(*s.q.SE), 1), []float64{float64(*s.q.Low), float64(*s.q.High)}, marksOf(s.q.Margin))
}

// side words a difference of A minus B: "17 mg/dL lower".
func (s speaker) side(x float64, d int) string {
	way := "higher"
	if x < 0 {
		way = "lower"
	}
	return fmt.Sprintf("%s %s %s", fixed(math.Abs(x), d), s.a.Endpoint.Unit, way)
}

// limits words the interval of A minus B: "6 to 28 mg/dL lower".
func (s speaker) limits(d int) string {
	low, high, unit := float64(*s.q.Low), float64(*s.q.High), s.a.Endpoint.Unit
	switch {
	case low >= 0:
		return fmt.Sprintf("%s to %s %s higher", fixed(low, d), fixed(high, d), unit)
	case high <= 0:
		return fmt.Sprintf("%s to %s %s lower", fixed(-high, d), fixed(-low, d), unit)
	}
	return fmt.Sprintf("%s lower to %s higher", s.amount(-low, d), s.amount(high, d))
}

func (s speaker) amount(x float64, d int) string { return fixed(x, d) + " " + s.a.Endpoint.Unit }

func (s speaker) number() string {
	na, nb := s.q.TestsA, s.q.TestsB
	if na == nb {
		return tests(na) + " of each"
	}
	a, b := s.names()
	return fmt.Sprintf("%s of %s, %d of %s", tests(na), a, nb, b)
}

func (s speaker) interval(d int) string {
	return fmt.Sprintf("%s interval %s, %s", protocol.Percent(float64(s.q.Level)), s.limits(d), s.number())
}

func (s speaker) short() string {
	switch s.q.Kind {
	case protocol.Ratio:
		return s.ratioSentence()
	case protocol.Below, protocol.NextBelow:
		return s.limitSentence()
	case protocol.SameAs:
		return s.sameSentence()
	case protocol.Contrast:
		return s.contrastSentence()
	}
	a, b := s.names()
	words := s.a.Endpoint.InWords()
	if s.q.Low == nil {
		return fmt.Sprintf("I cannot say yet whether the %s is higher after %s or after %s: %s.", words, a, b, s.why())
	}
	d := s.decimals()
	lower := fmt.Sprintf("%s, the %s was %s after %s than after %s", inMyBody, words, s.side(float64(*s.q.Estimate), d), a, b)
	switch s.q.Verdict {
	case stats.Different:
		return fmt.Sprintf("%s (%s).", lower, s.interval(d))
	case stats.TooSmallToMatter:
		return fmt.Sprintf("%s, less than %s (%s).", lower, s.margin(), s.interval(d))
	case stats.NoDifferenceThatMatters:
		return fmt.Sprintf("%s, %s and %s differ in %s by less than %s, if they differ at all (%s).", inMyBody, a, b, words, s.margin(), s.interval(d))
	}
	return fmt.Sprintf("%s, %s against %s is still open: the difference in %s may be anything from %s (%s).", inMyBody, a, b, words, s.limits(d), s.intervalOnly())
}

// margin words the margin, and whose it is: only with a lock that was kept was
// it declared before the tests.
func (s speaker) margin() string {
	amount := declared(float64(*s.q.Margin)) + " " + s.a.Endpoint.Unit
	if s.a.Lock == protocol.LockKept {
		return "the " + amount + " that I said beforehand would matter"
	}
	return amount + ", which is what I call a difference that matters"
}

// why says for the audience what is missing.
func (s speaker) why() string {
	a, b := s.names()
	switch {
	case s.q.TestsA == 0 && s.q.TestsB == 0:
		return "I have tested neither"
	case s.q.TestsA == 0:
		return "I have not tested " + a
	case s.q.TestsB == 0:
		return "I have not tested " + b
	case s.q.Estimate == nil:
		return "my tests do not compare the two"
	case s.q.PlainLow != nil && s.a.Looks.Anytime:
		return "I looked before the end, at a moment that I had not declared"
	case s.q.PlainLow != nil:
		return "there are too few tests yet for all of my questions together"
	}
	return "I have not repeated the tests enough to know how far they scatter"
}

func (s speaker) intervalOnly() string {
	return fmt.Sprintf("%s interval, %s", protocol.Percent(float64(s.q.Level)), s.number())
}

func (s speaker) long() string {
	if s.q.Low == nil && s.q.High == nil {
		return s.short()
	}
	if s.q.Kind != protocol.Difference {
		parts := append([]string{s.short()}, s.reservations()...)
		return strings.Join(append(parts, "This is the result in my body, under these conditions; it says nothing about anybody else."), " ")
	}
	a, b := s.names()
	parts := []string{fmt.Sprintf("I tested %s against %s on myself (%s) and measured the %s of my glucose over %s minutes.",
		a, b, s.number(), s.a.Endpoint.InWords(), value(float64(s.a.Endpoint.Window)))}
	if s.a.Randomised {
		parts = append(parts, "The order of the tests was drawn at random beforehand.")
	}
	parts = append(parts, s.finding())
	if sd := s.a.WithinPersonSD; sd.Value != nil {
		parts = append(parts, fmt.Sprintf("Single tests of the same food%s scatter in me with a standard deviation of %s %s (%s).", s.inBlock(),
			fixed(float64(*sd.Value), decimalsFor(float64(*sd.Value), 2)), s.a.Endpoint.Unit, degrees(sd.DF)))
	}
	parts = append(parts, s.reservations()...)
	return strings.Join(append(parts, "This is the result in my body, under these conditions; it says nothing about anybody else."), " ")
}

func (s speaker) inBlock() string {
	if s.a.Blocks > 0 {
		return " in one block"
	}
	return ""
}

// reservations are what an honest speaker adds.
func (s speaker) reservations() (parts []string) {
	if s.a.Lock == protocol.LockChanged {
		parts = append(parts, "My study file was changed after the order of the tests was drawn, so not all of this was declared beforehand.")
	}
	if !s.a.Randomised {
		parts = append(parts, "The order of the tests was not random throughout, so the day or the order may have a part in it.")
	}
	if s.a.Logged < s.a.Planned {
		parts = append(parts, fmt.Sprintf("I looked before the end, after %d of %d planned tests.", s.a.Logged, s.a.Planned))
	}
	parts = append(parts, s.promised()...)
	if n := len(s.a.Excluded); n > 0 {
		parts = append(parts, fmt.Sprintf("%s left out, for reasons that I can show.", map[bool]string{true: "One test was", false: strconv.Itoa(n) + " tests were"}[n == 1]))
	}
	return parts
}

// promised says what the interval holds for besides this question and this look.
func (s speaker) promised() []string {
	n := len(s.a.Questions)
	switch {
	case s.q.Later:
		return []string{"I asked this question after I had seen the data, so take it as a hint for the next study."}
	case s.a.Looks.Anytime:
		return []string{"I looked at a moment that I had not declared beforehand, so the interval is a wide one that stays valid however often one looks."}
	case s.a.Family != nil && s.q.Nominal != nil && s.q.Kind != protocol.Below && s.q.Kind != protocol.NextBelow:
		looks := ""
		if s.a.Family.Looks > 1 {
			looks = fmt.Sprintf(" and %d looks", s.a.Family.Looks)
		}
		return []string{fmt.Sprintf("The interval is wide enough to hold together with those of all %s about differences between foods%s.", questionCount(s.a.Family.Questions), looks)}
	case n > 1:
		return []string{fmt.Sprintf("It is one of %d questions that I asked, and the interval is for this one alone.", n)}
	}
	return nil
}

// finding is the heart of the long form.
func (s speaker) finding() string {
	a, b := s.names()
	d, e := s.decimals(), float64(*s.q.Estimate)
	first := fmt.Sprintf("After %s it was on average %s than after %s; the %s interval runs from %s", a, s.side(e, d), b, protocol.Percent(float64(s.q.Level)), s.limits(d))
	switch s.q.Verdict {
	case stats.Different:
		switch {
		case s.q.Margin == nil:
			return first + ", so the two are different."
		case s.q.Beyond:
			return fmt.Sprintf("%s, so the two are different, and by more than %s.", first, s.margin())
		}
		return fmt.Sprintf("%s, so the two are different; whether by %s, is not shown.", first, s.margin())
	case stats.TooSmallToMatter:
		return fmt.Sprintf("%s, so there is a difference, but a smaller one than %s.", first, s.margin())
	case stats.NoDifferenceThatMatters:
		return fmt.Sprintf("%s, so a difference as large as %s, is ruled out at this level.", first, s.margin())
	}
	return first + ", so these tests do not show which of the two is higher, nor that they are the same."
}
