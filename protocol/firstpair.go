package protocol

import (
	"math"

	"mealtrial/protocol/problem"
)

// FirstPair is what two single tests would have said about a question on a
// difference: the first test that counts of each food, in the first block that
// has both, else wherever they were eaten. Its interval rests on the spread that
// the whole study found: of tests in one block, or of tests on any two days. The
// error is a problem.List: another kind of question, or no such tests or spread.
func (f *Folder) FirstPair(a *Analysis, q Answer) (*Gap, error) {
	refuse := func(found, expected string) (*Gap, error) {
		return nil, problem.List{{File: StudyFile, Field: "questions", Found: q.Question + ", " + found, Expected: expected, Mend: "name another question"}}
	}
	if q.Kind != Difference {
		return refuse("which is no plain difference of two foods", "a question such as \"a vs b\"")
	}
	responses, _ := f.Responses()
	first := map[string]*Response{}
	inBlock := map[int]map[string]*Response{}
	var both map[string]*Response
	for i := range responses {
		r := &responses[i]
		if !r.Counts() || r.Food != q.A && r.Food != q.B {
			continue
		}
		if first[r.Food] == nil {
			first[r.Food] = r
		}
		if r.Block == 0 {
			continue
		}
		if inBlock[r.Block] == nil {
			inBlock[r.Block] = map[string]*Response{}
		}
		if here := inBlock[r.Block]; here[r.Food] == nil {
			here[r.Food] = r
			if both == nil && len(here) == 2 {
				both = here
			}
		}
	}
	spread, from := &a.WithinPersonSD, "tests of one food in one block of this study"
	switch {
	case both != nil:
		first = both
	case a.BetweenDaysSD != nil:
		spread, from = a.BetweenDaysSD, "tests of one food on any two days of this study"
	default:
		from = "tests of one food in this study"
	}
	if first[q.A] == nil || first[q.B] == nil {
		return refuse("with a food that has no test that counts", "a test of each")
	}
	if spread.Value == nil {
		return refuse("with no spread from test to test", "repeated tests")
	}
	margin := 0.0
	if q.Margin != nil {
		margin = float64(*q.Margin)
	}
	df := float64(spread.DF)
	if df < 1 {
		df = math.Inf(1)
	}
	one := func(id string) GapSide {
		return GapSide{Name: f.Study.Foods[f.Study.Food(id)].Name, Value: *first[id].Value, Tests: 1}
	}
	return NewGap(one(q.A), one(q.B), a.Endpoint.Unit, &GapSpread{SD: *spread.Value, DF: df}, from, margin, f.Study.Level), nil
}
