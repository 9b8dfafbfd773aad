package randomisation

import (
	"math"
	"slices"
	"testing"

	"mealtrial/design"
)

// An amendment is a study that was drawn, held up to a test, and drawn again.
type amendment struct {
	name  string
	first design.Problem
	until int // tests held of the first draw
	lost  int // of them, one that was lost and planned again; −1: none
	// A place of the second draw that was lost for good, counted from its end; 0: none.
	lastLost int
}

func amendments() []amendment {
	problem := func(noRepeat bool, after, before []int) design.Problem {
		p := design.CompleteBlocks(3, 3, days(40), 0)
		p.NoRepeat, p.After, p.Before = noRepeat, after, before
		return p
	}
	after, before := []int{2, 0, 0}, []int{0, 1, 0}
	return []amendment{
		{"plain", problem(false, nil, nil), 4, -1, 0},
		{"one lost", problem(false, nil, nil), 5, 1, 0},
		{"two lost, one of them for good", problem(false, nil, nil), 5, 1, 2},
		{"no repeats", problem(true, nil, nil), 6, -1, 0},
		{"no repeats, one lost", problem(true, nil, nil), 5, 2, 0},
		{"washouts of the third", problem(false, []int{0, 0, 2}, []int{0, 0, 1}), 5, -1, 0},
		{"washouts", problem(false, after, before), 6, -1, 0},
		{"washouts, no repeats, one lost", problem(true, after, before), 5, 0, 0},
	}
}

// rest is the problem of the second draw: what the first left over, and the lost
// test in the last block, from the day on that the last test held allows.
func (a amendment) rest(first []design.Slot) design.Problem {
	p := a.first
	p.Blocks = nil
	left := make([][]int, len(a.first.Blocks))
	for _, s := range first[a.until:] {
		left[s.Block] = append(left[s.Block], s.Treatment)
	}
	if a.lost >= 0 {
		left[len(left)-1] = append(left[len(left)-1], first[a.lost].Treatment)
	}
	for _, s := range first[:a.until] {
		p.Held = append(p.Held, design.Held{Day: s.Day, Treatment: s.Treatment})
	}
	last := p.Held[a.until-1]
	from := last.Day + 1
	if p.After != nil {
		from += p.After[last.Treatment]
	}
	for _, contents := range left {
		if len(contents) > 0 {
			p.Blocks = append(p.Blocks, design.Block{Contents: contents, Days: days(60)[from:]})
		}
	}
	return p
}

// each shows the data of every course that the study can take, with its chance.
func (a amendment) each(level, effect []float64, visit func(d Data, chance float64)) {
	firsts := 0.0
	design.EachOrder(a.first, func(design.Order) { firsts++ })
	design.EachOrder(a.first, func(o design.Order) {
		slots := o.Slots()
		first := slices.Clone(slots)
		rest := a.rest(first)
		seconds := 0.0
		design.EachOrder(rest, func(design.Order) { seconds++ })
		design.EachOrder(rest, func(o design.Order) {
			second := o.Slots()
			visit(a.data(first, slices.Clone(second), rest, level, effect), 1/firsts/seconds)
		})
	})
}

func (a amendment) data(first, second []design.Slot, rest design.Problem, level, effect []float64) Data {
	fate := make([]design.Fate, len(first))
	for i := a.until; i < len(fate); i++ {
		fate[i] = design.Replaced
	}
	if a.lost >= 0 {
		fate[a.lost] = design.PlannedAgain
	}
	blocks := days(len(a.first.Blocks))[len(a.first.Blocks)-len(rest.Blocks):]
	d := Data{Parts: []design.Part{{Problem: a.first, Slots: first, Fate: fate}, {Problem: rest, Slots: second, Blocks: blocks}}}
	for i, s := range slices.Concat(first, second) {
		y := level[i] + effect[s.Treatment]
		if i < len(first) && fate[i] != design.Kept {
			y = math.NaN()
		}
		d.Response = append(d.Response, y)
	}
	if a.lastLost > 0 {
		d.Response[len(d.Response)-a.lastLost] = math.NaN()
	}
	return d
}

// Over all courses of an amended study the p-values keep every level: of two alike
// treatments while the third differs, and of all when none differs; and the interval
// holds the difference of two that differ.
func TestAmendedStudiesAreExact(t *testing.T) {
	for _, a := range amendments() {
		level := levels(24)
		alike, global, held := tail{}, tail{}, 0.0
		a.each(level, []float64{5, 5, -20}, func(d Data, chance float64) {
			answer, err := Question(d, []float64{1, -1, 0}, 0.7, Effort{})
			if err != nil {
				t.Fatal(a.name, err)
			}
			alike[answer.P] += chance
		})
		a.each(level, []float64{7, 5, -20}, func(d Data, chance float64) {
			answer, _ := Question(d, []float64{1, -1, 0}, 0.7, Effort{})
			if i := answer.Interval; !i.Bounded || i.Low <= 2+1e-9 && i.High >= 2-1e-9 {
				held += chance
			}
		})
		a.each(level, []float64{0, 0, 0}, func(d Data, chance float64) {
			g, err := Global(d, Effort{})
			if err != nil {
				t.Fatal(a.name, err)
			}
			global[g.P] += chance
		})
		alike.check(t, a.name)
		global.check(t, a.name+", global")
		if held < 0.7-1e-9 {
			t.Errorf("%s: the interval holds the difference with a chance of %v", a.name, held)
		}
		if len(alike) < 2 || len(global) < 6 {
			t.Errorf("%s: %d and %d p-values", a.name, len(alike), len(global))
		}
	}
}
