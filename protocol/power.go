package protocol

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"mealtrial/design"
	"mealtrial/protocol/problem"
	"mealtrial/stats"
)

// A Power says what the planned study can show, by the number of repeats. As
// JSON it is a contract like Analysis.
type Power struct {
	Question string     `json:"question"`
	Unit     string     `json:"unit"`
	Spread   PowerSD    `json:"spread"`
	Level    Number     `json:"level"`
	Margin   *Number    `json:"margin"`
	Sizes    []Number   `json:"differences"` // true differences that are looked at
	Rows     []PowerRow `json:"rows"`
	Method   string     `json:"method"`
	Warnings []string   `json:"warnings"`
	Caution  string     `json:"caution"`
}

// PowerSD is the spread that the chances rest on, and where it comes from.
type PowerSD struct {
	SD   Number  `json:"sd"`
	DF   *Number `json:"df"` // nil: taken as known
	From string  `json:"from"`
}

// A PowerRow is the study with one number of repeats.
type PowerRow struct {
	Repeats  int         `json:"repeats"`
	TestDays int         `json:"test_days"`
	Blocks   int         `json:"blocks"`
	Sensors  *int        `json:"sensors"`
	LastDate *Date       `json:"last_date"` // nil: does not fit the plan's dates
	DF       int         `json:"df"`
	Width    *Number     `json:"half_width"`         // of the interval at the SD that is given
	Level    *Number     `json:"nominal_confidence"` // of the interval, so that all questions and looks keep the promise
	Chances  []ChanceRow `json:"chances"`            // one for each difference
	Fits     bool        `json:"fits"`
	Stops    []StopRow   `json:"stops"`                    // one for each difference; empty with one look
	SmallP   *Number     `json:"smallest_randomisation_p"` // complete blocks only
}

// A ChanceRow is the chance of each verdict for one true difference.
type ChanceRow struct {
	Difference   Number `json:"difference"`
	Different    Number `json:"different"`
	TooSmall     Number `json:"too_small_to_matter"`
	NoDifference Number `json:"no_difference_that_matters"`
	Open         Number `json:"open"`
}

// A StopRow says how soon a study is settled when it is stopped at the first look
// that settles the question, for one true difference.
type StopRow struct {
	Difference Number       `json:"difference"`
	Looks      []StopChance `json:"looks"`
	Tests      Number       `json:"mean_tests"` // of all foods, until then or to the end
}

// A StopChance is the chance that the question is settled by a look.
type StopChance struct {
	After   int    `json:"after_blocks"`
	Settled Number `json:"settled"`
	Wrong   Number `json:"settled_wrongly"` // by an interval that leaves out the truth
}

// PowerOptions are what is asked of NewPower.
type PowerOptions struct {
	Question   string  // "a vs b"; "": the primary question, else the first
	SD, DF     float64 // spread of single tests, DF +Inf where taken as known
	From       string  // where the spread comes from
	Difference float64 // a size to look at besides 0 and the margin; 0: none
	Least      int     // repeats from
	Most       int     // repeats to
	Watch      Watch   // of the rows; nil: nobody watches
}

// NewPower computes what the study of a plan can show, by the noncentral t and
// its integrals (design.AverageChances), for each number of repeats. The error
// is a problem.List.
func NewPower(s *Study, o PowerOptions) (*Power, error) {
	if err := s.mayPlan(); err != nil {
		return nil, err
	}
	q, err := s.pickQuestion(o.Question)
	if err != nil {
		return nil, err
	}
	p := &Power{Question: q.Text, Unit: s.Endpoint.Unit(), Level: Number(s.Level), Warnings: []string{}, Caution: ShortCaution,
		Spread: PowerSD{SD: Number(o.SD), From: o.From},
		Method: "t interval at the end of the study, at the level at which all questions and looks keep the promise; exact chances, averaged over the uncertainty of the spread"}
	if !math.IsInf(o.DF, 1) {
		p.Spread.DF = some(o.DF)
	} else {
		p.Method = strings.Replace(p.Method, "averaged over the uncertainty of the spread", "the spread taken as known", 1)
		p.Warnings = append(p.Warnings, "The spread is taken as known exactly; give its degrees of freedom for honest chances.")
	}
	p.Sizes = []Number{0}
	if s.Margin > 0 {
		p.Margin = some(s.Margin)
		p.Sizes = append(p.Sizes, Number(s.Margin))
	}
	if d := math.Abs(o.Difference); d > 0 && !slices.Contains(p.Sizes, Number(d)) {
		p.Sizes = append(p.Sizes, Number(d))
	}
	failed, failure := 0, error(nil)
	for n := o.Least; n <= o.Most; n++ {
		o.Watch.see(n-o.Least, o.Most-o.Least+1)
		row, err := s.powerRow(p, q, n, o)
		if err != nil {
			failed, failure = failed+1, err
		}
		p.Rows = append(p.Rows, row)
	}
	if failed == len(p.Rows) {
		fewest, plan := *s, *s.Plan
		plan.Repeats = o.Least
		fewest.Plan = &plan
		return nil, fewest.explainMisfit(failure, 1)
	}
	p.warn(s)
	return p, nil
}

// share rounds a chance to what its integration gives.
func share(chance float64) Number {
	const digits = 1e9
	return Number(math.Round(digits*chance) / digits)
}

// differences are the questions about a difference, the only kind for which
// power is computed.
func (s *Study) differences() (out []Question) {
	for _, q := range s.Questions {
		if q.Kind == Difference {
			out = append(out, q)
		}
	}
	return out
}

func (s *Study) pickQuestion(text string) (Question, error) {
	for _, q := range s.differences() {
		if q.Text == text || text == "" && q.Primary {
			return q, nil
		}
	}
	if differences := s.differences(); text == "" && len(differences) > 0 {
		return differences[0], nil
	}
	if len(s.differences()) == 0 {
		return Question{}, problem.List{{File: StudyFile, Field: "questions", Found: "no question about a difference",
			Expected: "one, such as lupin vs wheat", Mend: "add it to questions"}}
	}
	found := fmt.Sprintf("the question %q", text)
	var asked []string
	for _, q := range s.differences() {
		asked = append(asked, q.Text)
	}
	return Question{}, problem.List{{File: StudyFile, Field: "questions", Found: found, Expected: "one of those the study asks: " + list(asked), Mend: "add it to questions"}}
}

// powerRow lays the study out with n repeats of every food that does not say
// otherwise itself; where it does not fit the plan's dates, the layout of a
// longer plan is looked at.
func (s *Study) powerRow(p *Power, q Question, n int, o PowerOptions) (PowerRow, error) {
	row := PowerRow{Repeats: n, Chances: []ChanceRow{}, Stops: []StopRow{}}
	copied, plan := *s, *s.Plan
	plan.Repeats = n
	copied.Plan = &plan
	l, slots, err := copied.draw(plan.Until, 1)
	row.Fits = err == nil
	if err != nil { // what it would cost without the end of the plan
		plan.Until += longestPlan / 5
		if len(plan.Sensors) > 0 {
			plan.addSensors(mostRepeats)
		}
		if l, slots, _ = copied.draw(plan.Until, 1); l == nil {
			return row, err
		}
	}
	row.TestDays, row.Blocks = len(slots)+plan.RunIn, len(l.Problem.Blocks)
	if len(slots) > 0 {
		last := Date(slots[len(slots)-1].Day)
		row.LastDate = &last
	}
	if l.Sensors != nil {
		used := slices.Max(l.Sensors) + 1
		row.Sensors = &used
	}
	row.DF = l.DF()
	if sd, df, _ := s.PlannedSpread(); sd > 0 {
		row.DF += df
	}
	if l.Complete {
		row.SmallP = some(design.SmallestP(row.Blocks))
	}
	variance := l.Variance(s.Food(q.A), s.Food(q.B))
	if row.DF < 1 || math.IsInf(variance, 1) {
		return row, nil
	}
	factor := math.Sqrt(variance)
	level := 1 - copied.plannedLevel(q, slots)
	if level >= 1 {
		return row, nil
	}
	row.Level = some(level)
	row.Width = some(stats.TQuantile((1+level)/2, float64(row.DF)) * factor * o.SD)
	for _, size := range p.Sizes {
		c := design.AverageChances(float64(size), factor, o.SD, o.DF, float64(row.DF), level, s.Margin)
		row.Chances = append(row.Chances, ChanceRow{size, share(c.Different), share(c.TooSmall), share(c.NoDifference), share(c.Open)})
	}
	row.Stops = copied.stops(q, slots, p.Sizes, o)
	return row, nil
}

// scheduleOf makes a schedule of slots.
func (s *Study) scheduleOf(slots []design.Slot) *Schedule {
	schedule := &Schedule{}
	for _, slot := range slots {
		schedule.Tests = append(schedule.Tests, s.planned(Date(slot.Day), slot.Block+1, s.Foods[slot.Treatment].ID))
	}
	return schedule
}

// plannedLevel is the nominal level of a question at the last look of a layout,
// with all other questions and looks.
func (s *Study) plannedLevel(q Question, slots []design.Slot) float64 {
	levels := (&Folder{Study: s, Schedule: s.scheduleOf(slots)}).PlannedLevels()
	return levels.of(s, q)
}

// warn says plainly what is out of reach.
func (p *Power) warn(s *Study) {
	if len(p.Rows) == 0 {
		return
	}
	last := p.Rows[len(p.Rows)-1]
	for _, row := range p.Rows {
		if len(row.Chances) > 0 {
			last = row
		}
	}
	if p.Margin != nil && len(last.Chances) > 0 {
		if c := last.Chances[0]; c.NoDifference+c.TooSmall < gapPower {
			p.Warnings = append(p.Warnings, fmt.Sprintf("Showing that two foods do not differ by %s %s is out of reach: with %d repeats the chance is %s even if they are the same. It takes far more tests than showing a large difference.",
				plain(float64(*p.Margin)), p.Unit, last.Repeats, chance(float64(c.NoDifference+c.TooSmall))))
		}
	}
	most, smallest := 0, 0.0
	for _, row := range p.Rows {
		if row.SmallP != nil && float64(*row.SmallP) > 0.05 {
			most, smallest = row.Blocks, float64(*row.SmallP)
		}
	}
	if most > 0 {
		p.Warnings = append(p.Warnings, fmt.Sprintf("With %d blocks or fewer a randomisation test of two foods cannot reach p 0.05: with %d its smallest p is %s.",
			most, most, PValue(smallest)))
	}
	if slices.ContainsFunc(s.Foods, func(f Food) bool { return f.Repeats > 0 }) {
		p.Warnings = append(p.Warnings, "Foods with repeats of their own keep them in every row.")
	}
	if n := len(s.Looks.of(last.Blocks)); n > 1 {
		p.Warnings = append(p.Warnings, fmt.Sprintf("The exact chances are those at the last of %d looks; that of being settled at any of them is simulated (%d studies, seed %d).", n, stopStudies, stopSeed))
	}
}

// chance writes a probability as a whole percentage.
func chance(p float64) string {
	switch {
	case p <= 0.005: // half a point would round to 0
		return "below 1 %"
	case p >= 0.995:
		return "above 99 %"
	}
	return fmt.Sprintf("%.0f %%", 100*p)
}
