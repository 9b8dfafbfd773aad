package protocol

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"mealtrial/design"
	"mealtrial/design/layout"
	"mealtrial/protocol/problem"
)

// A Layout is the layout problem of a study and what is known of it before the
// draw.
type Layout struct {
	Problem    design.Problem
	Repeats    []int   // tests of each food
	RunIn      []Date  // days of the run-in tests
	Sensors    []int   // sensor of each block, from 0; nil where no sensors are given
	Efficiency float64 // of the declared questions, against complete blocks with the same repeats
	Complete   bool    // every block holds every food once
}

// dayMinutes are the minutes of a day.
const dayMinutes = 24 * 60

// freeDays returns the days on which a test may be held: from start to until,
// on the weekdays wanted, not busy, and with nothing booked from the beginning
// of the fast to the end of the window, the tolerance included.
func (s *Study) freeDays(until Date) []int {
	p := s.Plan
	var days []int
	for d := p.Start; d <= until; d++ {
		if s.taken(d) == "" {
			days = append(days, int(d))
		}
	}
	return days
}

// testSpan is the time that a test with this first bite takes, fast included.
func (s *Study) testSpan(bite time.Time) (from, to time.Time) {
	p := s.Plan
	return bite.Add(-minutes(p.Fast + p.Tolerance)), bite.Add(minutes(s.Endpoint.Window + p.Tolerance))
}

func (s *Study) booked(bite time.Time) bool {
	from, to := s.testSpan(bite)
	for _, span := range s.Plan.booked {
		if span.From.Before(to) && span.To.After(from) {
			return true
		}
	}
	return false
}

// on returns those of the days on which a test lies within a sensor's life,
// after it has settled, from the baseline to the end of the window.
func (x Sensor) on(s *Study, days []int) []int {
	var out []int
	for _, d := range days {
		bite, _ := Date(d).At(s.Plan.Time, s.Zone)
		first := bite.Add(-minutes(s.Endpoint.Baseline + s.Plan.Tolerance))
		last := bite.Add(minutes(s.Endpoint.Window + s.Plan.Tolerance))
		if !first.Before(x.Start.Add(minutes(x.Settle))) && !last.After(x.end()) {
			out = append(out, d)
		}
	}
	return out
}

// layoutUntil makes the layout problem of the study's plan, with another last
// day. The error is a problem.List or tooFew.
func (s *Study) layoutUntil(until Date) (*Layout, error) {
	days := s.freeDays(until)
	l := &Layout{}
	places, err := s.blockPlaces(days)
	if err != nil {
		return nil, err
	}
	runIn := s.takeRunIn(l, places)
	if runIn < s.Plan.RunIn {
		return nil, tooFew{repeats: s.repeatsInFewBlocks(), runIn: runIn}
	}
	if err := s.fillBlocks(l, places); err != nil {
		return nil, err
	}
	s.restrict(&l.Problem)
	l.Problem.Held = slices.Clone(s.Plan.held)
	for _, d := range l.RunIn {
		l.Problem.Held = append(l.Problem.Held, design.Held{Day: int(d), Treatment: s.Reference()})
		l.Problem.Wanted = slices.DeleteFunc(l.Problem.Wanted, func(day int) bool { return day == int(d) })
	}
	if s.Plan.CarryOver || s.Plan.Trend {
		balanced, err := design.Balance(l.Problem, s.Plan.CarryOver, s.Plan.Trend)
		if err != nil {
			return nil, err
		}
		l.Problem = balanced
	}
	return l, nil
}

// A place is where blocks may lie: the days of one sensor, or all of them.
type place struct {
	days   []int
	sensor int // from 0; −1: not known
}

func (s *Study) blockPlaces(days []int) ([]place, error) {
	p := s.Plan
	if len(p.Sensors) == 0 {
		return []place{{days, -1}}, nil
	}
	var places []place
	var all []int
	for i, sensor := range p.Sensors {
		on := sensor.on(s, days)
		if p.skip && i%2 == 1 {
			on = nil
		}
		all = append(all, on...)
		places = append(places, place{on, i})
	}
	if p.Straddle {
		if p.BlockSize == 0 {
			return nil, problem.List{{File: StudyFile, Line: p.line, Field: "plan.straddle", Found: "blocks over two sensors without a block_size",
				Expected: "the size of such a block", Mend: "write for example block_size: " + fmt.Sprint(len(s.Foods))}}
		}
		return []place{{all, -1}}, nil
	}
	return places, nil
}

// takeRunIn takes the first days for the run-in, and leaves to the blocks the
// days after it and its washout.
func (s *Study) takeRunIn(l *Layout, places []place) (taken int) {
	p := s.Plan
	next := math.MinInt
	for i := range places {
		var rest []int
		for _, d := range places[i].days {
			switch {
			case d < next:
			case taken < p.RunIn && p.PerWeek > 0 && taken >= p.PerWeek && d < int(l.RunIn[taken-p.PerWeek])+7:
			case taken < p.RunIn:
				l.RunIn = append(l.RunIn, Date(d))
				taken++
				next = d + 1 + s.gapAroundReference()
			default:
				rest = append(rest, d)
			}
		}
		places[i].days = rest
	}
	return taken
}

// gapAroundReference is what two tests of the reference keep between them.
func (s *Study) gapAroundReference() int {
	gap := s.Plan.Washout
	if ref := s.Reference(); ref >= 0 {
		gap = max(gap, s.Plan.After[s.Foods[ref].ID], s.Plan.Before[s.Foods[ref].ID])
	}
	return gap
}

// wantedRepeats returns the tests of each food when there are so many blocks.
// The reference is in every block, as often as reference_per_block says; where
// blocks are incomplete and nobody says otherwise it gets √k times as many tests
// as each of k test foods, if there are so many blocks.
func (s *Study) wantedRepeats(blocks int) []int {
	repeats := make([]int, len(s.Foods))
	ref, tested := s.Reference(), 0
	for i, f := range s.Foods {
		repeats[i] = s.Plan.Repeats
		if f.Repeats > 0 {
			repeats[i] = f.Repeats
		}
		if f.Role == RoleTest {
			tested++
		}
	}
	if ref < 0 {
		return repeats
	}
	switch {
	case s.Foods[ref].Repeats > 0:
	case s.Plan.ReferenceMax > 1 && blocks < math.MaxInt:
		repeats[ref] = blocks * s.Plan.ReferenceMax
	case s.incomplete() && tested > 0:
		repeats[ref] = layout.ReferenceReplicates(tested, s.Plan.Repeats)
		if blocks < math.MaxInt {
			repeats[ref] = min(repeats[ref], blocks*s.foodPerBlock())
		}
	}
	if blocks < math.MaxInt { // as many as there may be: not known yet
		repeats[ref] = max(repeats[ref], blocks)
	}
	return repeats
}

// repeatsInFewBlocks returns the tests of each food in as few blocks as hold them.
func (s *Study) repeatsInFewBlocks() []int {
	for blocks := 1; ; blocks++ {
		if repeats := s.wantedRepeats(blocks); sumOf(repeats) <= blocks*s.blockSize() || blocks > 100*mostRepeats {
			return repeats
		}
	}
}

// incomplete tells whether the plan asks for anything but complete blocks.
func (s *Study) incomplete() bool {
	p := s.Plan
	return p.BlockSize > 0 || len(p.Sensors) > 0 || p.ReferenceMax > 1 ||
		slices.ContainsFunc(s.Foods, func(f Food) bool { return f.Repeats > 0 && f.Repeats != p.Repeats })
}

// fillBlocks chooses how many blocks of which size there are and which foods
// stand in them.
func (s *Study) fillBlocks(l *Layout, places []place) error {
	if len(s.Foods) == 1 {
		s.fillPilot(l, places)
		return nil
	}
	if !s.incomplete() {
		l.Complete = true
		l.Problem = design.CompleteBlocks(len(s.Foods), s.Plan.Repeats, places[0].days, s.Plan.Washout)
		l.Repeats = s.wantedRepeats(s.Plan.Repeats)
		l.Efficiency = layout.Assess(len(s.Foods), contents(l.Problem.Blocks), s.contrasts()).Efficiency
		return nil
	}
	splits := s.splits(places)
	if len(splits) == 0 {
		room := 0
		for _, b := range s.blocksOn(places, math.MaxInt) {
			room += b.room
		}
		return tooFew{repeats: s.repeatsInFewBlocks(), room: room, runIn: -1}
	}
	var failure error
	for _, x := range splits {
		found, err := layout.Find(s.layoutProblem(x.repeats, x.sizes), s.search())
		if err == nil {
			s.takeLayout(l, found, x, places)
			return nil
		}
		if failure == nil {
			failure = err
		}
	}
	return problem.List{{File: StudyFile, Line: s.Plan.line, Field: "plan", Found: "a layout that cannot be: " + s.nameFoods(failure.Error()),
		Expected: "blocks in which the questions can be answered", Mend: "ask for larger blocks, other repeats, or reference_per_block: 2"}}
}

// takeLayout takes over the layout that was found.
func (s *Study) takeLayout(l *Layout, found layout.Layout, x split, places []place) {
	l.Problem = design.Problem{Treatments: len(s.Foods), Washout: s.Plan.Washout, Class: s.classes(x.repeats)}
	for j, block := range found.Blocks {
		l.Problem.Blocks = append(l.Problem.Blocks, design.Block{Contents: block, Days: places[x.at[j]].days})
		if places[x.at[j]].sensor >= 0 {
			l.Sensors = append(l.Sensors, places[x.at[j]].sensor)
		}
	}
	l.Repeats = x.repeats
	l.Complete = !slices.ContainsFunc(found.Blocks, func(b []int) bool { return len(b) != len(s.Foods) || len(slices.Compact(slices.Clone(b))) != len(b) })
	l.Efficiency = found.Efficiency
}

var treatmentNumbers = regexp.MustCompile(`treatments? (\d+(?:, \d+)*(?: and \d+)?)`)

// nameFoods puts the foods' ids in the place of treatment numbers.
func (s *Study) nameFoods(text string) string {
	return treatmentNumbers.ReplaceAllStringFunc(text, func(found string) string {
		_, numbers, _ := strings.Cut(found, " ")
		return wholeNumber.ReplaceAllStringFunc(numbers, func(digits string) string {
			if n, err := strconv.Atoi(digits); err == nil && n < len(s.Foods) {
				return s.Foods[n].ID
			}
			return digits
		})
	})
}

var wholeNumber = regexp.MustCompile(`\d+`)

// fillPilot lays out one food, repeated on any of the days: a pilot of the spread.
func (s *Study) fillPilot(l *Layout, places []place) {
	var days []int
	for _, p := range places {
		days = append(days, p.days...)
	}
	repeats := s.Plan.Repeats
	if s.Foods[0].Repeats > 0 {
		repeats = s.Foods[0].Repeats
	}
	l.Complete, l.Efficiency, l.Repeats = true, 1, []int{repeats}
	l.Problem = design.CompleteBlocks(1, repeats, days, s.Plan.Washout)
}

func contents(blocks []design.Block) [][]int {
	out := make([][]int, len(blocks))
	for i, b := range blocks {
		out[i] = b.Contents
	}
	return out
}

// search is shorter where a layout is only tried out.
func (s *Study) search() layout.Search {
	if s.Plan.quick {
		return layout.Search{Seed: 1, Exchanges: 100_000}
	}
	return layout.Search{Seed: 1}
}

func (s *Study) layoutProblem(repeats, sizes []int) layout.Problem {
	p := layout.Problem{Replicates: repeats, BlockSizes: sizes, Contrasts: s.contrasts(), MostPerBlock: make([]int, len(repeats))}
	for i := range repeats {
		p.MostPerBlock[i] = s.foodPerBlock()
	}
	if ref := s.Reference(); ref >= 0 {
		p.InEveryBlock = []int{ref}
		p.MostPerBlock[ref] = max(s.Plan.ReferenceMax, s.foodPerBlock())
	}
	return p
}

// primaryWeight is what a primary question counts against the others when
// layouts are compared. Common practice, no source.
const primaryWeight = 4

// contrasts are the declared questions; all pairs where there are none.
func (s *Study) contrasts() []layout.Contrast {
	if len(s.comparisons()) == 0 {
		return layout.Pairwise(max(2, len(s.Foods)))
	}
	var out []layout.Contrast
	for _, q := range s.comparisons() {
		weight := 1.0
		if q.Primary {
			weight = primaryWeight
		}
		out = append(out, layout.Contrast{Coefficients: s.Weights(q), Weight: weight})
	}
	return out
}

// restrict adds what the plan asks of order and days.
func (s *Study) restrict(p *design.Problem) {
	plan := s.Plan
	p.Weekly, p.NoRepeat = plan.PerWeek, !plan.Consecutive
	byFood := func(days map[string]int) (out []int) {
		if len(days) == 0 {
			return nil
		}
		for _, f := range s.Foods {
			out = append(out, days[f.ID])
		}
		return out
	}
	p.After, p.Before = byFood(plan.After), byFood(plan.Before)
	for _, d := range plan.Filming {
		p.Wanted = append(p.Wanted, int(d))
	}
	if slices.ContainsFunc(s.Foods, func(f Food) bool { return f.From != 0 || f.Until != 0 }) {
		for _, f := range s.Foods {
			until := int(f.Until)
			if until == 0 {
				until = math.MaxInt
			}
			p.Available = append(p.Available, design.Range{From: int(f.From), Until: until})
		}
	}
	if len(s.Foods) < 3 {
		p.NoRepeat = false // of two foods only the two alternating orders would be left
	}
}
