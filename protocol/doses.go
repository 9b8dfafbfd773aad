package protocol

import "mealtrial/protocol/label"

// Doses compares the available carbohydrate of the two portions of each question
// about two foods, first minus second, where both have a label. A contrast has more
// than one dose a side and is left out.
func (s *Study) Doses() (out []label.DoseComparison) {
	for _, q := range s.comparisons() {
		if q.Kind == Contrast {
			continue
		}
		a, b := s.Foods[s.Food(q.A)].Label, s.Foods[s.Food(q.B)].Label
		if a != nil && b != nil {
			out = append(out, label.CompareDoses(q.A, a.Dose(), q.B, b.Dose()))
		}
	}
	return out
}

// doseDoubts flags the questions whose foods do not hold the same dose, or may not.
func (f *Folder) doseDoubts(add func(string, ...any)) {
	for _, c := range f.Study.Doses() {
		if c.Relation != label.EqualDoses {
			add("%s vs %s: %s", c.A, c.B, c.Text)
		}
		if c.WhyNotIndex != "" {
			add("%s vs %s: %s", c.A, c.B, c.WhyNotIndex)
		}
	}
}
