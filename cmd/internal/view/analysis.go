package view

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"mealtrial/protocol"
	"mealtrial/protocol/problem"
	"mealtrial/stats"
	"mealtrial/stats/ratio"
)

// Analysis shows the result of a study.
func Analysis(w io.Writer, a *protocol.Analysis) error {
	p := &printer{w: w}
	p.safety(a.Safety)
	if a.Title != "" {
		p.line("%s", a.Title)
	}
	d := decimalsOf(a)
	p.line("Endpoint: %s in %s over %s min. %s counted%s, %d left out.", a.Endpoint.InWords(), a.Endpoint.Unit,
		value(float64(a.Endpoint.Window)), tests(a.Tests), inBlocks(a.Blocks), len(a.Excluded))
	p.line("Model: %s.", a.Model)
	p.line("")
	p.spread(a, d)
	p.line("")
	p.foods(a, d)
	p.line("")
	p.floor(a, d)
	p.questions(a, d)
	p.relative(a)
	p.randomised(a, d)
	p.robustness(a, d)
	p.secondaryEndpoints(a)
	p.outcomes(a)
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
		screen := screenOf(p.w)
		lines := strings.Split(fmt.Sprintf(format, args...), "\n")
		for i, line := range lines {
			lines[i] = screen.prose(problem.Visible(line))
		}
		_, p.err = io.WriteString(p.w, strings.Join(lines, "\n")+"\n")
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
	if a.SpreadByFood {
		p.line("Foods (mean of its own tests, %s interval by t from their own spread)", protocol.Percent(levelOf(a)))
	} else {
		over := ""
		switch {
		case a.Blocks > 0 && strings.Contains(a.Model, "random block"):
			over = " over these blocks, taken as fixed"
		case a.Blocks > 0:
			over = " over blocks"
		}
		p.line("Foods (mean%s, %s interval by t)", over, protocol.Percent(levelOf(a)))
	}
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
		if q.Fixed != nil {
			p.line("  %s with blocks fixed: %s, %s to %s, %s.", q.Question, cell(q.Fixed.Estimate, d), cell(q.Fixed.Low, d), cell(q.Fixed.High, d), q.Fixed.Verdict.Words())
		}
		if q.Later {
			p.line("  %s: asked after the data; it is in no family, and its interval is for this question alone.", q.Question)
		}
		if q.Kind == protocol.SameAs && q.Missing == "" {
			p.line("  %s: two one-sided tests, whose interval is the %s one.", q.Question, protocol.Percent(float64(q.Level)))
		}
		if q.All != nil && q.All.Low != nil && tabled(q) {
			p.line("  %s with the excluded tests in: %s, %s to %s, %s.", q.Question, cell(q.All.Estimate, d), cell(q.All.Low, d), cell(q.All.High, d), q.All.Verdict.Words())
		}
	}
	p.line("  Intervals: %s.", a.IntervalMethod())
	p.looks(a)
}

// looks says at which look the study is and which there are.
func (p *printer) looks(a *protocol.Analysis) {
	l := a.Looks
	switch {
	case len(l.After) < 2 && !l.Anytime:
	case l.Anytime:
		p.line("  Look: not a declared one; %s of %d finished, declared after %s.", blocks(l.Finished), l.After[len(l.After)-1], numbers(l.After))
	default:
		p.line("  Look: the %s of %d declared, after %s (%s finished; levels: %s).", ordinal(l.Now), len(l.After), numbers(l.After), blocks(l.Finished), strings.ReplaceAll(l.Shape, "_", " "))
	}
}

func numbers(list []int) string {
	var parts []string
	for _, n := range list {
		parts = append(parts, fmt.Sprint(n))
	}
	return "block " + strings.Join(parts, ", ")
}

func ordinal(n int) string {
	words := []string{"", "first", "second", "third", "fourth", "fifth", "sixth"}
	if n < len(words) {
		return words[n]
	}
	return fmt.Sprintf("%dth", n)
}

// differences is the table of the questions that ask for a difference.
func (p *printer) differences(a *protocol.Analysis, d int) {
	margin := "no smallest difference that matters was declared"
	d = max(d, DifferenceDecimals(a))
	var asked []protocol.Answer
	for _, q := range a.Questions {
		if !tabled(q) {
			continue
		}
		asked = append(asked, q)
		if q.Margin != nil {
			margin = "smallest difference that matters " + declared(float64(*q.Margin)) + " " + a.Endpoint.Unit
		}
	}
	if len(asked) == 0 {
		p.line("Questions (%s level)", protocol.Percent(levelOf(a)))
		return
	}
	p.line("Questions (first minus second, %s interval%s; %s)", protocol.Percent(levelOf(a)), promise(a), margin)
	columns := []column{left("question"), right("tests"), right("difference " + a.Endpoint.Unit), right("low"), right("high"), left("verdict")}
	beside := slices.ContainsFunc(asked, func(q protocol.Answer) bool { return !sameLimits(q) })
	if beside {
		columns = append(columns, right("alone, low"), right("alone, high"))
	}
	var rows [][]string
	for _, q := range asked {
		row := []string{q.Question, fmt.Sprintf("%d, %d", q.TestsA, q.TestsB), cell(q.Estimate, d), cell(q.Low, d), cell(q.High, d), Verdict(q)}
		if beside {
			row = append(row, cell(q.PlainLow, d), cell(q.PlainHigh, d))
		}
		rows = append(rows, row)
	}
	p.table(columns, rows)
	p.bars(asked, d)
	if beside {
		p.line("  \"Alone\" is the interval of that question by itself at one look: it promises less, and does not decide.")
	}
}

// tabled tells whether a question asks for a difference in the endpoint's unit.
func tabled(q protocol.Answer) bool {
	return q.Kind == protocol.Difference || q.Kind == protocol.SameAs || q.Kind == protocol.Contrast
}

func sameLimits(q protocol.Answer) bool {
	same := func(a, b *protocol.Number) bool { return a == b || a != nil && b != nil && *a == *b }
	return same(q.Low, q.PlainLow) && same(q.High, q.PlainHigh)
}

// promise words what the intervals hold for, beyond one question at one look.
func promise(a *protocol.Analysis) string {
	switch {
	case a.Looks.Anytime:
		return " valid however often one looks"
	case a.Family == nil:
		return ""
	case a.Family.Looks > 1 && a.Family.Price == nil:
		return fmt.Sprintf(" for %s and %d looks together", questionCount(a.Family.Questions), a.Family.Looks)
	case a.Family.Looks > 1:
		return fmt.Sprintf(" for %s and %d looks together, %.2f times as wide as for one", questionCount(a.Family.Questions), a.Family.Looks, float64(*a.Family.Price))
	}
	return fmt.Sprintf(" for %s together", questionCount(a.Family.Questions))
}

func questionCount(n int) string { return protocol.Count(n, "question", "questions") }

// ratioSet words the set of a ratio, whose shape says what its limits mean.
func ratioSet(q protocol.Answer) string {
	level := protocol.Percent(float64(q.Level)) + " Fieller set "
	if q.Scale == "log" {
		level = protocol.Percent(float64(q.Level)) + " interval of geometric means "
	}
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
