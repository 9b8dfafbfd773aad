package view

import (
	"errors"
	"fmt"
	"math"

	"mealtrial/protocol"
	"mealtrial/stats"
	"mealtrial/stats/ratio"
)

// OnScreen is what an on-screen card says: a value, never without its interval,
// its level and the number of tests.
type OnScreen struct {
	Stage   string   // of a sequence; "" for a card by itself
	Heading []string // the food, or the two foods of a question
	About   string   // what was measured
	// Lead is what is read first: the value, or that a question is open or its
	// difference none that matters. Beside is the other of the two.
	Lead, Beside string
	Value        string
	Interval     string // with its level
	Tests        string
	Note         string // what the interval holds for besides this question
	Caution      string

	// The bar: the value, its interval and what it is read against.
	Estimate, Low, High float64
	LowText, HighText   string
	Against             float64 // zero, no difference, or the limit
	AgainstText         string
	Margin              float64 // around Against; 0: none
	Log                 bool    // the bar is that of a ratio: half and twice are equally far from 1
	decimals            int
	unit                string
}

const screenCaution = "one person, not advice"

var errNoInterval = errors.New("a value without its interval and number of tests makes no card")

// QuestionCard makes the card of a question. The error says what is wanting.
func QuestionCard(a *protocol.Analysis, q protocol.Answer) (*OnScreen, error) {
	s := speaker{a, q}
	low, high, bounded := cardEnds(q)
	if q.Estimate == nil || !bounded || q.Tests == 0 {
		why := q.Missing
		if why == "" {
			why = s.why()
		}
		return nil, fmt.Errorf("%q has no interval with two ends (%s): %w", q.Question, why, errNoInterval)
	}
	c := &OnScreen{About: measured(a), Tests: testsOfBoth(q), Caution: screenCaution, unit: a.Endpoint.Unit,
		Estimate: float64(*q.Estimate), Low: low, High: high, Heading: []string{s.name(q.A), "vs " + s.name(q.B)}}
	level := protocol.Percent(float64(q.Level))
	switch q.Kind {
	case protocol.Ratio:
		if q.Shape != ratio.Bounded {
			return nil, fmt.Errorf("the set of %q has no two ends: %w", q.Question, errNoInterval)
		}
		c.decimals, c.unit = guarded(2, []float64{c.Low, c.High}, []float64{1}), ""
		c.Value, c.Interval = fixed(c.Estimate, c.decimals)+" times", ratioSet(q)
		c.Against, c.AgainstText, c.Log = 1, "1, the same", c.Low > 0
		if words := promise(a); words != "" {
			c.Note = "set" + words
		}
	case protocol.Below, protocol.NextBelow:
		c.Heading = []string{s.name(q.A)}
		if q.Kind == protocol.NextBelow {
			c.Heading = []string{"next serving of " + s.name(q.A)}
		}
		c.Against, c.AgainstText, c.Tests = float64(*q.Limit), "limit "+declared(float64(*q.Limit)), tests(q.Tests)
		width, ends := 2*math.Abs(c.Estimate-c.Against), []float64{}
		for _, end := range []float64{c.Low, c.High} {
			if !math.IsInf(end, 0) {
				ends = append(ends, end)
				width = 2 * math.Abs(end-c.Estimate)
			}
		}
		c.decimals = guarded(decimalsFor(width/4, 1), ends, []float64{c.Against})
		c.Value = s.amount(c.Estimate, c.decimals)
		c.Interval = fmt.Sprintf("one-sided %s bounds %s and %s", level, fixed(c.Low, c.decimals), s.amount(c.High, c.decimals))
		switch {
		case math.IsInf(c.Low, 0):
			c.Interval = fmt.Sprintf("one-sided %s bound: below %s", level, s.amount(c.High, c.decimals))
		case math.IsInf(c.High, 0):
			c.Interval = fmt.Sprintf("one-sided %s bound: above %s", level, s.amount(c.Low, c.decimals))
		}
	default:
		if q.Kind == protocol.Contrast {
			c.Heading = []string{q.Question}
		}
		c.decimals = s.decimals()
		c.Value = s.side(c.Estimate, c.decimals)
		c.Interval = fmt.Sprintf("%s interval: %s", level, s.limits(c.decimals))
		c.Against, c.AgainstText = 0, "no difference"
		if q.Margin != nil {
			c.Margin = float64(*q.Margin)
		}
		if words := promise(a); words != "" {
			c.Note = "interval" + words
		}
	}
	if q.Later {
		c.Note = "asked after the data"
	}
	c.Lead, c.Beside = c.Value, Verdict(q)
	if q.Verdict == stats.Open || q.Verdict == stats.NoDifferenceThatMatters {
		c.Lead, c.Beside = Verdict(q), "estimate: "+c.Value
	}
	c.ends()
	return c, nil
}

// cardEnds are the ends of an answer's interval. A question about a limit may have one
// bound alone, and its other end is infinite; ok is false where a card would have no
// interval.
func cardEnds(q protocol.Answer) (low, high float64, ok bool) {
	low, high = math.Inf(-1), math.Inf(1)
	if q.Low != nil {
		low = float64(*q.Low)
	}
	if q.High != nil {
		high = float64(*q.High)
	}
	if q.Kind == protocol.Below || q.Kind == protocol.NextBelow {
		return low, high, q.Low != nil || q.High != nil
	}
	return low, high, q.Low != nil && q.High != nil
}

// FoodCard makes the card of a food. The error says what is wanting.
func FoodCard(a *protocol.Analysis, id string) (*OnScreen, error) {
	for _, f := range a.Foods {
		if f.Food != id {
			continue
		}
		if f.Mean == nil || f.Low == nil || f.High == nil || f.Tests == 0 {
			return nil, fmt.Errorf("%s has no mean with an interval yet: %w", id, errNoInterval)
		}
		c := &OnScreen{Heading: []string{f.Name}, About: measured(a), Tests: tests(f.Tests), Caution: screenCaution, unit: a.Endpoint.Unit, AgainstText: "0 " + a.Endpoint.Unit,
			Estimate: float64(*f.Mean), Low: float64(*f.Low), High: float64(*f.High)}
		c.decimals = decimalsFor(float64(*f.SE), 1)
		c.Value = fixed(c.Estimate, c.decimals) + " " + c.unit
		c.Lead = c.Value
		c.Interval = fmt.Sprintf("%s interval of the mean: %s to %s %s", protocol.Percent(float64(f.Level)), fixed(c.Low, c.decimals), fixed(c.High, c.decimals), c.unit)
		c.ends()
		return c, nil
	}
	return nil, fmt.Errorf("found no food %q", id)
}

// PairCard makes the card of what two single tests would have said.
func PairCard(a *protocol.Analysis, q protocol.Answer, g *protocol.Gap) (*OnScreen, error) {
	if g.Low == nil || g.High == nil {
		return nil, errNoInterval
	}
	q.Estimate, q.Low, q.High, q.Level, q.Verdict, q.Beyond = &g.Difference, g.Low, g.High, g.Level, g.Verdict, g.Beyond
	q.TestsA, q.TestsB, q.Tests, q.Later = 1, 1, 2, false
	se := protocol.Number((float64(*g.High) - float64(*g.Low)) / 4)
	q.SE = &se // for the digits only
	c, err := QuestionCard(a, q)
	if err != nil {
		return nil, err
	}
	c.Stage, c.Note = "Two single tests", "the first test of each food"
	return c, nil
}

// testsOfBoth counts the tests in the order of the heading.
func testsOfBoth(q protocol.Answer) string {
	if q.TestsA == q.TestsB {
		return tests(q.TestsA) + " of each"
	}
	return fmt.Sprintf("%d and %s", q.TestsA, tests(q.TestsB))
}

func measured(a *protocol.Analysis) string {
	return fmt.Sprintf("%s of glucose over %s min", a.Endpoint.InWords(), value(float64(a.Endpoint.Window)))
}

func (c *OnScreen) ends() {
	c.LowText, c.HighText = "", "" // an end that there is not has no number
	if !math.IsInf(c.Low, 0) {
		c.LowText = fixed(c.Low, c.decimals)
	}
	if !math.IsInf(c.High, 0) {
		c.HighText = fixed(c.High, c.decimals)
	}
}

// Words say the whole card, for people who do not see it.
func (c *OnScreen) Words() string {
	text := ""
	for _, part := range append(append([]string{c.Stage}, c.Heading...), c.About, c.Lead, c.Beside, c.Interval, c.Tests, c.Note, c.Caution) {
		if part != "" {
			text += oneLine(part) + "; "
		}
	}
	return text[:len(text)-2] + "."
}
