package view

import (
	"fmt"
	"io"
	"strings"

	"mealtrial/protocol"
)

// Pinned writes the text that stands below a film, as Markdown: each answer with
// its interval and number of tests, the methods in three lines, and the caution.
func Pinned(w io.Writer, a *protocol.Analysis) error {
	p := &printer{w: w}
	title := a.Title
	if title == "" {
		title = "Food tests"
	}
	p.line("**%s: results in one person**", markdown(title))
	p.line("")
	if len(a.Questions) == 0 {
		p.line("- No question was asked.")
	}
	for _, q := range a.Questions {
		p.line("- %s", markdown(speaker{a, q}.short()))
	}
	p.line("")
	p.line("Methods:")
	p.line("")
	for i, line := range methodsInThree(a) {
		p.line("%d. %s", i+1, markdown(line))
	}
	for _, warning := range a.Warnings {
		if strings.Contains(warning, " is fragile") || strings.Contains(warning, "depends on leaving tests out") {
			p.line("")
			p.line("%s", markdown(warning))
		}
	}
	p.line("")
	p.line("%s", markdown(a.Caution))
	return p.err
}

// methodsInThree are what was measured and how often, how it was analysed, and
// what it can be checked by.
func methodsInThree(a *protocol.Analysis) []string {
	order := "The order of the tests was not random throughout"
	if a.Randomised {
		order = "The order of the tests was drawn at random"
	}
	left := ""
	if n := len(a.Excluded); n > 0 {
		left = fmt.Sprintf(", %d left out", n)
	}
	sd := "no estimate of the within-person SD"
	if v := a.WithinPersonSD; v.Value != nil {
		sd = fmt.Sprintf("within-person SD %s %s (%s)", cell(v.Value, decimalsOf(a)), a.Endpoint.Unit, degrees(v.DF))
	}
	seed := "no seed"
	if a.Seed != 0 {
		seed = fmt.Sprintf("seed %d", a.Seed)
	}
	return []string{
		fmt.Sprintf("%s of glucose over %s min after the first bite, %s%s%s. %s (%s).", capital(a.Endpoint.InWords()), value(float64(a.Endpoint.Window)), tests(a.Tests), inBlocks(a.Blocks), left, order, seed),
		fmt.Sprintf("%s; %s; %s intervals%s: %s.", capital(a.Model), sd, protocol.Percent(levelOf(a)), promise(a), a.IntervalMethod()),
		fmt.Sprintf("Study file SHA-256 %s, %s; made with %s.", a.StudyDigest, LockWords(a), a.Program),
	}
}

// LockWords say what became of the study file since the draw.
func LockWords(a *protocol.Analysis) string {
	switch a.Lock {
	case protocol.LockKept:
		return "unchanged since the order was drawn"
	case protocol.LockChanged:
		return "changed after the order was drawn"
	}
	return "with no drawn order to lock it"
}

// markdown lets text stand as it is: characters with a meaning are escaped
// (CommonMark 0.31, section 2.4), so that a name is neither markup nor a link.
func markdown(text string) string {
	var b strings.Builder
	for _, r := range oneLine(text) {
		if strings.ContainsRune("\\`*_[]<>#|~&", r) {
			b.WriteByte('\\')
		}
		b.WriteRune(r)
	}
	return b.String()
}
