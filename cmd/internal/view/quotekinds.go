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
	words := s.a.Endpoint.Name.Words()
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
	food, words := s.name(s.q.A), s.a.Endpoint.Name.Words()
	limit := declared(float64(*s.q.Limit)) + " " + s.a.Endpoint.Unit
	what := fmt.Sprintf("my mean %s after %s", words, food)
	if s.q.Kind == protocol.NextBelow {
		what = fmt.Sprintf("my %s after the next serving of %s", words, food)
	}
	if s.q.Low == nil {
		return fmt.Sprintf("I cannot say yet whether %s is below %s: I have not repeated the tests enough.", what, limit)
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
