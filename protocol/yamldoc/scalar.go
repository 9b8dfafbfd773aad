package yamldoc

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"

	"gopkg.in/yaml.v3"
)

// scalar returns the text of a plain value; ok is false for an absent one and,
// with a problem recorded, for a mapping or list.
func (n Node) scalar(expected string) (text string, ok bool) {
	if !n.Present() {
		return "", false
	}
	if n.yaml.Kind != yaml.ScalarNode {
		n.Reject(n.Found(), expected, "")
		return "", false
	}
	return strings.TrimSpace(n.yaml.Value), true
}

// Text returns a text without control characters, "" when absent.
func (n Node) Text() string {
	text, ok := n.scalar("a text")
	if !ok {
		return ""
	}
	for _, c := range text {
		if unicode.IsControl(c) && c != '\n' && c != '\t' || hidden(c) {
			n.Reject(strconv.QuoteToASCII(text), "a text without control or invisible characters", "take them out")
			return ""
		}
	}
	return strings.Join(strings.Fields(text), " ")
}

// hidden tells characters that change how a text is shown without being seen:
// overrides of the writing direction and blanks of no width (Unicode Technical
// Report 36, section 2). Joiners stay, as scripts and emoji need them.
func hidden(c rune) bool {
	return c >= 0x202a && c <= 0x202e || c >= 0x2066 && c <= 0x2069 || c == 0x200b || c == 0x2060 || c == 0xfeff
}

// Number returns a finite decimal number; ok is false when it is absent or, with
// a problem recorded, anything else. expected names what may stand here.
func (n Node) Number(expected string) (x float64, ok bool) {
	text, ok := n.scalar(expected)
	if !ok {
		return 0, false
	}
	x, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsNaN(x) || math.IsInf(x, 0) || strings.ContainsAny(text, "xXpP_") {
		mend := "write the number in digits, with a point for decimals"
		if comma := strings.Replace(text, ",", ".", 1); comma != text {
			if _, err := strconv.ParseFloat(comma, 64); err == nil {
				mend = "write the decimals with a point: " + comma
			}
		}
		n.Reject(n.Found(), expected, mend)
		return 0, false
	}
	return x, true
}

// Whole returns a whole number from lowest to highest, or fallback when it is
// absent or wrong.
func (n Node) Whole(lowest, highest, fallback int) int {
	expected := fmt.Sprintf("a whole number from %d to %d", lowest, highest)
	text, ok := n.scalar(expected)
	if !ok {
		return fallback
	}
	x, err := strconv.Atoi(text)
	if err != nil || x < lowest || x > highest {
		n.Reject(n.Found(), expected, fmt.Sprintf("write for example %d", max(lowest, fallback)))
		return fallback
	}
	return x
}

// YesNo returns true for yes or true, false for no, false or an absent value.
func (n Node) YesNo() bool {
	text, ok := n.scalar("yes or no")
	if !ok {
		return false
	}
	switch strings.ToLower(text) {
	case "yes", "true":
		return true
	case "no", "false":
		return false
	}
	n.Reject(n.Found(), "yes or no", "")
	return false
}

// OneOf returns a text that is one of the choices, or the first choice when it
// is absent or wrong.
func (n Node) OneOf(choices ...string) string {
	text, ok := n.scalar("one of " + strings.Join(choices, ", "))
	if !ok {
		return choices[0]
	}
	for _, c := range choices {
		if c == text {
			return c
		}
	}
	n.Reject(n.Found(), "one of "+strings.Join(choices, ", "), DidYouMean(text, choices))
	return choices[0]
}

// DidYouMean returns "did you mean x?" for the choice nearest to a misspelt
// word, and "" where none is near.
func DidYouMean(word string, choices []string) string {
	best, distance := "", len(word)/2+1
	for _, c := range choices {
		if d := editDistance(strings.ToLower(word), strings.ToLower(c)); d < distance {
			best, distance = c, d
		}
	}
	if best == "" {
		return ""
	}
	return fmt.Sprintf("did you mean %q?", best)
}

// editDistance counts the insertions, deletions and substitutions that turn a
// into b (Levenshtein 1966, Soviet Physics Doklady 10:707).
func editDistance(a, b string) int {
	from, to := []rune(a), []rune(b)
	row := make([]int, len(to)+1)
	for j := range row {
		row[j] = j
	}
	for i, x := range from {
		diagonal := row[0]
		row[0] = i + 1
		for j, y := range to {
			cost := diagonal
			if x != y {
				cost++
			}
			diagonal = row[j+1]
			row[j+1] = min(cost, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(to)]
}
