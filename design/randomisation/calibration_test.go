//go:build calibration

package randomisation

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"mealtrial/design"
)

// A trial is a way to hold studies.
type trial struct {
	name    string
	problem design.Problem
	lost    float64 // chance of each test to be lost
	amended bool    // drawn again after half of the tests, lost tests with it
}

func trials(t *testing.T) []trial {
	five := design.CompleteBlocks(5, 6, days(120), 0)
	noRepeat := five
	noRepeat.NoRepeat = true
	balanced, err := design.Balance(design.CompleteBlocks(4, 7, days(28), 0), true, false)
	if err != nil {
		t.Fatal(err)
	}
	washout := design.CompleteBlocks(4, 7, days(70), 1)
	washout.NoRepeat, washout.After, washout.Before = true, []int{3, 0, 1, 0}, []int{0, 0, 2, 0}
	washout.Available = []design.Range{{From: 0, Until: 120}, {From: 4, Until: 120}, {From: 0, Until: 120}, {From: 0, Until: 120}}
	class := incomplete()
	class.NoRepeat = true
	twice := design.Problem{Treatments: 3}
	for range 5 {
		twice.Blocks = append(twice.Blocks, design.Block{Contents: []int{0, 0, 1, 2}, Days: five.Blocks[0].Days})
	}
	return []trial{
		{"five treatments in six complete blocks", five, 0, false},
		{"the same, none on two consecutive tests", noRepeat, 0, false},
		{"the same, one test in ten lost", noRepeat, 0.1, false},
		{"the same, drawn again after half of the tests", noRepeat, 0.1, true},
		{"four in seven blocks, carry-over balanced", balanced, 0, false},
		{"four in seven blocks, unequal washouts, one is late", washout, 0.05, false},
		{"five of one class in ten blocks of three", class, 0, false},
		{"the first twice in each of five blocks", twice, 0.05, false},
		{"pairs in eight blocks", design.CompleteBlocks(2, 8, days(16), 0), 0, false},
	}
}

// study holds one study. Responses drift, depend on the one before and have heavy
// tails: t errors on two degrees of freedom.
func (c trial) study(random *rand.Rand, effect []float64) (Data, bool) {
	slots, err := design.Draw(c.problem, random.Uint64())
	if err != nil {
		return Data{}, false
	}
	d := Data{Parts: []design.Part{{Problem: c.problem, Slots: slots}}}
	lost := make([]bool, len(slots))
	for i := range lost {
		lost[i] = random.Float64() < c.lost
	}
	if c.amended {
		if d.Parts, err = amend(c.problem, slots, lost, random.Uint64()); err != nil {
			return Data{}, false
		}
	}
	carried, n := 0.0, 0
	for _, p := range d.Parts {
		for i, s := range p.Slots {
			carried = 0.5*carried + random.NormFloat64()/math.Sqrt(random.ExpFloat64())
			y := effect[s.Treatment] + carried + 0.1*float64(n)
			if p.Fate != nil && p.Fate[i] != design.Kept || len(p.Slots) == len(lost) && lost[i] {
				y = math.NaN()
			}
			d.Response = append(d.Response, y)
			n++
		}
	}
	return d, true
}

// amend draws the second half again, with what was lost in the first.
func amend(p design.Problem, slots []design.Slot, lost []bool, seed uint64) ([]design.Part, error) {
	rest := p
	rest.Blocks = nil
	first := design.Part{Problem: p, Slots: slots, Fate: make([]design.Fate, len(slots))}
	half := len(slots)/2 + 1
	left := make([][]int, len(p.Blocks))
	for i, s := range slots {
		switch {
		case i >= half:
			first.Fate[i] = design.Replaced
			left[s.Block] = append(left[s.Block], s.Treatment)
			continue
		case lost[i]:
			first.Fate[i] = design.PlannedAgain
			left[len(left)-1] = append(left[len(left)-1], s.Treatment)
		}
		rest.Held = append(rest.Held, design.Held{Day: s.Day, Treatment: s.Treatment})
	}
	second := design.Part{}
	for j, contents := range left {
		if len(contents) > 0 {
			rest.Blocks = append(rest.Blocks, design.Block{Contents: contents, Days: p.Blocks[0].Days})
			second.Blocks = append(second.Blocks, j)
		}
	}
	for i := range lost[half:] {
		lost[half+i] = false
	}
	var err error
	second.Problem = rest
	second.Slots, err = design.Draw(rest, seed)
	return []design.Part{first, second}, err
}

// TestCalibration holds 20 000 studies a setting and records the shares in
// testdata/calibration.csv:
//
//	go test -tags calibration -run Calibration ./design/randomisation
func TestCalibration(t *testing.T) {
	const studies, seed, date = 20000, 20270113, "2026-11-25"
	var b strings.Builder
	fmt.Fprintf(&b, "# Shares of simulated studies, %d a setting, seed %d, %s; Monte Carlo standard error at most 0.0015 at 0.05, 0.0021 at 0.1.\n", studies, seed, date)
	b.WriteString("# p05, p10: the first two treatments are alike and the others differ; p at most 0.05, 0.1. held95: they differ and the 95 % interval holds it,\n")
	b.WriteString("# limited95: it has limits. global05: none differ; p of 399 random orders at most 0.05. orders: median number of equally likely orders of the two. told: studies with an answer.\n")
	b.WriteString("setting,p05,p10,held95,limited95,global05,orders,told\n")
	for _, c := range trials(t) {
		r := c.hold(t, rand.New(rand.NewPCG(seed, 1)), studies)
		fmt.Fprintf(&b, "%q,%.4f,%.4f,%.4f,%.4f,%.4f,%d,%.4f\n", c.name, r.p05, r.p10, r.held, r.limited, r.global, r.orders, r.told)
		slack := func(share float64) float64 { return 4 * math.Sqrt(share*(1-share)/studies) }
		if r.p05 > 0.05+slack(0.05) || r.p10 > 0.1+slack(0.1) || r.held < 0.95-slack(0.05) || r.global > 0.05+slack(0.05) || r.told < 0.9 {
			t.Errorf("%s: %+v", c.name, r)
		}
	}
	if err := os.MkdirAll("testdata", 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile("testdata/calibration.csv", []byte(b.String()), 0o644); err != nil {
		t.Fatal(err)
	}
}

type shares struct {
	p05, p10, held, limited, global, told float64
	orders                                int64
}

func (c trial) hold(t *testing.T, random *rand.Rand, studies int) (r shares) {
	k := c.problem.Treatments
	alike, differ := []float64{3, 3, -8, 9, 15}[:k], []float64{5, 3, -8, 9, 15}[:k]
	weights := make([]float64, k)
	weights[0], weights[1] = 1, -1
	one := 1 / float64(studies)
	var orders []int64
	for n := range studies {
		d, drawn := c.study(random, alike)
		if !drawn {
			continue
		}
		a, err := Question(d, weights, 0.95, Effort{})
		if err != nil {
			continue
		}
		r.told += one
		orders = append(orders, a.Orders.Number.Int64())
		if a.P <= 0.05 {
			r.p05 += one
		}
		if a.P <= 0.1 {
			r.p10 += one
		}
		r.addInterval(c, random, weights, differ, one)
		if d, drawn = c.study(random, make([]float64, k)); drawn {
			if g, err := Global(d, Effort{Orders: 1, Draws: 399, Seed: uint64(n)}); err == nil && g.P <= 0.05 {
				r.global += one
			}
		}
	}
	r.orders = median(orders)
	return r
}

func (r *shares) addInterval(c trial, random *rand.Rand, weights, differ []float64, one float64) {
	d, drawn := c.study(random, differ)
	if !drawn {
		r.held += one
		return
	}
	a, err := Question(d, weights, 0.95, Effort{})
	if err != nil || !a.Interval.Bounded || a.Interval.Low <= 2 && 2 <= a.Interval.High {
		r.held += one
	}
	if err == nil && a.Interval.Bounded {
		r.limited += one
	}
}

func median(values []int64) int64 {
	low := make([]float64, len(values))
	for i, v := range values {
		low[i] = float64(v)
	}
	return int64(smallest(low, (len(low)+1)/2))
}
