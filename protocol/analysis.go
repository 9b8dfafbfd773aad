package protocol

import (
	"fmt"
	"slices"
	"strings"

	"mealtrial/protocol/problem"
	"mealtrial/stats"
	"mealtrial/stats/ratio"
)

// An Analysis is the result of a study. Values and limits are in the unit of
// the endpoint, ratios have none; what cannot be estimated is nil. As JSON it is a contract:
// fields may be added, never renamed.
type Analysis struct {
	Program            string     `json:"program"`
	Title              string     `json:"title"`
	Endpoint           EndpointID `json:"endpoint"`
	Model              string     `json:"model"`
	Tests              int        `json:"tests"`         // analysed
	Blocks             int        `json:"blocks"`        // 0: none
	Planned            int        `json:"planned_tests"` // in the schedule, run-in left out; 0: no schedule
	Logged             int        `json:"logged_tests"`  // of those, in the log
	WithinPersonSD     Spread     `json:"within_person_sd"`
	Borrowed           *Borrowed  `json:"borrowed_spread"` // nil: no earlier study was declared
	RepeatabilityLimit *Number    `json:"repeatability_limit"`
	// BetweenDaysSD is the spread of tests of one food in any block: what two
	// tests on different days, not compared within a block, differ by.
	BetweenDaysSD *Spread      `json:"between_days_sd"`
	SpreadByFood  bool         `json:"spread_by_food"` // intervals rest on a spread of its own for each food
	Foods         []FoodMean   `json:"foods"`
	Questions     []Answer     `json:"questions"`
	Looks         LookState    `json:"looks"`
	Family        *Family      `json:"family"` // nil with fewer than two questions about differences, and one look
	Robustness    []Robustness `json:"robustness"`
	Excluded      []Excluded   `json:"excluded"`
	Warnings      []string     `json:"warnings"`
	Caution       string       `json:"caution"`
	// Safety are reasons to stop and seek advice; every view shows them first.
	Safety []SafetyLine `json:"safety"`
	// Relative are the foods as percentages of the reference, PerGram per gram of
	// available carbohydrate.
	Relative []Relative     `json:"relative_to_reference"`
	PerGram  []DoseResponse `json:"per_gram"`
	// Floor is what a day without food gives; nil: not known.
	Floor *Floor `json:"floor"`
	// Secondary are the secondary endpoints: in no family, each interval for itself.
	Secondary []OutcomeResult `json:"secondary_endpoints"`
	// Outcomes are secondary: in no family, each interval for itself.
	Outcomes    []OutcomeResult `json:"outcomes"`
	StudyDigest string          `json:"study_sha256"`
	Seed        uint64          `json:"schedule_seed,omitempty"` // of the schedule
	Randomised  bool            `json:"order_randomised"`        // every test followed the schedule that the seed draws
	Schedules   *Orders         `json:"possible_schedules"`      // that the first draw could have given; nil: not known
	Lock        string          `json:"lock"`                    // kept, changed (the study file, after the draw) or none
}

// IntervalMethod names, in the order of the questions, how their intervals were
// made.
func (a *Analysis) IntervalMethod() string {
	var methods []string
	for _, q := range a.Questions {
		if q.Method != methodNone && !slices.Contains(methods, q.Method) {
			methods = append(methods, q.Method)
		}
	}
	if len(methods) == 0 {
		return methodNone
	}
	return strings.Join(methods, "; ")
}

// EndpointID names the endpoint, its unit and window.
type EndpointID struct {
	Name   EndpointName `json:"name"`
	Unit   string       `json:"unit"`
	Window Number       `json:"window_min"`
	// Described names it with its level, where it has one; "": as Name does.
	Described string `json:"described,omitempty"`
}

// InWords names the endpoint as a person says it.
func (e EndpointID) InWords() string {
	if e.Described != "" {
		return e.Described
	}
	return e.Name.Words()
}

// A Spread is a standard deviation with its chi-square interval: within-person,
// or between any two days.
type Spread struct {
	Value *Number `json:"value"`
	Low   *Number `json:"low"`
	High  *Number `json:"high"`
	Level Number  `json:"level"`
	DF    int     `json:"df"`
}

// A FoodMean is the marginal mean of a food over blocks, with its t interval.
type FoodMean struct {
	Food  string  `json:"food"`
	Name  string  `json:"name"`
	Role  Role    `json:"role"`
	Tests int     `json:"tests"`
	Mean  *Number `json:"mean"`
	SE    *Number `json:"se"`
	Low   *Number `json:"low"`
	High  *Number `json:"high"`
	Level Number  `json:"level"`
}

// An Answer is the answer to one question. Estimate is A minus B, A over B for a
// ratio, or the mean of A for a limit. Low and High are its two-sided limits; for
// a limit they are one-sided bounds, each at Level.
type Answer struct {
	Question string       `json:"question"`
	Kind     QuestionKind `json:"kind"`
	A        string       `json:"a"`
	B        string       `json:"b,omitempty"`
	Limit    *Number      `json:"limit,omitempty"` // of questions about a limit
	Shape    ratio.Shape  `json:"shape,omitempty"` // of the set of a ratio; low and high are its limits
	Estimate *Number      `json:"estimate"`
	SE       *Number      `json:"se"` // of a difference
	DF       int          `json:"df"`
	// Low and High keep the promise of Level for all questions about differences
	// between foods together and at every declared look, or else however often one
	// looks. They decide the verdict.
	Low     *Number       `json:"low"`
	High    *Number       `json:"high"`
	Level   Number        `json:"level"`
	Method  string        `json:"method"`
	Margin  *Number       `json:"margin"`
	Verdict stats.Verdict `json:"verdict"`
	Beyond  bool          `json:"beyond_margin"` // the whole interval lies at or beyond the margin
	// PlainLow and PlainHigh are for this question alone and one look.
	PlainLow     *Number       `json:"plain_low"`
	PlainHigh    *Number       `json:"plain_high"`
	PlainMethod  string        `json:"plain_method"`
	PlainVerdict stats.Verdict `json:"plain_verdict"`
	PlainShape   ratio.Shape   `json:"plain_shape,omitempty"`
	Nominal      *Number       `json:"nominal_level"`          // two-sided level that keeps the promise; nil where there is none
	KR           *Number       `json:"df_kenward_roger"`       // with blocks random: the degrees of freedom instead of df
	OwnDF        *Number       `json:"df_own_spread"`          // with a spread by food: the degrees of freedom instead of df
	Scale        string        `json:"ratio_scale,omitempty"`  // of a ratio: log, or that of the responses
	Fixed        *FixedAnswer  `json:"fixed_blocks,omitempty"` // with blocks random: the answer with blocks fixed
	Later        bool          `json:"asked_after_the_data"`
	Tests        int           `json:"tests"` // of both foods together
	TestsA       int           `json:"tests_a"`
	TestsB       int           `json:"tests_b"`
	Missing      string        `json:"missing,omitempty"` // what there is no estimate or interval for want of
	// Anytime is there where looks are not as declared: it is Low and High then.
	Anytime       *Anytime       `json:"anytime,omitempty"`
	Randomisation *Randomisation `json:"randomisation_test"` // of a comparison
	// All is the same question with the excluded tests that have a value in.
	All *WithExcluded `json:"with_excluded,omitempty"`
}

// WithExcluded is an answer from all tests, the excluded ones among them.
type WithExcluded struct {
	Estimate *Number       `json:"estimate"`
	Low      *Number       `json:"low"`
	High     *Number       `json:"high"`
	Verdict  stats.Verdict `json:"verdict"`
	Tests    int           `json:"tests"`
}

// Excluded is a test that is not analysed, and why.
type Excluded struct {
	Date   Date    `json:"date"`
	Food   string  `json:"food"`
	Reason string  `json:"reason"`
	Value  *Number `json:"value"`
}

// Methods of an interval.
const (
	methodT     = "t interval on the residual degrees of freedom, for this question alone and one look at the data"
	methodBlank = methodT + "; the blank in the model"
	methodNone  = "none"
)

// What became of the lock.
const (
	LockKept    = "kept"
	LockChanged = "changed"
	LockNone    = "none"
)

// Analyse fits the model to the responses of a study, answers its questions, and
// says what is to be kept in mind. The error is a problem.List: tests without a
// number, or with no block where others have one.
func (f *Folder) Analyse() (*Analysis, error) {
	x, err := f.analyse()
	return x.Analysis, err
}

// analysed is an analysis with what it was made from.
type analysed struct {
	*Analysis
	models
	levels    Levels
	counted   []Response
	responses []Response
}

func (f *Folder) analyse() (analysed, error) {
	x, err := f.answer()
	if err != nil {
		return x, err
	}
	a, models, responses := x.Analysis, x.models, x.responses
	a.Randomised = f.Schedule != nil && f.offSchedule(responses) == 0 && f.drawnBySeed()
	a.Planned, a.Logged = f.progress()
	a.Looks = f.lookState()
	x.levels = f.levels(a.Looks, models, func(i int) bool { return a.Questions[i].Method != methodNone })
	a.Looks.Nominal = x.levels.nominal()
	a.keepPromise(f.Study, models, x.levels)
	all := usable(responses, x.counted)
	if len(all) > len(x.counted) {
		a.fillWithExcluded(f, newModels(f.Study, all), x.levels)
	}
	a.answerLater(f, models)
	a.robustness(f, models, all, a.randomise(f, x.counted))
	a.Warnings = append(a.Warnings, f.lookDoubts(a)...)
	if a.Family != nil {
		a.Warnings = append(a.Warnings, a.familyWords())
	}
	a.Warnings = append(a.Warnings, f.doubts(models, responses)...)
	a.Outcomes = f.outcomes(responses)
	a.Secondary = f.secondaryEndpoints(x.counted)
	a.Floor = f.Floor(responses)
	a.relative(f, models)
	a.indexDoubts()
	a.floorDoubts()
	a.zeroDoubts(x.counted)
	a.secondaryDoubts(f.Study.Level)
	return x, nil
}

// Answers is Analyse at levels that are known, without what goes with the answers:
// the excluded tests put back, and the doubts. It is for many studies of one
// layout.
func (f *Folder) Answers(levels Levels) (*Analysis, error) {
	x, err := f.answer()
	if err == nil {
		x.keepPromise(f.Study, x.models, levels)
	}
	return x.Analysis, err
}

// answer fits the model to the tests that count and fills in the answers.
func (f *Folder) answer() (x analysed, err error) {
	if f.Masked() {
		return x, problem.List{{File: ScheduleFile, Found: "a masked schedule", Expected: "foods that are known, for an answer to the questions", Mend: "after the last test: mealtrial unmask"}}
	}
	responses, problems := f.Responses()
	if len(f.Log.Tests) == 0 {
		problems = append(problems, problem.Problem{File: LogFile, Found: "no tests", Expected: "at least one logged test", Mend: "enter one with mealtrial record"})
	}
	problems = append(problems, f.missingBlocks(responses)...)
	if err := problems.Err(); err != nil {
		return x, err
	}
	a := f.emptyAnalysis()
	var counted []Response
	for _, r := range responses {
		if r.Counts() {
			counted = append(counted, r)
		} else {
			a.Excluded = append(a.Excluded, Excluded{Date: r.Date, Food: r.Food, Reason: r.Excluded, Value: r.Value})
		}
	}
	if len(counted) == 0 {
		return x, problem.List{{File: LogFile, Found: Count(len(responses), "test", "tests") + ", all of them left out", Expected: "at least one test that counts", Mend: "see the reasons with mealtrial responses"}}
	}
	m := newModels(f.Study, counted)
	a.fill(f.Study, m)
	return analysed{Analysis: a, models: m, counted: counted, responses: responses}, nil
}

// usable returns the tests that could be put into the model: those with a
// value that were not a run-in and have a block where the counted ones do.
func usable(responses, counted []Response) (out []Response) {
	blocked := slices.ContainsFunc(counted, func(r Response) bool { return r.Block > 0 })
	for _, r := range responses {
		if r.Value != nil && !r.runIn && (r.Block > 0 || !blocked) {
			out = append(out, r)
		}
	}
	return out
}

// progress counts the planned tests and those of them that are in the log.
func (f *Folder) progress() (planned, logged int) {
	if f.Schedule == nil {
		return 0, 0
	}
	done := f.done()
	for i, t := range f.Schedule.Tests {
		if t.RunIn {
			continue
		}
		planned++
		if done[i] {
			logged++
		}
	}
	return planned, logged
}

// missingBlocks names tests without a block where others have one.
func (f *Folder) missingBlocks(responses []Response) (problems problem.List) {
	some := slices.ContainsFunc(responses, func(r Response) bool { return r.Block > 0 })
	for i, r := range responses {
		if some && r.Block == 0 && r.Excluded == "" {
			problems = append(problems, problem.Problem{File: LogFile, Line: f.Log.Tests[i].Line, Field: "block",
				Found: "a test without a block", Expected: "a block, as other tests have one", Mend: "add for example block: 1, or leave the test out with exclude: and the reason"})
		}
	}
	return problems
}

func (f *Folder) emptyAnalysis() *Analysis {
	s := f.Study
	a := &Analysis{
		Program: "mealtrial " + Version, Title: s.Title, StudyDigest: s.Digest,
		Endpoint: s.Endpoint.id(),
		Foods:    []FoodMean{}, Questions: []Answer{}, Excluded: []Excluded{}, Warnings: []string{},
		Caution: ShortCaution, Safety: f.Safety(), Outcomes: []OutcomeResult{}, Secondary: []OutcomeResult{}, Relative: []Relative{}, PerGram: []DoseResponse{},
	}
	a.Lock = LockNone
	if f.Schedule != nil {
		a.Seed, a.Lock = f.Schedule.Seed, LockKept
		if !s.Keeps(f.Schedule.Lock()) {
			a.Lock = LockChanged
		}
	}
	return a
}

func (a *Analysis) fill(s *Study, m models) {
	a.Tests, a.Blocks = len(m.withBlank.obs), len(m.withBlank.blocks)
	a.Model = "response = food + error, least squares"
	if a.Blocks > 0 {
		a.Model = "response = food + block + error, least squares"
	}
	if s.RandomBlocks && a.Blocks > 0 {
		a.Model = "response = food + random block + error, REML for the questions about differences"
	}
	if m.main != m.withBlank {
		a.Model += "; the blank apart"
	}
	if a.SpreadByFood = s.OwnSpread; s.OwnSpread {
		a.Model += "; intervals with a spread of its own for each food"
	}
	a.WithinPersonSD, a.Borrowed = m.main.spread(s.Level), m.main.borrowed
	if m.main.ok {
		a.RepeatabilityLimit = some(stats.RepeatabilityLimit(m.main.sd, float64(m.main.fit.SpreadDF()), repeatabilityLevel))
	}
	if a.Blocks > 0 {
		between := m.main.ignoringBlocks().spread(s.Level)
		a.BetweenDaysSD = &between
	}
	for i, food := range s.Foods {
		a.Foods = append(a.Foods, m.of(s, i).mean(s, i, food))
	}
	for _, q := range s.Questions {
		a.Questions = append(a.Questions, m.answer(s, q))
	}
}

// fillWithExcluded answers each question once more from a sample in which the
// excluded tests are in.
func (a *Analysis) fillWithExcluded(f *Folder, m models, levels Levels) {
	s := f.Study
	all := f.emptyAnalysis()
	all.fill(s, m)
	all.keepPromise(s, m, levels)
	for i, q := range s.Questions {
		other := all.Questions[i]
		if other.Estimate == nil {
			continue
		}
		a.Questions[i].All = &WithExcluded{other.Estimate, other.Low, other.High, other.Verdict, other.Tests}
		if other.Verdict != a.Questions[i].Verdict {
			a.Warnings = append(a.Warnings, fmt.Sprintf("The verdict on %s depends on leaving tests out: with them in it would be %q.", q.Text, other.Verdict.Words()))
		}
	}
}
