// Package problem says what is wrong in a file that a person wrote: where,
// what was found, what was expected and how to mend it.
//
// The user's data never makes a program of ours panic: a reader collects the
// problems of a file in a List and returns them together as one error, so that
// a person can mend the file in one go.
package problem

import (
	"fmt"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// A Problem is one thing wrong in one place of a study's files.
type Problem struct {
	File     string // path inside the study folder, for example "study.yaml"
	Line     int    // line in File, from 1; 0 when the whole file is meant
	Field    string // for example "plan.repeats" or "foods[2].id"; may be empty
	Found    string // what stands there, quoted where it is the person's text
	Expected string // what may stand there; may be empty
	Mend     string // what to type or do next; may be empty
}

// Error gives the problem on one line:
//
//	file:line: field: found …, expected …; mend
func (p Problem) Error() string {
	var b strings.Builder
	b.WriteString(p.File)
	if p.Line > 0 {
		fmt.Fprintf(&b, ":%d", p.Line)
	}
	b.WriteString(": ")
	if p.Field != "" {
		b.WriteString(p.Field + ": ")
	}
	b.WriteString("found " + p.Found)
	if p.Expected != "" {
		b.WriteString(", expected " + p.Expected)
	}
	if p.Mend != "" {
		b.WriteString("; " + p.Mend)
	}
	return Visible(b.String())
}

// Visible writes characters that steer a terminal, or change how a text is shown
// without being seen, as escapes: names of files and keys come from others. Those are
// the control characters and the overrides of the writing direction (Unicode
// Technical Report 36, section 2).
func Visible(text string) string {
	steers := func(c rune) bool {
		return unicode.IsControl(c) || c >= 0x202a && c <= 0x202e || c >= 0x2066 && c <= 0x2069
	}
	if !strings.ContainsFunc(text, steers) && utf8.ValidString(text) {
		return text
	}
	var b strings.Builder
	for _, c := range text {
		if steers(c) {
			quoted := strconv.QuoteRuneToASCII(c)
			b.WriteString(quoted[1 : len(quoted)-1])
			continue
		}
		b.WriteRune(c)
	}
	return b.String()
}

// A List is the problems of one or more files, in the order of discovery.
type List []Problem

// Error gives one problem a line.
func (l List) Error() string {
	lines := make([]string, len(l))
	for i, p := range l {
		lines[i] = p.Error()
	}
	return strings.Join(lines, "\n")
}

// Err returns the list as an error, or nil when it is empty.
func (l List) Err() error {
	if len(l) == 0 {
		return nil
	}
	return l
}
