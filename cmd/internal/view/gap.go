package view

import (
	"fmt"
	"io"
	"math"

	"mealtrial/protocol"
	"mealtrial/stats"
)

// Gap says in sentences whether a gap between two results is real.
func Gap(w io.Writer, g *protocol.Gap) error {
	p := &printer{w: w}
	a, b := side(g.A, g.Unit), side(g.B, g.Unit)
	p.line("%s (%s) against %s (%s): %s", a, tests(g.A.Tests), b, tests(g.B.Tests), gapWords(g))
	p.line("")
	if g.Spread == nil {
		p.unknownSpread(g)
	} else {
		p.knownSpread(g)
	}
	p.notes(g.Warnings)
	p.line("")
	p.line("%s", g.Caution)
	return p.err
}

func side(s protocol.GapSide, unit string) string {
	text := given(float64(s.Value), unit)
	if s.Name != "" {
		return s.Name + " " + text
	}
	return text
}

// given writes a result as it was given.
func given(x float64, unit string) string { return declared(x) + after(unit) }

func quantity(x float64, unit string) string {
	if unit == "" {
		return value(x)
	}
	return value(x) + " " + unit
}

// gapWords words the size of the gap with its base.
func gapWords(g *protocol.Gap) string {
	a, b := float64(g.A.Value), float64(g.B.Value)
	switch {
	case a == b:
		return "no gap."
	case g.ShareOfB == nil:
		return fmt.Sprintf("a gap of %s. Percentages have no meaning here, as a value is not above zero.", quantity(math.Abs(a-b), g.Unit))
	}
	low, high := math.Min(a, b), math.Max(a, b)
	return fmt.Sprintf("a gap of %s. %s is %s, and %s is %s.", quantity(high-low, g.Unit),
		declared(low), Change(low, high), declared(high), Change(high, low))
}

// A fraction is a share that people say in words, as a fall and as a rise.
type fraction struct {
	share      float64
	fall, rise string
}

var fractions = []fraction{
	{0.25, "a quarter lower", "a quarter more"},
	{1.0 / 3, "a third lower", "a third more"},
	{0.5, "half of it", "half as much again"},
	{2.0 / 3, "two thirds lower", "two thirds more"},
	{0.75, "three quarters lower", "three quarters more"},
	{1, "", "twice as much"},
}

// Change words x against a base, which it always names: a fall from 42 to 28
// is a third of 42, the rise back is half of 28.
func Change(x, base float64) string {
	share := math.Abs(x/base - 1)
	way := "higher"
	if x < base {
		way = "lower"
	}
	text := fmt.Sprintf("%s %s than %s", percentOf(share), way, declared(base))
	for _, f := range fractions {
		words := f.rise
		if x < base {
			words = f.fall
		}
		if math.Abs(share-f.share) < 0.005 && words != "" {
			text += " (" + words + ")"
		}
	}
	return text
}

func percentOf(share float64) string {
	switch p := 100 * share; {
	case p < 10:
		return value(math.Round(p*10)/10) + " %"
	default:
		return fixed(p, 0) + " %"
	}
}

func (p *printer) unknownSpread(g *protocol.Gap) {
	p.line("How far single tests of one food scatter in you is not known, so whether this gap is real cannot be said.")
	if g.Difference == 0 {
		p.line("That two results agree does not show that the foods do: with the usual spread, two tests of different foods often agree by chance.")
		return
	}
	p.line("It would be real (a %s interval without zero) only if the within-person SD were below %s%s and known exactly.", protocol.Percent(float64(g.Level)),
		quantity(float64(*g.RealBelowSD), g.Unit), orCV(g))
	p.line("For comparison: repeats of one meal in one person were published with a CV of 20 %% (Matthan et al. 2016) to 52 %% (Hirsch et al. 2013), for the area under the curve.")
	p.line("Next: eat one food at least three times, then give its spread with --sd and --sd-df, or keep a study and give --study.")
}

func orCV(g *protocol.Gap) string {
	if g.RealBelowCV == nil {
		return ""
	}
	return fmt.Sprintf(" (or, where the spread is in proportion to the response, the CV below %s)", percentOf(float64(*g.RealBelowCV)))
}

func (p *printer) knownSpread(g *protocol.Gap) {
	level := protocol.Percent(float64(g.Level))
	p.line("Spread of single tests: %s.", spreadWords(g))
	if g.Scale == protocol.ScaleRatio {
		p.ratio(g, level)
	} else {
		p.difference(g, level)
	}
	p.line("")
	p.line("%s", gapVerdict(g))
	p.testsEach(g)
}

func (p *printer) ratio(g *protocol.Gap, level string) {
	limits := "without useful limits"
	if g.Low != nil && g.High != nil {
		d := guarded(2, []float64{float64(*g.Low), float64(*g.High)}, []float64{1})
		limits = fmt.Sprintf("%s to %s", cell(g.Low, d), cell(g.High, d))
	}
	p.line("Ratio: %s, %s interval %s (1 is no difference; %s).", fixed(float64(g.A.Value/g.B.Value), 2), level, limits, g.Method)
	if g.Smallest != nil {
		p.line("Such tests show a gap as real when one value is at least %s times the other.", cell(g.Smallest, 2))
	}
}

func (p *printer) difference(g *protocol.Gap, level string) {
	low, high := float64(*g.Low), float64(*g.High)
	d := guarded(decimalsFor((high-low)/4, 2), []float64{low, high}, marksOf(g.Margin))
	p.line("Difference: %s%s, %s interval %s to %s (%s).", fixed(float64(g.Difference), d), after(g.Unit), level, fixed(low, d), fixed(high, d), g.Method)
	p.line("Such tests show a gap as real from %s%s.", cell(g.Smallest, d), after(g.Unit))
	if g.Margin != nil {
		p.line("Smallest difference that matters: %s%s.", declared(float64(*g.Margin)), after(g.Unit))
	}
}

func after(unit string) string {
	if unit == "" {
		return ""
	}
	return " " + unit
}

func spreadWords(g *protocol.Gap) string {
	s := g.Spread
	text, limits := "", ""
	if s.CV != nil {
		text = "CV " + percentOf(float64(*s.CV))
		if s.Low != nil {
			limits = fmt.Sprintf("from %s up", percentOf(float64(*s.Low)))
			if s.High != nil && *s.High < 10 {
				limits = fmt.Sprintf("%s to %s", percentOf(float64(*s.Low)), percentOf(float64(*s.High)))
			}
		}
	} else {
		text = "SD " + quantity(float64(*s.SD), g.Unit)
		if s.Low != nil && s.High != nil {
			limits = fmt.Sprintf("%s to %s", value(float64(*s.Low)), value(float64(*s.High)))
		}
	}
	if limits == "" {
		return text + ", " + s.From + ", taken as known"
	}
	return fmt.Sprintf("%s, %s (%s interval %s by chi-square, %s degrees of freedom)", text, s.From, protocol.Percent(float64(g.Level)), limits, value(float64(*s.DF)))
}

func gapVerdict(g *protocol.Gap) string {
	if g.Difference == 0 {
		return "There is no gap to judge; that the results agree does not show that the foods do the same."
	}
	chance := fmt.Sprintf("If both foods did the same, such tests would differ by this much or more about %s of the time.", percentOf(float64(*g.Chance)))
	if *g.Chance < 0.001 {
		chance = "If both foods did the same, such tests would differ by this much or more less than 0.1 % of the time."
	}
	switch g.Verdict {
	case stats.Different:
		real := "Real: \"no difference\" lies outside the interval. " + chance
		if g.Margin != nil && !g.Beyond {
			real += " Whether the difference is large enough to matter is not shown."
		}
		return real
	case stats.TooSmallToMatter:
		return "Real, but at this level smaller than the smallest difference that matters. " + chance
	case stats.NoDifferenceThatMatters:
		return "Within noise, and at this level any difference is smaller than the smallest that matters. " + chance
	}
	return "Within noise: \"no difference\" lies inside the interval. " + chance + " That does not show that they do the same."
}

func (p *printer) testsEach(g *protocol.Gap) {
	if g.Difference == 0 {
		p.line("That two results agree does not show that the foods do: with the usual spread, two tests of different foods often agree by chance.")
		return
	}
	if g.TestsEach == nil {
		p.line("To show a true gap of this size with %s power would take more than 1000 tests of each food.", protocol.Percent(float64(g.Power)))
		return
	}
	text := ""
	switch {
	case g.TestsEachLow == nil:
	case g.TestsEachHigh == nil:
		text = fmt.Sprintf(" (%d to more than 1000 over the interval of the spread)", *g.TestsEachLow)
	default:
		text = fmt.Sprintf(" (%d to %d over the interval of the spread)", *g.TestsEachLow, *g.TestsEachHigh)
	}
	p.line("If the true gap is this size, %d tests of each food%s show it with %s power, analysed by themselves.", *g.TestsEach, text, protocol.Percent(float64(g.Power)))
}
