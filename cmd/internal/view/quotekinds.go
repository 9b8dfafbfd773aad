package view

import (
	"fmt"

	"mealtrial/protocol"
	"mealtrial/stats"
	"mealtrial/stats/ratio"
)

// ratioSentence says how many times the response to one food another's is.
func (s speaker) ratioSentence() string {
	a, b := s.names()
	words := s.a.Endpoint.InWords()
	if s.q.Estimate == nil {
		return fmt.Sprintf("I cannot say yet how many times the %s after %s that after %s is: %s.", words, b, a, s.whyNoRatio())
	}
	tail := fmt.Sprintf("(%s, %s)", ratioSet(s.q), s.number())
	if s.q.Verdict != stats.Different || s.q.Shape != ratio.Bounded {
		return fmt.Sprintf("%s, %s against %s is still open: my tests leave it possible that the %s is the same after both %s.", inMyBody, a, b, words, tail)
	}
	return fmt.Sprintf("%s, the %s after %s was %s times that after %s, that is %s %s.", inMyBody, words, a, cell(s.q.Estimate, 2), b, share100(float64(*s.q.Estimate), b), tail)
}

// share100 words a ratio as a percentage of its base, which it names.
func share100(r float64, base string) string {
	if r < 1 {
		return fmt.Sprintf("%s lower than after %s", percentOf(1-r), base)
	}
	return fmt.Sprintf("%s higher than after %s", percentOf(r-1), base)
}

func (s speaker) whyNoRatio() string {
	if s.q.TestsA > 0 && s.q.TestsB > 0 {
		return "the tests leave too little to divide by"
	}
	return s.why()
}

// limitSentence says whether a mean or the next serving stays below a limit.
func (s speaker) limitSentence() string {
	food, words := s.name(s.q.A), s.a.Endpoint.InWords()
	limit := declared(float64(*s.q.Limit)) + " " + s.a.Endpoint.Unit
	what := fmt.Sprintf("my mean %s after %s", words, food)
	if s.q.Kind == protocol.NextBelow {
		what = fmt.Sprintf("my %s after the next serving of %s", words, food)
	}
	if s.q.Low == nil || s.q.High == nil {
		return fmt.Sprintf("I cannot say yet whether %s is below %s: %s.", what, limit, s.whyNoBound())
	}
	d := guarded(decimalsFor(float64(*s.q.High-*s.q.Low)/4, 1), []float64{float64(*s.q.Low), float64(*s.q.High)}, []float64{float64(*s.q.Limit)})
	level := protocol.Percent(float64(s.q.Level))
	switch s.q.Verdict {
	case stats.ShownBelow:
		return fmt.Sprintf("Under these conditions %s is below %s (one-sided %s t bound %s, %s).", what, limit, level, cell(s.q.High, d), tests(s.q.Tests))
	case stats.ShownAbove:
		return fmt.Sprintf("Under these conditions %s is above %s (one-sided %s t bound %s, %s).", what, limit, level, cell(s.q.Low, d), tests(s.q.Tests))
	}
	return fmt.Sprintf("Whether %s is below %s is still open: it may be anything from %s to %s %s (one-sided %s t bounds, %s).", what, limit,
		cell(s.q.Low, d), cell(s.q.High, d), s.a.Endpoint.Unit, level, tests(s.q.Tests))
}

func (s speaker) whyNoBound() string {
	switch {
	case s.q.PlainLow != nil && s.a.Looks.Anytime:
		return "I looked before the end, at a moment that I had not declared"
	case s.q.PlainLow != nil:
		return "my earlier looks have used up the error that I allowed for"
	}
	return "I have not repeated the tests enough"
}

// sameSentence says whether two foods are shown to differ by less than the
// margin. It never calls them the same because they were not shown different.
func (s speaker) sameSentence() string {
	a, b := s.names()
	words := s.a.Endpoint.InWords()
	if s.q.Low == nil {
		return fmt.Sprintf("I cannot say yet whether the %s after %s and after %s are alike: %s.", words, a, b, s.why())
	}
	d := s.decimals()
	switch s.q.Verdict {
	case stats.NoDifferenceThatMatters, stats.TooSmallToMatter:
		return fmt.Sprintf("%s, the %s after %s and after %s differ by less than %s (two one-sided tests, %s).", inMyBody, words, a, b, s.margin(), s.interval(d))
	case stats.Different:
		if s.q.Beyond {
			return fmt.Sprintf("%s, the %s after %s and after %s are not alike: they differ by more than %s (%s).", inMyBody, words, a, b, s.margin(), s.interval(d))
		}
	}
	return fmt.Sprintf("%s, my tests do not show that the %s after %s and after %s are alike: they may differ by as much as %s (two one-sided tests, %s).", inMyBody, words, a, b, s.margin(), s.interval(d))
}

// contrastSentence words a difference of differences by its formula.
func (s speaker) contrastSentence() string {
	words := s.a.Endpoint.InWords()
	if s.q.Low == nil {
		return fmt.Sprintf("I cannot say yet how the %s of %q compares with %q: %s.", words, s.q.A, s.q.B, s.why())
	}
	d := s.decimals()
	first := fmt.Sprintf("%s, the %s of %q was %s than that of %q", inMyBody, words, s.q.A, s.side(float64(*s.q.Estimate), d), s.q.B)
	switch s.q.Verdict {
	case stats.Different:
		return fmt.Sprintf("%s (%s).", first, s.interval(d))
	case stats.TooSmallToMatter:
		return fmt.Sprintf("%s, less than %s (%s).", first, s.margin(), s.interval(d))
	case stats.NoDifferenceThatMatters:
		return fmt.Sprintf("%s, the %s of %q and of %q differ by less than %s, if at all (%s).", inMyBody, words, s.q.A, s.q.B, s.margin(), s.interval(d))
	}
	return fmt.Sprintf("%s, %q against %q is still open: the difference in %s may be anything from %s (%s).", inMyBody, s.q.A, s.q.B, words, s.limits(d), s.intervalOnly())
}

// screen is the answer in one line for a picture: never without its interval and
// the number of tests.
func (s speaker) screen() string {
	tail := fmt.Sprintf("%s; one person, not advice", s.number())
	if s.q.Kind == protocol.Below || s.q.Kind == protocol.NextBelow {
		tail = fmt.Sprintf("%s; one person, not advice", tests(s.q.Tests))
	}
	level := protocol.Percent(float64(s.q.Level))
	unit := s.a.Endpoint.Unit
	switch {
	case s.q.Low == nil && s.q.High == nil:
		return fmt.Sprintf("%s: no answer yet; one person, not advice", s.q.Question)
	case s.q.Kind == protocol.Ratio:
		return fmt.Sprintf("%s: %s times (%s); %s; %s", s.q.Question, cell(s.q.Estimate, 2), ratioSet(s.q), s.q.Verdict.Words(), tail)
	case s.q.Kind == protocol.Below || s.q.Kind == protocol.NextBelow:
		d := guarded(1, []float64{float64(*s.q.Low), float64(*s.q.High)}, []float64{float64(*s.q.Limit)})
		return fmt.Sprintf("%s: %s %s (one-sided %s bounds %s and %s); %s; %s", s.q.Question, cell(s.q.Estimate, d), unit, level, cell(s.q.Low, d), cell(s.q.High, d), s.q.Verdict.Words(), tail)
	}
	d := s.decimals()
	return fmt.Sprintf("%s: %s %s (%s interval %s to %s); %s; %s", s.q.Question, cell(s.q.Estimate, d), unit, level, cell(s.q.Low, d), cell(s.q.High, d), s.q.Verdict.Words(), tail)
}
