package protocol

import (
	"fmt"
	"math"
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
	"\"next lupin below 30\", \"each vs reference\" or \"all pairs\""

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
	case len(words) == 3 && words[1] == "below":
		return s.limited(item, words[0], words[2], Below)
	case len(words) == 4 && words[0] == "next" && words[2] == "below":
		return s.limited(item, words[1], words[3], NextBelow)
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
	if q.Kind = kind; kind == Ratio {
		q.Text += " as ratio"
	}
	return []Question{q}
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
