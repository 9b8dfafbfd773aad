package protocol

import (
	"mealtrial/stats/rank"
)

const methodRating = "difference of means within blocks, held against the draw of the schedule, and the share of pairs within a block with its rank test; each for itself, in no family"

// ratingOutcome compares ratings by the draw alone: their distances are not equal
// steps, so no spread is assumed of them.
func (f *Folder) ratingOutcome(r *OutcomeResult, counted []Response) {
	s := f.Study.unborrowed()
	r.Method = methodRating
	means := map[string]*Number{}
	for i, food := range s.Foods {
		of := OutcomeFood{Food: food.ID, Level: Number(s.Level)}
		sum := 0.0
		for _, x := range counted {
			if x.food == i {
				of.Tests++
				sum += float64(*x.Value)
			}
		}
		if of.Tests > 0 {
			of.Mean = some(sum / float64(of.Tests))
		}
		of.spanned(counted, i)
		means[food.ID] = of.Mean
		r.Foods = append(r.Foods, of)
	}
	m := newModels(s, counted)
	j := f.judge(counted)
	if j.why != "" {
		r.Notes = append(r.Notes, j.why+"; the rank test takes the tests of a block as interchangeable instead")
	}
	for _, q := range s.pairsAsked() {
		out := s.outcomeAnswer(q, counted)
		if out.Missing == "" {
			f.compareRatings(q, m, j, &out)
		}
		other := means[q.B]
		if r.Matters == nil || r.MattersWhy == "as declared" {
			other = nil
		}
		out.reach(r.Matters, other)
		r.Questions = append(r.Questions, out)
	}
}

// compareRatings compares two foods: the difference of means in the model of the
// main endpoint, tested against the draw, and ranks within blocks.
func (f *Folder) compareRatings(q Question, m models, j judge, out *OutcomeAnswer) {
	s := f.Study
	sample := m.of(s, s.foodsOf(q)...)
	if e, err := sample.fit.Contrast(s.Weights(q)[:sample.fit.Treatments]); err == nil {
		out.Estimate = some(e.Value)
	}
	blocks := pairedBlocks(s.Food(q.A), s.Food(q.B), j.responses)
	share, pairs := rank.Superiority(blocks)
	if pairs == 0 || out.Estimate == nil {
		out.Missing = "no block has a value of both foods"
		return
	}
	out.Share, out.Pairs = some(share), pairs
	plain := rank.Stratified(blocks)
	out.RankP, out.RankTest = some(plain.P), "exact rank test within blocks, their tests taken as interchangeable"
	drawn, interval := j.test(q)
	if drawn.P == nil {
		out.Smallest = some(plain.Smallest)
		if plain.P <= 1-s.Level {
			out.Verdict = outcomeDiffer
		}
		return
	}
	out.Test = "randomisation test of the difference of means"
	out.P, out.PError, out.Smallest = drawn.P, drawn.PError, drawn.Smallest
	if interval != nil {
		if again, ok := interval(s.Level); ok {
			out.Low, out.High, out.Level = some(again.Interval.Low), some(again.Interval.High), some(s.Level)
		}
	}
	ranked := judge{f: f, parts: j.parts, responses: ranksWithin(s.Food(q.A), s.Food(q.B), j.responses)}
	if byDraw, _ := ranked.test(q); byDraw.P != nil {
		out.RankP, out.RankTest = byDraw.P, "randomisation test of the ranks within blocks"
	}
	if out.Low != nil && (*out.Low > 0 || *out.High < 0) {
		out.Verdict = outcomeDiffer
	}
}

// pairedBlocks are the values of two foods by block.
func pairedBlocks(a, b int, responses []Response) (out []rank.Block) {
	at := map[int]int{}
	for _, r := range responses {
		if r.food != a && r.food != b {
			continue
		}
		i, ok := at[r.Block]
		if !ok {
			i = len(out)
			at[r.Block] = i
			out = append(out, rank.Block{})
		}
		if r.food == a {
			out[i].A = append(out[i].A, float64(*r.Value))
		} else {
			out[i].B = append(out[i].B, float64(*r.Value))
		}
	}
	return out
}

// ranksWithin are the tests of two foods with the midranks of their values within
// blocks for values.
func ranksWithin(a, b int, responses []Response) (out []Response) {
	byBlock := map[int][]int{}
	for _, r := range responses {
		if r.food == a || r.food == b {
			byBlock[r.Block] = append(byBlock[r.Block], len(out))
			out = append(out, r)
		}
	}
	for _, tests := range byBlock {
		values := make([]float64, len(tests))
		for k, i := range tests {
			values[k] = float64(*out[i].Value)
		}
		for k, x := range rank.Midranks(values) {
			out[tests[k]].Value = some(x)
		}
	}
	return out
}
