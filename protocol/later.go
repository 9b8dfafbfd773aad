package protocol

import (
	"strconv"
	"strings"

	"mealtrial/protocol/problem"
	"mealtrial/protocol/yamldoc"
)

// Ask adds questions that were not declared. They are answered, marked as asked
// after the data, and in no family. The error is a problem.List.
func (f *Folder) Ask(texts []string) error {
	if len(texts) == 0 {
		return nil
	}
	var list strings.Builder
	for _, text := range texts {
		list.WriteString("- " + strconv.Quote(text) + "\n")
	}
	r := &yamldoc.Reader{File: "--ask"}
	clean, ok := r.Clean([]byte(list.String()))
	if !ok {
		return r.Err()
	}
	root, ok := r.Parse(yamldoc.Split(clean)[0])
	if !ok {
		return r.Err()
	}
	for _, item := range root.List() {
		for _, q := range f.Study.readQuestion(item) {
			if f.Study.asks(q) {
				return problem.List{{File: "--ask", Found: strconv.Quote(q.Text) + ", which the study file asks", Expected: "a question that was not declared", Mend: "take it out; the answer is among the declared ones"}}
			}
			f.later = append(f.later, q)
		}
	}
	return r.Err()
}

// asks tells whether a question was declared, in this direction or the other.
func (s *Study) asks(q Question) bool {
	mirror := q
	mirror.A, mirror.B = q.B, q.A
	for _, o := range s.Questions {
		if o.key() == q.key() || o.key() == mirror.key() {
			return true
		}
	}
	return false
}

// answerLater answers the questions that were asked after the data, each for
// itself.
func (a *Analysis) answerLater(f *Folder, m models) {
	for _, q := range f.later {
		out := m.answer(f.Study, q)
		out.Later = true
		out.setPlain()
		if a.Looks.Anytime && out.Method != methodNone {
			m.anytime(f.Study, q, &out, Levels{anytime: 1 - f.Study.Level, anytimeLimits: 1 - f.Study.Level})
		}
		a.Questions = append(a.Questions, out)
	}
}

// A RehearsedLook says what a look would be, without any estimate.
type RehearsedLook struct {
	Looks     LookState `json:"looks"`
	Tests     int       `json:"tests"`
	DF        int       `json:"df"`
	Questions []Dry     `json:"questions"`
	Family    *Family   `json:"family"`
	Caution   string    `json:"caution"`
	// Safety are reasons to stop and seek advice; every view shows them first.
	Safety []SafetyLine `json:"safety"`
}

// A Dry question has the width of its interval and nothing of its place.
type Dry struct {
	Question  string  `json:"question"`
	Tests     int     `json:"tests"`
	HalfWidth *Number `json:"half_width_in_sd"` // in within-person SDs; nil: no interval of this kind, or none yet
	Missing   string  `json:"missing,omitempty"`
}

// Dry tells what Analyse would look at, and prints nothing by food: it is no
// look.
func (a *Analysis) Dry() *RehearsedLook {
	out := &RehearsedLook{Looks: a.Looks, Tests: a.Tests, DF: a.WithinPersonSD.DF, Questions: []Dry{}, Family: a.Family, Safety: a.Safety, Caution: a.Caution}
	for _, q := range a.Questions {
		d := Dry{Question: q.Question, Tests: q.Tests, Missing: q.Missing}
		if sd := a.WithinPersonSD.Value; sd != nil && q.Low != nil && q.High != nil && q.Kind != Ratio && q.Method != methodAnytime {
			d.HalfWidth = some(float64(*q.High-*q.Low) / 2 / float64(*sd))
		}
		out.Questions = append(out.Questions, d)
	}
	return out
}
