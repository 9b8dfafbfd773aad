package protocol

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"mealtrial/stats"
	"mealtrial/stats/additive"
)

// A scenario is a way in which responses come about, in units of the SD of single
// tests, and a layout.
type scenario struct {
	name      string
	foods     int
	blocks    int
	size      int // tests of a block; foods where complete
	lost      int // tests lost at random
	questions int
	looks     string
	shape     string

	blockSD   float64
	truth     []float64 // by food; nil: no difference
	tails     bool      // errors by a t distribution on 3 degrees of freedom, at SD 1
	scaled    bool      // SD in proportion to the mean, which is 3 SDs for the first food
	serial    float64   // correlation of an error with the one before
	trendOver float64   // rise of all responses over the whole study
}

// A battery result is what came out of the studies of a scenario.
type batteryResult struct {
	falseAlarm float64 // share of studies that call a pair without difference different, at any look
	plain      float64 // the same by plain 95 % intervals
	coverage   float64 // of the plain 95 % interval at the end, averaged over questions
	worst      float64 // of the question with the least coverage
	studies    int
}

func (r batteryResult) se(p float64) float64 { return math.Sqrt(p * (1 - p) / float64(r.studies)) }

// battery draws a schedule of the scenario, takes the levels of every look from the
// program, and decides many simulated studies of it. So that the order is not
// always the same, it is drawn anew for each of several parts.
func (c scenario) battery(t *testing.T, parts, studies int, seed uint64) batteryResult {
	t.Helper()
	out := batteryResult{studies: studies / parts * parts}
	random := rand.New(rand.NewPCG(seed, 0x62617474657279))
	alarms, plainAlarms := 0, 0
	covered := make([]float64, c.questions)
	for part := range parts {
		f, looks := c.drawn(t, uint64(part)+1, random)
		y := make([]float64, len(looks[len(looks)-1].layout))
		for range studies / parts {
			c.respond(random, looks[len(looks)-1].layout, y)
			alarm, plainAlarm := false, false
			for k, l := range looks {
				sd := l.solver.Solve(y[:len(l.layout)], l.estimates)
				for i, e := range l.estimates {
					truth := c.difference(f, l.asked[i])
					off := math.Abs(e - truth)
					if truth == 0 && off > l.honest*l.solver.Factors[i]*sd {
						alarm = true
					}
					plain := l.critical * l.solver.Factors[i] * sd
					if truth == 0 && off > plain {
						plainAlarm = true
					}
					if k == len(looks)-1 {
						if off <= plain {
							covered[l.asked[i]]++
						}
					}
				}
			}
			if alarm {
				alarms++
			}
			if plainAlarm {
				plainAlarms++
			}
		}
	}
	out.falseAlarm, out.plain = float64(alarms)/float64(out.studies), float64(plainAlarms)/float64(out.studies)
	out.worst = 1
	for _, n := range covered {
		share := n / float64(out.studies)
		out.coverage += share / float64(c.questions)
		out.worst = min(out.worst, share)
	}
	return out
}

// A batteryLook is what a look decides with.
type batteryLook struct {
	layout    []additive.Observation
	solver    *additive.Solver
	honest    float64 // critical value of the interval that decides
	critical  float64 // of the plain 95 % interval
	asked     []int   // questions that can be answered at this look
	estimates []float64
}

func (c scenario) text() string {
	ids := ""
	for i := range c.foods {
		role := ""
		if i == 0 {
			role = ", role: reference"
		}
		ids += fmt.Sprintf("  - {id: f%d%s}\n", i, role)
	}
	asked := "["
	for i := range c.questions {
		asked += fmt.Sprintf("f%d vs f0, ", i+1)
	}
	size := ""
	if c.size > 0 && c.size != c.foods {
		size = fmt.Sprintf(", block_size: %d", c.size)
	}
	return fmt.Sprintf("foods:\n%squestions: %s]\nlooks: {after: %s, shape: %s}\nplan: {start: 2027-01-11, until: 2029-01-11, repeats: %d, washout: 0%s, consecutive: allowed}\n",
		ids, asked, c.looks, c.shape, c.blocks, size)
}

// drawn draws the schedule, loses tests, and takes the levels of each look from the
// program, which is told what was eaten so far.
func (c scenario) drawn(t *testing.T, seed uint64, random *rand.Rand) (*Folder, []batteryLook) {
	t.Helper()
	s := study(t, c.text())
	schedule, err := DrawSchedule(s, seed)
	if err != nil {
		t.Fatal(c.name, err)
	}
	f := &Folder{Study: s, Schedule: schedule, Log: &Log{}}
	lost := map[int]bool{}
	for len(lost) < c.lost {
		lost[random.IntN(len(schedule.Tests))] = true
	}
	blocks := f.blocksInTime()
	var layout []additive.Observation
	var looks []batteryLook
	for k, after := range s.Looks.of(len(blocks)) {
		layout = layout[:0:0]
		var responses []Response
		f.Log = &Log{}
		for i, p := range schedule.Tests {
			if p.Block > after {
				continue
			}
			f.Log.Tests = append(f.Log.Tests, Test{Date: p.Date, Food: p.Food, HasValue: true, Value: float64(i * i % 17)})
			if lost[i] {
				f.Log.Tests[len(f.Log.Tests)-1].Exclude = "lost"
				continue
			}
			layout = append(layout, additive.Observation{Treatment: s.Food(p.Food), Block: p.Block - 1})
			responses = append(responses, Response{Date: p.Date, Food: p.Food, food: s.Food(p.Food), Block: p.Block, Value: some(float64(i * i % 17))})
		}
		m := newModels(s, responses)
		var weights [][]float64
		var asked []int
		for i, q := range s.Questions {
			w := s.Weights(q)[:m.main.fit.Treatments]
			if m.answer(s, q).Estimate != nil {
				weights, asked = append(weights, w), append(asked, i)
			}
		}
		solver, err := additive.NewSolver(layout, weights)
		if err != nil {
			t.Fatal(c.name, err)
		}
		levels := f.levels(f.lookState(), m, func(int) bool { return true })
		honest := math.Inf(1) // nothing can be passed
		if levels.main > 0 {
			honest = -stats.TQuantile(levels.main/2, float64(solver.DF))
		}
		looks = append(looks, batteryLook{layout: layout, solver: solver, honest: honest, asked: asked, critical: stats.TQuantile(0.975, float64(solver.DF)), estimates: make([]float64, len(weights))})
		f.Ledger = append(f.Ledger, Look{Blocks: after, Declared: true, Nominal: levels.nominal(), Final: k == len(s.Looks.of(len(blocks)))-1})
	}
	return f, looks
}

func (c scenario) mean(food int) float64 {
	if c.truth == nil {
		return 0
	}
	return c.truth[food]
}

func (c scenario) difference(f *Folder, question int) float64 {
	q := f.Study.Questions[question]
	return c.mean(f.Study.Food(q.A)) - c.mean(f.Study.Food(q.B))
}

// respond writes the responses of one study.
func (c scenario) respond(random *rand.Rand, layout []additive.Observation, y []float64) {
	shift := make([]float64, c.blocks*c.foods+1)
	for i := range shift {
		shift[i] = c.blockSD * random.NormFloat64()
	}
	before := random.NormFloat64()
	for i, o := range layout {
		e := random.NormFloat64()
		if c.tails {
			chi := 0.0
			for range 3 {
				x := random.NormFloat64()
				chi += x * x
			}
			e /= math.Sqrt(chi) // t on 3 degrees of freedom over √3: its SD is 1
		}
		before = c.serial*before + math.Sqrt(1-c.serial*c.serial)*e
		sd := 1.0
		if c.scaled {
			sd = 1 + c.mean(o.Treatment)/3
		}
		y[i] = c.mean(o.Treatment) + shift[o.Block] + sd*before + c.trendOver*float64(i)/float64(len(layout))
	}
}

// withoutDifference are the scenarios in which every assumption holds.
func withoutDifference() (all []scenario) {
	for _, l := range []scenario{
		{name: "complete", foods: 2, blocks: 8, questions: 1},
		{name: "complete", foods: 5, blocks: 6, questions: 4},
		{name: "complete", foods: 11, blocks: 6, questions: 10},
		{name: "incomplete", foods: 5, blocks: 6, size: 3, questions: 4},
		{name: "incomplete", foods: 11, blocks: 6, size: 4, questions: 10},
		{name: "4 tests lost", foods: 5, blocks: 6, lost: 4, questions: 4},
	} {
		for _, looks := range []string{"at the end", "[3, 4, 5]", "[3, 4, 5] obrien_fleming"} {
			c := l
			c.looks, c.shape, c.blockSD = looks, "constant", 3
			if looks == "[3, 4, 5] obrien_fleming" {
				c.looks, c.shape = "[3, 4, 5]", "obrien_fleming"
			}
			all = append(all, c)
		}
	}
	return all
}

// A short form of TestCalibrationBattery.
func TestBattery(t *testing.T) {
	for i, c := range []scenario{withoutDifference()[4], withoutDifference()[9], withoutDifference()[17]} {
		r := c.battery(t, 2, 4000, uint64(i)+1)
		if math.Abs(r.falseAlarm-0.05) > 4*r.se(0.05) || math.Abs(r.coverage-0.95) > 0.01 {
			t.Errorf("%s, %d questions, looks %s %s: %+v", c.name, c.questions, c.looks, c.shape, r)
		}
	}
}
