package label

import (
	"fmt"
	"slices"
	"strings"

	"mealtrial/protocol/problem"
	"mealtrial/protocol/yamldoc"
)

// A Match is something on a label that the tester avoids.
type Match struct {
	Avoid string `json:"avoid"` // as it stands in the avoid list
	Found string `json:"found"` // the ingredient or allergen
	Word  string `json:"word"`  // the word in it
	In    string `json:"in"`    // ingredients or allergens
}

// Words says what was found.
func (m Match) Words() string {
	if slices.Equal(words(m.Word), words(m.Avoid)) {
		return fmt.Sprintf("%q in the %s is on the avoid list (%s)", m.Found, m.In, m.Avoid)
	}
	return fmt.Sprintf("%q in the %s may hold what is on the avoid list (%s, by the word %q)", m.Found, m.In, m.Avoid, m.Word)
}

// An AvoidCheck is what comparing a label with an avoid list gave. No match is
// no promise: Text says so.
type AvoidCheck struct {
	Avoid   []string `json:"avoid"`
	Matches []Match  `json:"matches"`
	Notes   []string `json:"notes"` // words that look alike, or were passed over
	Text    string   `json:"text"`
}

// CanAvoid tells whether a text has a word that can be looked for.
func CanAvoid(text string) bool { return len(words(text)) > 0 }

// ReadAvoid reads a list of what a tester avoids. An entry without a letter or
// digit is recorded as a problem.
func ReadAvoid(n yamldoc.Node) []string {
	var out []string
	for _, item := range n.List() {
		text := item.Text()
		if text == "" {
			continue // complained about
		}
		for _, part := range strings.Split(text, ",") {
			if !CanAvoid(part) {
				item.Reject(item.Found(), "foods, ingredients or allergens, such as milk or tree nuts", "write each as it stands on labels")
				break
			}
			out = append(out, strings.TrimSpace(part))
		}
	}
	return out
}

// Avoids compares the ingredients and allergens with an avoid list, word by
// word and without case, accents or plural. A word of the list that names an
// allergen stands for its kinds as well, in English: milk for whey, gluten for
// barley. A label's "may contain" counts like any other text.
func (l *Label) Avoids(avoid []string) AvoidCheck {
	c := AvoidCheck{Avoid: append([]string{}, avoid...), Matches: []Match{}, Notes: []string{}}
	for _, term := range avoid {
		s := newSearch(term)
		for _, text := range pieces(l.Ingredients) {
			c.look(s, text, "ingredients")
		}
		for _, text := range pieces(l.Allergens) {
			c.look(s, text, "allergens")
		}
	}
	c.Text = c.words(len(l.Ingredients)+len(l.Allergens) > 0)
	return c
}

func (c *AvoidCheck) words(listed bool) string {
	const guarantee = "That is no guarantee: recipes change, traces need not be printed, and this list of words is not complete. Read the package each time; whether a food may be eaten is a question for a licensed clinician."
	switch {
	case len(c.Avoid) == 0:
		return "No avoid list was given, so nothing was compared."
	case len(c.Matches) > 0:
		return "Stop: the label names something on the avoid list. Do not test this food."
	case !listed:
		return "The label was entered without ingredients and allergens, so nothing could be compared. Read the package."
	}
	return "No word of the avoid list was found in what was entered. " + guarantee
}

// pieces cuts ingredient lists into ingredients.
func pieces(texts []string) (out []string) {
	for _, text := range texts {
		for _, piece := range strings.FieldsFunc(text, func(c rune) bool { return strings.ContainsRune(",;:.()[]{}、，", c) }) {
			if piece = strings.TrimSpace(piece); piece != "" {
				out = append(out, piece)
			}
		}
	}
	return out
}

// A search is one entry of an avoid list with everything that stands for it.
type search struct {
	term    string
	own     []string // its words
	phrases []phrase // what to look for, its own words first
}

// A phrase is words that stand one after the other.
type phrase struct {
	words []string
	milk  bool // means milk of animals, and not such as "coconut milk"
}

func newSearch(term string) search {
	s := search{term: term, own: words(term)}
	s.phrases = []phrase{{words: s.own}}
	own := strings.Join(s.own, " ")
	for _, f := range families {
		kind := slices.Contains(f.kinds, own)
		var more []string
		switch {
		case slices.Contains(f.names, own):
			more = append(slices.Clone(f.names), f.kinds...)
			kind = true
		case kind && f.collective:
			more = f.names
		}
		s.phrases[0].milk = s.phrases[0].milk || kind && f.name == milk
		for _, p := range more {
			s.phrases = append(s.phrases, phrase{strings.Fields(p), f.name == milk})
		}
	}
	return s
}

// look looks for an entry in one ingredient and records at most one match.
func (c *AvoidCheck) look(s search, text, in string) {
	tokens := words(text)
	passed := ""
	for _, p := range s.phrases {
		at := find(tokens, p.words)
		if at < 0 {
			continue
		}
		if p.milk && fromPlants(tokens, at) {
			passed = tokens[at-1] + " " + tokens[at]
			continue
		}
		c.Matches = append(c.Matches, Match{Avoid: s.term, Found: text, Word: strings.Join(p.words, " "), In: in})
		return
	}
	switch {
	case unspaced(s.term) && strings.Contains(strings.Join(tokens, ""), strings.Join(s.own, "")):
		c.Matches = append(c.Matches, Match{Avoid: s.term, Found: text, Word: s.term, In: in})
	case passed != "":
		c.note(fmt.Sprintf("%q in the %s was passed over, as %s is made of plants; %q is on the avoid list.", text, in, passed, s.term))
	default:
		c.lookAlikes(s, tokens, text, in)
	}
}

// fromPlants tells names such as "coconut milk", at the end of an ingredient or
// before "powder": "almond milk chocolate" is chocolate with milk.
func fromPlants(tokens []string, at int) bool {
	if at == 0 || !slices.Contains(plantNames[tokens[at]], tokens[at-1]) {
		return false
	}
	return at+1 == len(tokens) || at+2 == len(tokens) && slices.Contains([]string{"powder", "drink", "extract"}, tokens[at+1])
}

// lookAlikes notes words that have an entry inside: other languages write
// ingredients as one word.
func (c *AvoidCheck) lookAlikes(s search, tokens []string, text, in string) {
	const shortest = 4 // letters; shorter ones stand in too many words
	if len(s.own) != 1 || len([]rune(s.own[0])) < shortest {
		return
	}
	for _, t := range tokens {
		if strings.Contains(t, s.own[0]) {
			c.note(fmt.Sprintf("%q in the %s has %q in it, which is on the avoid list: find out what it is before you eat it.", text, in, s.term))
			return
		}
	}
}

func (c *AvoidCheck) note(text string) {
	if !slices.Contains(c.Notes, text) {
		c.Notes = append(c.Notes, text)
	}
}

// Stops returns a problem for each thing on the label that the tester avoids,
// at the place in the file where it was written. food is how the person names
// the food. A nil Label has none.
func (l *Label) Stops(file, food string, avoid []string) problem.List {
	if l == nil {
		return nil
	}
	var list problem.List
	for _, m := range l.Avoids(avoid).Matches {
		at := l.ingredients
		if m.In == "allergens" {
			at = l.allergens
		}
		list = append(list, problem.Problem{File: file, Line: at.line, Field: at.field, Found: m.Words() + ", in the food " + food,
			Expected: "no food with what you avoid", Mend: "take the food out of the study; whether it may be eaten is a question for a licensed clinician"})
	}
	return list
}
