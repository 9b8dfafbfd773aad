package protocol

import (
	"mealtrial/design"
	"mealtrial/stats/additive"
	"mealtrial/stats/null"
)

// Studies from which the chances of stopping early are simulated: a standard error
// of at most 0.4 points.
const (
	stopStudies = 20_000
	stopSeed    = 1
)

// stops tells how soon a question is settled by the looks of a layout, if there are
// several.
func (s *Study) stops(q Question, slots []design.Slot, sizes []Number, o PowerOptions) []StopRow {
	rows := []StopRow{}
	f := &Folder{Study: s, Schedule: s.scheduleOf(slots), Log: &Log{}}
	after := s.Looks.of(len(f.blocksInTime()))
	sequence := design.Sequence{Contrast: s.Weights(q), Margin: s.Margin, Looks: f.decisions(q)}
	if len(after) < 2 || len(sequence.Looks) != len(after) {
		return rows
	}
	for _, slot := range slots {
		if s.Foods[slot.Treatment].Role != RoleBlank || sequence.Contrast[slot.Treatment] != 0 {
			sequence.Layout = append(sequence.Layout, additive.Observation{Treatment: slot.Treatment, Block: slot.Block})
		}
	}
	for _, size := range sizes {
		looks, tests, err := sequence.Settle(float64(size), o.SD, o.DF, stopStudies, stopSeed)
		if err != nil {
			return []StopRow{}
		}
		row := StopRow{Difference: size, Tests: Number(tests)}
		for k, l := range looks {
			row.Looks = append(row.Looks, StopChance{after[k], Number(l.By), Number(l.Wrong)})
		}
		rows = append(rows, row)
	}
	return rows
}

// decisions are the planned looks with the nominal level of a question at each; nil
// where a look has none, as where each food has a spread of its own.
func (f *Folder) decisions(q Question) (out []design.Decision) {
	s := f.Study
	state := f.lookState()
	questions := s.ask(func(int) bool { return true })
	asked, all, of := questions.main, questions.comparisons(), ofMain
	if s.withBlank(q) {
		asked, of = questions.blank, ofBlank
	}
	if s.OwnSpread || len(asked) == 0 {
		return nil
	}
	d, _ := f.nullDesign(state, nil, of)
	d.Taken, d.SpreadDF = nil, 0 // with the spread of this study alone
	at := 0                      // the question among them
	for i, other := range asked {
		if other.key() == q.key() && other.Text == q.Text {
			at = i
		}
		d.Contrasts = append(d.Contrasts, s.Weights(other))
	}
	bound, err := null.Find(d, s.Looks.Shape, (1-s.Level)*float64(len(asked))/float64(all), familyStudies, familySeed)
	if err != nil || len(d.Looks) != len(state.After) {
		return nil
	}
	for k, n := range d.Looks {
		level := q.Kind.tails() * bound.Level[k]
		if bound.Level[k] < leastLevel || !bound.Estimable[k][at] {
			level = 0
		}
		out = append(out, design.Decision{Tests: n, Level: level})
	}
	return out
}
