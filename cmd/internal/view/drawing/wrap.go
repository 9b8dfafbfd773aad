package drawing

import (
	"strings"
	"unicode/utf8"

	"github.com/clipperhouse/uax29/v2/graphemes"
)

// ellipsis stands for what was left out.
const ellipsis = "…"

// Wrap breaks a text into at most so many lines, none wider than most pixels. What
// does not fit is left out in the middle, as names often differ in their ends;
// short then tells so. A line holds at least one letter, however narrow it is.
func Wrap(text string, size float64, bold bool, most float64, lines int) (out []string, short bool) {
	text = clean(text)
	if out = breakLines(text, size, bold, most); len(out) <= lines {
		return out, false
	}
	letters := split(text)
	low, high := 0, len(letters)-1 // kept: low fits, high + 1 does not
	for low < high {
		keep := (low + high + 1) / 2
		if len(breakLines(abbreviate(letters, keep), size, bold, most)) <= lines {
			low = keep
		} else {
			high = keep - 1
		}
	}
	return breakLines(abbreviate(letters, low), size, bold, most), true
}

// abbreviate keeps so many letters, the greater half of them from the start.
func abbreviate(letters []string, keep int) string {
	head, tail := (keep+1)/2, keep/2
	return strings.TrimSpace(strings.Join(letters[:head], "")) + ellipsis + strings.TrimSpace(strings.Join(letters[len(letters)-tail:], ""))
}

func split(text string) (letters []string) {
	clusters := graphemes.FromString(text)
	for clusters.Next() {
		letters = append(letters, clusters.Value())
	}
	return letters
}

// breakLines breaks at spaces, after hyphens, between wide letters,
// and anywhere in a word that is too long.
func breakLines(text string, size float64, bold bool, most float64) []string {
	var lines []string
	line := ""
	fits := func(s string) bool { return Width(strings.TrimRight(s, " "), size, bold) <= most }
	flush := func() {
		if line = strings.TrimSpace(line); line != "" {
			lines = append(lines, line)
		}
		line = ""
	}
	for _, word := range words(text) {
		if fits(line + word) {
			line += word
			continue
		}
		flush()
		for _, letter := range split(word) {
			if line != "" && !fits(line+letter) {
				flush()
			}
			line += letter
		}
	}
	flush()
	return lines
}

// words are the pieces of a text between which a line may break; each keeps the
// space behind it.
func words(text string) (out []string) {
	start, at := 0, 0
	for _, letter := range split(text) {
		at += len(letter)
		r, _ := utf8.DecodeRuneInString(letter)
		if letter == " " || letter == "-" || letter == ellipsis || isWide(r) {
			out = append(out, text[start:at])
			start = at
		}
	}
	if start < len(text) {
		out = append(out, text[start:])
	}
	return out
}
