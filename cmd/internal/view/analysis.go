package view

import (
	"fmt"
	"io"
	"strings"

	"mealtrial/protocol"
	"mealtrial/stats"
	"mealtrial/stats/ratio"
)

// Analysis shows the result of a study.
func Analysis(w io.Writer, a *protocol.Analysis) error {
	p := &printer{w: w}
	if a.Title != "" {
		p.line("%s", a.Title)
	}
	d := decimalsOf(a)
	p.line("Endpoint: %s in %s over %s min. %s counted%s, %d left out.", a.Endpoint.Name.Words(), a.Endpoint.Unit,
		value(float64(a.Endpoint.Window)), tests(a.Tests), inBlocks(a.Blocks), len(a.Excluded))
	p.line("Model: %s.", a.Model)
	p.line("")
	p.spread(a, d)
	p.line("")
	p.foods(a, d)
	p.line("")
	p.questions(a, d)
	if len(a.Excluded) > 0 {
		p.line("")
		p.excluded(a, d)
	}
	p.notes(a.Warnings)
	p.line("")
	p.line("%s", a.Caution)
	return p.err
}

// printer keeps the first error of a sequence of writes.
type printer struct {
	w   io.Writer
	err error
}

func (p *printer) line(format string, args ...any) {
	if p.err == nil {
		_, p.err = fmt.Fprintf(p.w, format+"\n", args...)
	}
}

func (p *printer) table(columns []column, rows [][]string) {
	if p.err == nil {
		p.err = table(p.w, columns, rows)
	}
}

func (p *printer) notes(warnings []string) {
	if len(warnings) == 0 {
		return
	}
	p.line("")
	p.line("What to keep in mind")
	for _, warning := range warnings {
		p.line("  * %s", warning)
	}
}

func inBlocks(n int) string {
	switch n {
	case 0:
		return ""
	case 1:
		return " in 1 block"
	}
	return fmt.Sprintf(" in %d blocks", n)
}

// decimalsOf gives values two significant digits of their spread.
func decimalsOf(a *protocol.Analysis) int {
	if sd := a.WithinPersonSD.Value; sd != nil {
		return decimalsFor(float64(*sd), 2)
	}
	return 1
}

func (p *printer) spread(a *protocol.Analysis, d int) {
	sd := a.WithinPersonSD
	if sd.Value == nil {
		p.line("Within-person SD: not estimated.")
		return
	}
	p.line("Within-person SD: %s %s (%s interval %s to %s by chi-square, %s).", cell(sd.Value, d), a.Endpoint.Unit,
		protocol.Percent(float64(sd.Level)), cell(sd.Low, d), cell(sd.High, d), degrees(sd.DF))
	where := ""
	if a.Blocks > 0 {
		where = " in one block"
	}
	p.line("Repeatability limit: two single tests of the same food%s differ by up to %s %s, 95 times in 100.", where, cell(a.RepeatabilityLimit, d), a.Endpoint.Unit)
	if b := a.BetweenDaysSD; b != nil && b.Value != nil {
		p.line("Between any two days, whatever the block, the SD is %s %s (%s to %s, %s).", cell(b.Value, d), a.Endpoint.Unit, cell(b.Low, d), cell(b.High, d), degrees(b.DF))
	}
}

func degrees(df int) string { return protocol.Count(df, "degree of freedom", "degrees of freedom") }

func (p *printer) foods(a *protocol.Analysis, d int) {
	p.line("Foods (mean%s, %s interval by t)", map[bool]string{true: " over blocks", false: ""}[a.Blocks > 0], protocol.Percent(levelOf(a)))
	var rows [][]string
	for _, f := range a.Foods {
		rows = append(rows, []string{f.Food, string(f.Role), fmt.Sprint(f.Tests), cell(f.Mean, d), cell(f.Low, d), cell(f.High, d)})
	}
	p.table([]column{left("food"), left("role"), right("tests"), right("mean " + a.Endpoint.Unit), right("low"), right("high")}, rows)
}

func levelOf(a *protocol.Analysis) float64 { return float64(a.WithinPersonSD.Level) }

func (p *printer) questions(a *protocol.Analysis, d int) {
	if len(a.Questions) == 0 {
		p.line("Questions: none was asked. Add for example questions: [lupin vs wheat] to study.yaml.")
		return
	}
	p.differences(a, d)
	for _, q := range a.Questions {
		switch {
		case q.Missing != "":
			p.line("  %s: %s.", q.Question, q.Missing)
		case q.Kind == protocol.Ratio:
			p.line("  %s: %s, %s; %s (%d, %d tests; 1 is no difference).", q.Question, cell(q.Estimate, 2), ratioSet(q), Verdict(q), q.TestsA, q.TestsB)
		case q.Kind == protocol.Below || q.Kind == protocol.NextBelow:
			p.line("  %s: %s.", q.Question, limitWords(a, q, d))
		}
		if q.All != nil && q.All.Low != nil && q.Kind == protocol.Difference {
			p.line("  %s with the excluded tests in: %s, %s to %s, %s.", q.Question, cell(q.All.Estimate, d), cell(q.All.Low, d), cell(q.All.High, d), q.All.Verdict.Words())
		}
	}
	p.line("  Intervals: %s.", a.IntervalMethod())
	p.family(a, d)
	p.anytime(a, d)
}

// differences is the table of the questions that ask for a difference.
func (p *printer) differences(a *protocol.Analysis, d int) {
	margin := "no smallest difference that matters was declared"
	var asked []protocol.Answer
	for _, q := range a.Questions {
		if q.Kind != protocol.Difference {
			continue
		}
		asked = append(asked, q)
		if q.Margin != nil {
			margin = "smallest difference that matters " + declared(float64(*q.Margin)) + " " + a.Endpoint.Unit
		}
		if q.Low != nil { // common decimals that keep every interval on its side
			d = guarded(d, []float64{float64(*q.Low), float64(*q.High)}, marksOf(q.Margin))
		}
	}
	if len(asked) == 0 {
		p.line("Questions (%s level)", protocol.Percent(levelOf(a)))
		return
	}
	p.line("Questions (first minus second, %s interval; %s)", protocol.Percent(levelOf(a)), margin)
	var rows [][]string
	for _, q := range asked {
		rows = append(rows, []string{q.Question, fmt.Sprintf("%d, %d", q.TestsA, q.TestsB), cell(q.Estimate, d), cell(q.Low, d), cell(q.High, d), Verdict(q)})
	}
	p.table([]column{left("question"), right("tests"), right("difference " + a.Endpoint.Unit), right("low"), right("high"), left("verdict")}, rows)
}

// ratioSet words the set of a ratio, whose shape says what its limits mean.
func ratioSet(q protocol.Answer) string {
	level := protocol.Percent(float64(q.Level)) + " Fieller set "
	d := 2
	if q.Low != nil && q.High != nil {
		d = guarded(2, []float64{float64(*q.Low), float64(*q.High)}, []float64{1})
	}
	switch q.Shape {
	case ratio.Bounded:
		return level + cell(q.Low, d) + " to " + cell(q.High, d)
	case ratio.Complement:
		return level + "everything but " + cell(q.Low, d) + " to " + cell(q.High, d)
	case ratio.AtLeast:
		return level + "from " + cell(q.Low, d) + " up"
	case ratio.AtMost:
		return level + "up to " + cell(q.High, d)
	}
	return level + "unbounded: nothing is ruled out"
}

// limitWords words a question about a limit.
func limitWords(a *protocol.Analysis, q protocol.Answer, d int) string {
	d = guarded(d, []float64{float64(*q.Low), float64(*q.High)}, []float64{float64(*q.Limit)})
	what := "the mean"
	if q.Kind == protocol.NextBelow {
		what = "the next serving"
	}
	return fmt.Sprintf("%s, %s, is with %s confidence below %s and with %s above %s; limit %s %s: %s (%d tests)", what, cell(q.Estimate, d),
		protocol.Percent(float64(q.Level)), cell(q.High, d), protocol.Percent(float64(q.Level)), cell(q.Low, d), declared(float64(*q.Limit)), a.Endpoint.Unit, q.Verdict.Words(), q.Tests)
}

// family shows the intervals that hold together.
func (p *printer) family(a *protocol.Analysis, d int) {
	if a.Family == nil {
		return
	}
	p.line("  All %d together, %s:", a.Family.Questions, protocol.Percent(float64(a.Family.Level)))
	for _, q := range a.Questions {
		if q.FamilyLow != nil {
			d := guarded(d, []float64{float64(*q.FamilyLow), float64(*q.FamilyHigh)}, marksOf(q.Margin))
			p.line("    %s: %s to %s, %s.", q.Question, cell(q.FamilyLow, d), cell(q.FamilyHigh, d), q.FamilyVerdict.Words())
		}
	}
}

// anytime shows the intervals that stay valid while tests are outstanding.
func (p *printer) anytime(a *protocol.Analysis, d int) {
	for _, q := range a.Questions {
		switch {
		case q.Anytime == nil:
		case q.Anytime.Low == nil:
			p.line("  %s, valid however often you look: no finite interval yet (%s with both foods).", q.Question, blocks(q.Anytime.Blocks))
		default:
			p.line("  %s, valid however often you look: %s to %s (%s with both foods, %s).", q.Question, cell(q.Anytime.Low, d), cell(q.Anytime.High, d),
				blocks(q.Anytime.Blocks), protocol.Percent(float64(q.Level)))
		}
	}
}

// Verdict gives the verdict of a question in words.
func Verdict(q protocol.Answer) string {
	words := q.Verdict.Words()
	if q.Verdict == stats.Different && q.Margin != nil {
		if q.Beyond {
			return words + ", by more than the smallest that matters"
		}
		return words + "; whether by enough to matter is open"
	}
	return words
}

func (p *printer) excluded(a *protocol.Analysis, d int) {
	p.line("Left out")
	var rows [][]string
	for _, e := range a.Excluded {
		rows = append(rows, []string{e.Date.String(), e.Food, cell(e.Value, d), oneLine(e.Reason)})
	}
	p.table([]column{left("date"), left("food"), right("value " + a.Endpoint.Unit), left("reason")}, rows)
}

func oneLine(text string) string { return strings.Join(strings.Fields(text), " ") }
