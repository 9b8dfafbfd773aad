package label

import (
	"slices"
	"strings"
	"unicode"

	"golang.org/x/text/cases"
	"golang.org/x/text/unicode/norm"
)

// letters that have no accent to take off but are written for others.
var plainLetters = strings.NewReplacer("œ", "oe", "æ", "ae", "ø", "o", "ł", "l", "đ", "d", "ı", "i", "'", "", "’", "")

// fold takes off case, accents and apostrophes (Unicode compatibility
// decomposition without its marks, then full case folding).
func fold(text string) string {
	text = cases.Fold().String(norm.NFKD.String(text))
	return plainLetters.Replace(strings.Map(func(c rune) rune {
		if unicode.Is(unicode.Mn, c) {
			return -1
		}
		return c
	}, text))
}

// words cuts a text into folded words in the singular.
func words(text string) []string {
	all := strings.FieldsFunc(fold(text), func(c rune) bool { return !unicode.IsLetter(c) && !unicode.IsNumber(c) && !unicode.Is(unicode.Mc, c) })
	for i, w := range all {
		all[i] = singular(w)
	}
	return all
}

// singular takes off the endings of an English plural. It need not make a word,
// only the same one of both numbers.
func singular(w string) string {
	for _, ending := range []struct{ plural, singular string }{{"ies", "y"}, {"sses", "ss"}, {"shes", "sh"}, {"ches", "ch"}, {"xes", "x"}, {"puses", "pus"}} {
		if stem, yes := strings.CutSuffix(w, ending.plural); yes && len(stem) > 1 {
			return stem + ending.singular
		}
	}
	if len(w) > 3 && strings.HasSuffix(w, "s") && !strings.HasSuffix(w, "ss") && !strings.HasSuffix(w, "us") && !strings.HasSuffix(w, "is") {
		return w[:len(w)-1]
	}
	return w
}

// find returns where the words of a phrase stand in a text, one after the
// other, and −1 where they do not.
func find(text, phrase []string) int {
	if len(phrase) == 0 {
		return -1
	}
	for i := 0; i+len(phrase) <= len(text); i++ {
		if slices.Equal(text[i:i+len(phrase)], phrase) {
			return i
		}
	}
	return -1
}

// unspaced tells scripts that are written without blanks between words.
func unspaced(text string) bool {
	return strings.ContainsFunc(text, func(c rune) bool {
		return unicode.In(c, unicode.Han, unicode.Hiragana, unicode.Katakana, unicode.Thai, unicode.Lao, unicode.Khmer, unicode.Myanmar)
	})
}
