package protocol

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"mealtrial/stats"
	"mealtrial/stats/null"
)

// A Family says how intervals that keep one promise, for several questions about
// differences between foods and at several looks, were made.
type Family struct {
	Questions     int     `json:"questions"`
	Looks         int     `json:"looks"`
	Level         Number  `json:"level"`                     // confidence that all intervals hold at all looks
	NominalLevel  Number  `json:"nominal_level"`             // confidence of each by itself at this look
	Critical      *Number `json:"critical_t"`                // nil: it is another one for each question
	CriticalError *Number `json:"critical_t_relative_error"` // Monte Carlo standard error
	Price         *Number `json:"price"`                     // critical t over that of one question at one look
	Studies       int     `json:"simulated_studies"`
	Seed          uint64  `json:"seed"`
	Shape         string  `json:"shape"`
	Method        string  `json:"method"`
	// BlockRatio is the variance of random blocks over that of the error at which
	// studies were simulated, as it was estimated; nil: blocks are fixed.
	BlockRatio *Number `json:"block_variance_ratio"`

	apart bool // some questions have a share of the error rate of their own
}

// What the simulation of the critical value takes. With so many studies its Monte
// Carlo error stays below 0.5 %, but for the first looks of one or two degrees of
// freedom: those take more.
const (
	familyStudies = 100_000
	familySeed    = 1
	familyError   = 0.005
	familyMost    = 16 * familyStudies
)

// leastLevel is the nominal level below which a look counts as one that nothing can
// pass: a confidence of 1 less that much has no digits left.
const leastLevel = 1e-12

// Levels are the nominal levels at which the questions of a study keep their
// promise together: two-sided error rates of a question by itself at this look.
type Levels struct {
	main, blank float64 // of comparisons in the fit of the foods, and in that with the blank
	other       float64 // of ratios and of questions whether two foods are the same, beside others
	mains       int     // how many main is for
	blanks      int     // and blank
	others      int     // and other
	limits      float64 // one-sided, of questions about a limit
	anytime     float64 // of comparisons, where looks are not as declared; 0: they are
	// anytimeLimits is one-sided, of questions about a limit, where they are not.
	anytimeLimits float64
	family        *Family
}

// nominal returns the levels as the ledger keeps them.
func (l Levels) nominal() *Nominal {
	if l.anytime > 0 {
		return nil
	}
	return &Nominal{Number(l.main), Number(l.blank), Number(l.limits), Number(l.other)}
}

// Asked are the questions of a study by the family that they belong to.
type asked struct {
	main, blank []Question // differences between foods, and those with the blank
	other       []Question // ratios and questions whether two foods are the same, beside others
	limits      int        // about a limit
}

// comparisons counts those that are about two foods or more.
func (a asked) comparisons() int { return len(a.main) + len(a.blank) + len(a.other) }

// ask sorts the questions that can be answered at all.
func (s *Study) ask(answered func(i int) bool) (out asked) {
	comparisons := 0
	for _, q := range s.Questions {
		if q.Kind.compares() {
			comparisons++
		}
	}
	for i, q := range s.Questions {
		switch {
		case !q.Kind.compares():
			out.limits++
		case !answered(i):
		case comparisons > 1 && !q.Kind.zero():
			out.other = append(out.other, q)
		case s.withBlank(q):
			out.blank = append(out.blank, q)
		default:
			out.main = append(out.main, q)
		}
	}
	return out
}

func (s *Study) withBlank(q Question) bool {
	return slices.ContainsFunc(s.foodsOf(q), func(i int) bool { return s.Foods[i].Role == RoleBlank })
}

// levels finds the nominal levels of this look. Questions with the blank come
// from another fit than those between foods, so the error rate is shared out by
// their number (Bonferroni). So is that of ratios and of questions whether two foods
// are the same: what their intervals must not leave out is no difference of zero, so
// the statistics that are simulated are not theirs. And so is that of questions about a
// limit, over them and the looks.
// Within a fit the levels come from the simulation of the layout (null.Find):
// as it was eaten so far, and as it is planned from here on.
func (f *Folder) levels(state LookState, m models, answered func(i int) bool) Levels {
	s := f.Study
	alpha := 1 - s.Level
	now := s.ask(answered)
	share := now
	if state.Anytime || len(state.After) > 1 { // shares stay the same from look to look
		share = s.ask(func(int) bool { return true })
	}
	n := float64(max(1, share.comparisons()))
	limits := alpha / float64(max(1, now.limits))
	out := Levels{limits: f.shareOut(state, limits, ofLimits), mains: len(share.main), blanks: len(share.blank), others: len(share.other)}
	if state.Anytime {
		out.anytime, out.anytimeLimits = alpha/n, limits
		return out
	}
	if s.OwnSpread {
		out.main, out.family = f.ownLevel(state, share.comparisons(), alpha)
		if out.blank = out.main; out.others > 0 {
			out.other = out.main
		}
		return out
	}
	out.main, out.family = f.levelNow(state, m.main, now.main, alpha*float64(len(share.main))/n, ofMain)
	out.blank, _ = f.levelNow(state, m.withBlank, now.blank, alpha*float64(len(share.blank))/n, ofBlank)
	for _, q := range now.other {
		sample, of := m.main, ofOther
		if s.withBlank(q) {
			sample, of = m.withBlank, ofOtherWithBlank
		}
		level, _ := f.levelNow(state, sample, []Question{q}, alpha/n, of)
		if out.other == 0 || level > 0 && level < out.other { // 0: not tested yet, or all is spent
			out.other = level
		}
	}
	if out.family != nil { // by Bonferroni all of them hold together
		out.family.Questions, out.family.Level = share.comparisons(), Number(1-alpha)
		out.family.apart = len(share.blank)+len(share.other) > 0
	}
	if out.family == nil && share.comparisons() > 1 {
		out.family = &Family{Questions: share.comparisons(), Looks: max(1, len(state.After)), Level: Number(1 - alpha),
			NominalLevel: Number(1 - max(out.main, out.blank, out.other)), Shape: state.Shape, Method: "the error rate shared out over the questions (Bonferroni)"}
	}
	return out
}

// shareOut shares an error rate out over the looks: what those that were taken
// have left, in equal parts over the others. One that was taken keeps what it took.
func (f *Folder) shareOut(state LookState, alpha float64, of taking) float64 {
	if n := f.takenNow(state); n != nil && of.level(n) > 0 {
		return min(float64(of.level(n)), alpha)
	}
	left, looks := alpha, max(1, len(state.After))
	for _, after := range state.After[:max(0, state.Now-1)] {
		if n := f.taken(after); n != nil && of.level(n) > 0 {
			left, looks = left-float64(of.level(n)), looks-1
		}
	}
	if left < 1e-9*alpha { // rounding of what was shared out
		return 0
	}
	return left / float64(looks)
}

// significant rounds a simulated level to ten digits, so that it is the same on every
// processor and reads back from the ledger as it was.
func significant(level float64) float64 {
	x, err := strconv.ParseFloat(strconv.FormatFloat(level, 'g', 10, 64), 64)
	if err != nil {
		panic("protocol: a level is no number")
	}
	return x
}

// levelNow finds the nominal level of the questions of one fit at this look.
func (f *Folder) levelNow(state LookState, m *sample, questions []Question, alpha float64, of taking) (float64, *Family) {
	looks := max(1, len(state.After))
	if len(questions) == 0 {
		return 0, nil
	}
	if len(questions) == 1 && looks == 1 {
		return alpha, nil // by definition
	}
	d, now := f.nullDesign(state, m, of)
	for _, q := range questions {
		d.Contrasts = append(d.Contrasts, f.Study.Weights(q))
	}
	if now < 0 {
		return 0, nil
	}
	bound, err := null.Find(d, f.Study.Looks.Shape, alpha, familyStudies, familySeed)
	for studies := 4 * familyStudies; err == nil && bound.CriticalError[now] > familyError && studies <= familyMost; studies *= 4 {
		bound, err = null.Find(d, f.Study.Looks.Shape, alpha, studies, familySeed)
	}
	if err != nil {
		return 0, nil
	}
	if bound.Level[now] >= leastLevel {
		bound.Level[now] = significant(bound.Level[now])
		bound.Critical[now] = -stats.TQuantile(bound.Level[now]/2, float64(bound.DF[now]))
	}
	if n := f.takenNow(state); n != nil && of.level(n) > 0 { // once more, perhaps of another layout
		// Questions that were added since have no part in what was taken.
		once := d
		once.Looks, once.Taken = d.Looks[now:now+1], nil
		alone, err := null.Find(once, null.Constant, alpha, familyStudies, familySeed)
		if err != nil {
			return 0, nil
		}
		bound.Level[now] = min(float64(of.level(n)), significant(alone.Level[0]))
		bound.Critical[now] = -stats.TQuantile(bound.Level[now]/2, float64(bound.DF[now]))
	}
	if bound.Level[now] < leastLevel {
		return 0, nil
	}
	method := "t intervals with the critical value of this layout, these questions and looks under no difference, simulated"
	var ratio *Number
	if d.Random {
		ratio = some(d.BlockVariance)
		method += ", blocks random at the estimated variance ratio"
	}
	alone := -stats.TQuantile((1-f.Study.Level)/2, float64(bound.DF[now]))
	return bound.Level[now], &Family{Questions: len(questions), Looks: looks, Level: Number(1 - alpha), NominalLevel: Number(1 - bound.Level[now]),
		Critical: some(bound.Critical[now]), CriticalError: some(bound.CriticalError[now]), Price: some(bound.Critical[now] / alone),
		Studies: bound.Studies, Seed: bound.Seed, Shape: state.Shape,
		Method: method, BlockRatio: ratio}
}

// PlannedLevels are the levels at the last look when every planned test counts, with
// those of the looks that were taken as they were.
func (f *Folder) PlannedLevels() Levels {
	planned := *f
	planned.Log = &Log{}
	state := planned.lookState()
	state.Now, state.Anytime = max(1, len(state.After)), false
	return planned.levels(state, models{}, func(int) bool { return true })
}

// familyWords words what several questions and looks cost.
func (a *Analysis) familyWords() string {
	f := a.Family
	over := ""
	if f.Looks > 1 {
		over = fmt.Sprintf(" and %d looks", f.Looks)
	}
	if f.BlockRatio != nil {
		over += fmt.Sprintf(", simulated with blocks random at the estimated variance ratio of %s,", plain(math.Round(100*float64(*f.BlockRatio))/100))
	}
	if f.Price == nil {
		return fmt.Sprintf("Intervals hold for %s%s together with %s: the error rate of each is at most %s.", Count(f.Questions, "question about differences", "questions about differences"), over,
			Percent(float64(f.Level)), Percent(1-float64(f.NominalLevel)))
	}
	apart := ""
	if f.apart {
		apart = " Those with the blank, as a ratio or about foods being the same have a share of the error rate of their own, and another width."
	}
	return fmt.Sprintf("Intervals hold for %s%s together with %s: they are %.2f times as wide as that of one question at one look (critical t %.3f, Monte Carlo error %s; seed %d).%s",
		Count(f.Questions, "question about differences between foods", "questions about differences between foods"), over, Percent(float64(f.Level)),
		float64(*f.Price), float64(*f.Critical), Percent(float64(*f.CriticalError)), f.Seed, apart)
}

// lengthened tells whether blocks were added after a look that was taken, for the
// declared look that this is: with one look after 3 of 6 blocks, 20 more for those that
// lay below t = 1 there give 5.9 % of false alarms by a constant level and 6.8 % by that
// of O'Brien and Fleming, and retest's advice 4.6 % (60 000 studies of 5 foods,
// simulated under no difference).
func (f *Folder) lengthened(state LookState) bool {
	if f.Schedule == nil || len(f.Schedule.Amendments) == 0 || state.Now < 2 || state.Anytime {
		return false
	}
	first := f.Schedule.Amendments[0]
	drawn := map[int]bool{} // blocks of the first draw
	for _, t := range slices.Concat(first.Replaced, f.Schedule.Tests) {
		if !t.RunIn && (t.Date < first.From || slices.Contains(first.Replaced, t)) {
			drawn[t.Block] = true
		}
	}
	made := f.Schedule.Amendments[len(f.Schedule.Amendments)-1].Made
	looked := slices.ContainsFunc(f.Ledger, func(l Look) bool { return l.Declared && l.Blocks < state.Finished && l.Made <= made })
	return looked && len(f.blocksInTime()) > len(drawn)
}

// lookDoubts words how often and when the data were looked at.
func (f *Folder) lookDoubts(a *Analysis) (out []string) {
	state := a.Looks
	if f.Schedule == nil {
		out = append(out, fmt.Sprintf("Looks are not counted, as no schedule says when the study ends: intervals hold for one look, at a moment that does not depend on the answers. Whoever looks after each test and stops when it suits is wrong in more than %s of studies.", Percent(1-f.Study.Level)))
	}
	if state.Anytime {
		out = append(out, fmt.Sprintf("This is not a declared look (%s), so the intervals are those that stay valid however often one looks; they are wide, and from here on they are the ones that count.", state.Why))
	}
	if f.lengthened(state) {
		out = append(out, "The study was made longer after a look. The level holds where that had nothing to do with what was seen, and where retest's advice was followed; false alarms can be a third more where it was made longer because the answers were far from settled.")
	}
	if n := len(state.After); n > 0 {
		last := max(state.After[n-1], len(f.blocksInTime()))
		if b := f.Study.Looks.beyond(last); b > 0 {
			out = append(out, fmt.Sprintf("A look was declared after block %d, but the schedule has %s; the last look is the one at its end.", b, Count(last, "block", "blocks")))
		}
	}
	return out
}
