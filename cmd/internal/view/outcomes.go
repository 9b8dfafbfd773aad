package view

import (
	"fmt"
	"math"
	"strings"

	"mealtrial/protocol"
)

// secondaryWords goes with every table of outcomes.
const secondaryWords = "in no family, each interval and p for itself; a hint for a next study, no verdict of this one"

// outcomesInWords says which secondary outcomes a study notes.
func (p *printer) outcomesInWords(s *protocol.Study) {
	if len(s.Outcomes) == 0 {
		return
	}
	var texts []string
	for _, o := range s.Outcomes {
		text := fmt.Sprintf("%s (%s, %s)", o.Name, o.Scale(), o.When)
		if o.ID != o.Name {
			text = o.ID + ", " + text
		}
		texts = append(texts, text)
	}
	p.line("Noted besides, as secondary outcomes: %s.", strings.Join(texts, "; "))
}

// outcomes shows the secondary outcomes, each in tables of its own.
func (p *printer) outcomes(a *protocol.Analysis) {
	if len(a.Outcomes) == 0 {
		return
	}
	p.line("")
	p.line("Secondary outcomes (%s)", secondaryWords)
	for _, r := range a.Outcomes {
		p.outcome(r, fmt.Sprintf("%s, %s, noted %s; %s with a value", r.Name, r.Scale, r.When, tests(r.Tests)))
	}
}

// outcome shows one of them.
func (p *printer) outcome(r protocol.OutcomeResult, heading string) {
	p.line("")
	p.line("%s", heading)
	if r.Tests > 0 {
		p.outcomeFoods(r)
		p.outcomeQuestions(r)
		p.line("  Method: %s.", r.Method)
	}
	if r.Matters != nil {
		p.line("  Size that matters: %s, %s.", declared(float64(*r.Matters)), r.MattersWhy)
	}
	for _, note := range r.Notes {
		p.line("  Note: %s.", note)
	}
}

// secondaryEndpoints shows the other numbers that are taken from each curve.
func (p *printer) secondaryEndpoints(a *protocol.Analysis) {
	if len(a.Secondary) == 0 {
		return
	}
	p.line("")
	p.line("Secondary endpoints (%s)", secondaryWords)
	for _, r := range a.Secondary {
		p.outcome(r, fmt.Sprintf("%s, %s; %s with a value", capital(r.Name), r.Scale, tests(r.Tests)))
	}
}

// endpointsInWords says which other numbers are taken, and whether readings are
// smoothed.
func (p *printer) endpointsInWords(s *protocol.Study) {
	var names []string
	for _, second := range s.Endpoint.Secondary {
		names = append(names, second.Words(s.Endpoint))
	}
	if len(names) > 0 {
		p.line("Secondary endpoints: %s.", strings.Join(names, ", "))
	}
	if text := s.Endpoint.SmoothingWords(); text != "" {
		p.line("%s.", capital(text))
	}
	if flags := s.Quality.Flags.LeaveOut; len(flags) > 0 {
		var words []string
		for _, f := range flags {
			words = append(words, strings.ReplaceAll(string(f), "_", " "))
		}
		p.line("A test is left out as well when it is flagged for: %s.", strings.Join(words, ", "))
	}
}

// OutcomeDecimals are the decimals of an outcome's values.
func OutcomeDecimals(r protocol.OutcomeResult) int {
	if r.Kind == protocol.Rating {
		return 1
	}
	width := math.Inf(1)
	for _, f := range r.Foods {
		if f.Low != nil && f.High != nil {
			width = math.Min(width, float64(*f.High-*f.Low)/4)
		}
	}
	for _, q := range r.Questions {
		if q.Low != nil && q.High != nil {
			width = math.Min(width, float64(*q.High-*q.Low)/4)
		}
	}
	if math.IsInf(width, 1) {
		return 1
	}
	return decimalsFor(width, 2)
}

func (p *printer) outcomeFoods(r protocol.OutcomeResult) {
	d := OutcomeDecimals(r)
	level := protocol.Percent(float64(r.Foods[0].Level))
	var rows [][]string
	for _, f := range r.Foods {
		switch {
		case r.Kind == protocol.Event:
			yes := missing
			if f.Tests > 0 {
				yes = fmt.Sprintf("%d of %d", *f.Yes, f.Tests)
			}
			rows = append(rows, []string{f.Food, yes, share(f.Mean), share(f.Low), share(f.High), f.Text})
		case r.Kind == protocol.Rating:
			rows = append(rows, []string{f.Food, fmt.Sprint(f.Tests), cell(f.Mean, d), cell(f.Least, 0), cell(f.Most, 0)})
		default:
			rows = append(rows, []string{f.Food, fmt.Sprint(f.Tests), cell(f.Mean, d), cell(f.Low, d), cell(f.High, d)})
		}
	}
	switch r.Kind {
	case protocol.Event:
		p.table([]column{left("food"), right("yes"), right("rate"), right(level + " low"), right("high"), left("note")}, rows)
	case protocol.Rating:
		p.table([]column{left("food"), right("tests"), right("mean"), right("lowest"), right("highest")}, rows)
	default:
		p.table([]column{left("food"), right("tests"), right("mean " + r.Scale), right(level + " low"), right("high")}, rows)
		if t := r.Trend; t != nil {
			p.line("  Day trend, taken out: %s.", trendWords(t, r.Scale, d))
		}
	}
}

func (p *printer) outcomeQuestions(r protocol.OutcomeResult) {
	var rows [][]string
	d := OutcomeDecimals(r)
	var missed []string
	for _, q := range r.Questions {
		if q.Missing != "" {
			missed = append(missed, fmt.Sprintf("%s: %s", q.Question, q.Missing))
			continue
		}
		row := []string{q.Question, fmt.Sprintf("%d, %d", q.TestsA, q.TestsB)}
		switch r.Kind {
		case protocol.Event:
			row = append(row, points(q.Estimate), pCell(q.P), pCell(q.Smallest), q.Verdict, q.Test)
		case protocol.Rating:
			row = append(row, cell(q.Estimate, d), cell(q.Low, d), cell(q.High, d), pCell(q.P), share(q.Share), pCell(q.RankP), pCell(q.Smallest), q.Verdict+reached(q))
		default:
			g := d
			if q.Low != nil {
				g = guarded(d, []float64{float64(*q.Low), float64(*q.High)}, []float64{0})
			}
			row = append(row, cell(q.Estimate, g), cell(q.Low, g), cell(q.High, g), q.Verdict+reached(q))
		}
		rows = append(rows, row)
	}
	columns := []column{left("question"), right("tests")}
	switch r.Kind {
	case protocol.Event:
		columns = append(columns, right("difference, points"), right("p"), right("smallest p"), left("verdict"), left("test"))
	case protocol.Rating:
		columns = append(columns, right("difference"), right("low"), right("high"), right("p by the draw"), right("pairs higher"), right("rank p"), right("smallest p"), left("verdict"))
	default:
		columns = append(columns, right("difference"), right("low"), right("high"), left("verdict"))
	}
	if len(rows) > 0 {
		p.table(columns, rows)
	}
	for _, text := range missed {
		p.line("  %s.", text)
	}
}

// points writes a difference of rates in percentage points.
func points(x *protocol.Number) string {
	if x == nil {
		return missing
	}
	return fixed(100*float64(*x), 0)
}

func pCell(x *protocol.Number) string {
	if x == nil {
		return missing
	}
	return protocol.PValue(float64(*x))
}

func reached(q protocol.OutcomeAnswer) string {
	if q.Reached {
		return "; the estimate is of a size that matters"
	}
	return ""
}

// outcomeQuotes words each comparison of each outcome.
func outcomeQuotes(a *protocol.Analysis) (out []OutcomeQuote) {
	for _, r := range a.Outcomes {
		if r.Kind == protocol.Event {
			for _, f := range r.Foods {
				if f.Text != "" {
					out = append(out, OutcomeQuote{Outcome: r.ID, Food: f.Food, Text: fmt.Sprintf("%s after %s: %s. This is a secondary outcome.", capital(r.Name), FoodName(a, f.Food), f.Text)})
				}
			}
		}
		for _, q := range r.Questions {
			if q.Missing == "" {
				out = append(out, OutcomeQuote{Outcome: r.ID, Question: q.Question, Text: outcomeSentence(a, r, q)})
			}
		}
	}
	return out
}

// An OutcomeQuote is what may be said about a secondary outcome.
type OutcomeQuote struct {
	Outcome  string `json:"outcome"`
	Question string `json:"question,omitempty"`
	Food     string `json:"food,omitempty"`
	Text     string `json:"text"`
}

func outcomeSentence(a *protocol.Analysis, r protocol.OutcomeResult, q protocol.OutcomeAnswer) string {
	first, second := FoodName(a, q.A), FoodName(a, q.B)
	n := fmt.Sprintf("%d and %d tests", q.TestsA, q.TestsB)
	d := OutcomeDecimals(r)
	unit := r.Scale
	if r.Kind == protocol.Rating {
		unit = "points"
	}
	var text string
	switch {
	case r.Kind == protocol.Event:
		text = fmt.Sprintf("%s, the answer to %q was yes %s after %s and %s after %s (%s, p %s)", inMyBody, r.Name, ofTests(r, q.A), first, ofTests(r, q.B), second, q.Test, pCell(q.P))
	default:
		way := "higher"
		if *q.Estimate < 0 {
			way = "lower"
		}
		why := fmt.Sprintf("p %s by the draw of the order, %s", pCell(q.P), n)
		if r.Kind == protocol.Rating && q.P == nil {
			why = fmt.Sprintf("rank p %s, %s", pCell(q.RankP), n)
		}
		if r.Kind != protocol.Rating {
			why = n
			if q.Low != nil {
				d = guarded(d, []float64{float64(*q.Low), float64(*q.High)}, []float64{0})
				why = fmt.Sprintf("%s interval %s to %s %s, %s", protocol.Percent(float64(*q.Level)), cell(q.Low, d), cell(q.High, d), unit, n)
			}
		}
		text = fmt.Sprintf("%s, %s (%s) was on average %s %s %s after %s than after %s (%s)", inMyBody, r.Name, r.When, fixed(math.Abs(float64(*q.Estimate)), d), unit, way, first, second, why)
	}
	if q.Verdict == "still open" {
		text += ", which does not show that the two differ, nor that they are the same"
	}
	return text + ". This is a secondary outcome, for itself, and a hint for a next study."
}

func ofTests(r protocol.OutcomeResult, food string) string {
	for _, f := range r.Foods {
		if f.Food == food {
			return fmt.Sprintf("in %d of %d tests", *f.Yes, f.Tests)
		}
	}
	return missing
}

// outcomeQuotes prints the sentences on secondary outcomes.
func (p *printer) outcomeQuotes(a *protocol.Analysis) {
	quotes := outcomeQuotes(a)
	if len(quotes) == 0 {
		return
	}
	p.line("Secondary outcomes")
	for _, q := range quotes {
		p.line("  %s", q.Text)
	}
	p.line("")
}

// outcomesOf are the sentences on the foods of one question.
func outcomesOf(a *protocol.Analysis, q protocol.Answer) (out []OutcomeQuote) {
	for _, o := range outcomeQuotes(a) {
		if o.Question == q.A+" vs "+q.B || o.Question == q.B+" vs "+q.A || o.Food != "" && (o.Food == q.A || o.Food == q.B) {
			out = append(out, o)
		}
	}
	return out
}

// trendWords word the climb of a number, with digits of its own.
func trendWords(t *protocol.OutcomeTrend, unit string, d int) string {
	if t.Low == nil {
		return fmt.Sprintf("%s %s a week", fixed(float64(t.PerWeek), d), unit)
	}
	d = decimalsFor(float64(*t.High-*t.Low)/4, 2)
	return fmt.Sprintf("%s %s a week (%s to %s)", fixed(float64(t.PerWeek), d), unit, cell(t.Low, d), cell(t.High, d))
}
