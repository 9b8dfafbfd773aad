package protocol

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"mealtrial/protocol/yamldoc"
)

// readQuestions reads the questions; where the study asks nothing, every test
// food is compared with the reference.
func (s *Study) readQuestions(n yamldoc.Node) {
	seen := map[string]bool{}
	for _, item := range n.List() {
		for _, q := range s.readQuestion(item) {
			key, mirror := q.key(), Question{Kind: q.Kind, A: q.B, B: q.A, Limit: q.Limit}.key()
			if seen[key] || seen[mirror] {
				item.Reject(item.Found()+", which is asked already", "each question once, in one direction", "take one of them out")
				continue
			}
			seen[key] = true
			s.Questions = append(s.Questions, q)
		}
	}
	if !n.Present() && s.Reference() >= 0 {
		s.Questions = s.eachAgainstReference()
	}
}

func (q Question) key() string { return fmt.Sprintf("%s %s %s %g", q.Kind, q.A, q.B, q.Limit) }

func newQuestion(a, b string) Question {
	return Question{Text: a + " vs " + b, Kind: Difference, A: a, B: b}
}

func (s *Study) eachAgainstReference() (out []Question) {
	ref := s.Reference()
	for i, f := range s.Foods {
		if f.Role == RoleTest && i != ref {
			out = append(out, newQuestion(f.ID, s.Foods[ref].ID))
		}
	}
	return out
}

// allPairs compares every food but the blank with every later one.
func (s *Study) allPairs() (out []Question) {
	for i, a := range s.Foods {
		for _, b := range s.Foods[i+1:] {
			if a.Role != RoleBlank && b.Role != RoleBlank {
				out = append(out, newQuestion(a.ID, b.ID))
			}
		}
	}
	return out
}

const questionExpected = "a question such as \"lupin vs wheat\" (the answer is lupin minus wheat), \"lupin vs wheat as ratio\", \"lupin below 30\", " +
	"\"next lupin below 30\", \"lupin same as wheat\", \"each vs reference\", \"all pairs\" or a contrast such as \"(lupin+cheese) - lupin vs (wheat+cheese) - wheat\""

// readQuestion reads one entry, which may stand for several questions.
func (s *Study) readQuestion(item yamldoc.Node) []Question {
	if item.IsMap() {
		m := item.Map("ask", "primary")
		if !m["ask"].Present() {
			item.Reject("no ask", "a question such as {ask: lupin vs wheat, primary: yes}", "")
			return nil
		}
		questions := s.readQuestion(m["ask"])
		for i := range questions {
			questions[i].Primary = m["primary"].YesNo()
		}
		return questions
	}
	words := strings.Fields(item.Text())
	switch text := strings.Join(words, " "); {
	case text == "all pairs":
		return s.allPairs()
	case text == "each vs reference":
		if s.Reference() < 0 {
			item.Reject(item.Found(), "a food with role: reference", "name one")
			return nil
		}
		return s.eachAgainstReference()
	case len(words) == 3 && words[1] == "vs":
		return s.compared(item, words[0], words[2], Difference)
	case len(words) == 5 && words[1] == "vs" && words[3] == "as" && words[4] == "ratio":
		return s.compared(item, words[0], words[2], Ratio)
	case len(words) == 4 && words[1] == "same" && words[2] == "as":
		return s.same(item, words[0], words[3])
	case len(words) == 3 && words[1] == "below":
		return s.limited(item, words[0], words[2], Below)
	case len(words) == 4 && words[0] == "next" && words[2] == "below":
		return s.limited(item, words[1], words[3], NextBelow)
	case slices.Contains(words, "vs"):
		return s.contrasted(item, words)
	}
	item.Reject(item.Found(), questionExpected, "")
	return nil
}

func (s *Study) known(item yamldoc.Node, ids ...string) bool {
	ok := true
	for _, id := range ids {
		if s.Food(id) < 0 {
			item.Reject(fmt.Sprintf("the food %q", id), "one of the foods "+strings.Join(s.foodIDs(), ", "), yamldoc.DidYouMean(id, s.foodIDs()))
			ok = false
		}
	}
	return ok
}

func (s *Study) compared(item yamldoc.Node, a, b string, kind QuestionKind) []Question {
	if !s.known(item, a, b) {
		return nil
	}
	if a == b {
		item.Reject(item.Found(), "two different foods", "")
		return nil
	}
	q := newQuestion(a, b)
	switch q.Kind = kind; kind {
	case Ratio:
		q.Text += " as ratio"
	case SameAs:
		q.Text = a + " same as " + b
	}
	return []Question{q}
}

// same asks whether two foods differ by less than the margin.
func (s *Study) same(item yamldoc.Node, a, b string) []Question {
	if s.Margin <= 0 {
		item.Reject(item.Found()+" without a margin", "the smallest difference that matters, as nothing can be shown to be exactly equal", "add for example margin: 8")
		return nil
	}
	return s.compared(item, a, b, SameAs)
}

// contrasted reads a contrast: on each side of vs foods with + and − between
// them, a number before a food its weight. A food whose id has a + or − in it
// stands in parentheses. The weights have to cancel out.
func (s *Study) contrasted(item yamldoc.Node, words []string) []Question {
	at := slices.Index(words, "vs")
	q := Question{Text: strings.Join(words, " "), Kind: Contrast, A: strings.Join(words[:at], " "), B: strings.Join(words[at+1:], " ")}
	left, okLeft := s.terms(item, words[:at])
	right, okRight := s.terms(item, words[at+1:])
	if !okLeft || !okRight {
		return nil
	}
	for _, t := range right {
		left = append(left, Term{t.Food, -t.Weight})
	}
	q.Terms = left
	sum, size := 0.0, 0.0
	for _, w := range s.Weights(q) {
		sum += w
		size += math.Abs(w)
	}
	const rounding = 1e-12 // what additive.Fit.Contrast takes for zero
	if math.Abs(sum) > rounding*size || size < rounding {
		item.Reject(fmt.Sprintf("%s, whose weights add to %s", item.Found(), plain(sum)), "a contrast: what is added on one side is taken away or stands on the other, and something is left",
			"write for example \"lupin + konjac + rye vs 3 wheat\" or \"(lupin+cheese) - lupin vs (wheat+cheese) - wheat\"")
		return nil
	}
	return []Question{q}
}

// terms reads one side of a contrast.
func (s *Study) terms(item yamldoc.Node, words []string) (terms []Term, ok bool) {
	sign, weight, food := 1.0, 1.0, false // food: an operator has to come next
	for _, word := range words {
		if food {
			if word != "+" && word != "-" && word != "−" {
				food = false // two foods side by side
				break
			}
			sign, weight, food = 1, 1, false
			if word != "+" {
				sign = -1
			}
			continue
		}
		if x, err := strconv.ParseFloat(strings.TrimSuffix(word, "*"), 64); err == nil && s.Food(word) < 0 {
			if !(x > 0 && x <= 1000) {
				break
			}
			weight = x
			continue
		}
		id := word
		if s.Food(id) < 0 && strings.HasPrefix(word, "(") && strings.HasSuffix(word, ")") {
			id = word[1 : len(word)-1]
		}
		if !s.known(item, id) {
			return nil, false
		}
		terms, food = append(terms, Term{id, sign * weight}), true
	}
	if !food || len(terms) == 0 {
		item.Reject(item.Found(), "foods with + or - between them, with spaces, on both sides of vs", "")
		return nil, false
	}
	return terms, true
}

func (s *Study) limited(item yamldoc.Node, a, number string, kind QuestionKind) []Question {
	if !s.known(item, a) {
		return nil
	}
	x, err := strconv.ParseFloat(number, 64)
	if err != nil || math.IsNaN(x) || math.Abs(x) > 1e6 {
		item.Reject(item.Found(), "a limit in "+s.Endpoint.Unit()+", such as \"lupin below 30\"", "")
		return nil
	}
	return []Question{{Text: strings.Join(strings.Fields(item.Text()), " "), Kind: kind, A: a, Limit: x}}
}

// comparisons are the questions about two foods, differences and ratios alike.
func (s *Study) comparisons() (out []Question) {
	for _, q := range s.Questions {
		if q.B != "" {
			out = append(out, q)
		}
	}
	return out
}
