package null

import (
	"math"
	"strings"
	"testing"
)

func TestMistakesPanic(t *testing.T) {
	good := complete(2, 3).asking(allPairs(2, 2))
	with := func(change func(d *Design)) func() {
		d := good
		change(&d)
		return func() { _, _ = Find(d, Constant, 0.05, 0, 1) }
	}
	const sum = "null: weights of a contrast must sum to zero, one a treatment, not all zero"
	for text, calls := range map[string][]func(){
		"null: level must lie between 0 and 1": {
			func() { _, _ = Find(good, Constant, 0, 0, 1) },
			func() { _, _ = Find(good, Constant, 1, 0, 1) },
			func() { _, _ = Find(good, Constant, math.NaN(), 0, 1) },
			func() { _, _, _ = Achieved(good, []float64{1}, 0, 1) },
			func() { _, _, _ = Achieved(good, []float64{-0.1}, 0, 1) },
		},
		"null: unknown shape":                   {func() { _, _ = Find(good, SpendPocock+1, 0.05, 0, 1) }},
		"null: at least 100 studies are needed": {func() { _, _ = Find(good, Constant, 0.05, 99, 1) }, func() { _, _, _ = Achieved(good, []float64{0.1}, -1, 1) }},
		"null: one level a look is needed":      {func() { _, _, _ = Achieved(good, nil, 0, 1) }},
		"null: a design needs treatments, contrasts and looks": {
			with(func(d *Design) { d.Looks = nil }),
			with(func(d *Design) { d.Contrasts = nil }),
			with(func(d *Design) { d.Treatments = 0 }),
		},
		"null: treatment or block out of range": {
			with(func(d *Design) { d.Tests = []Test{{2, 0}} }),
			with(func(d *Design) { d.Tests = []Test{{-1, 0}} }),
			with(func(d *Design) { d.Tests = []Test{{0, -1}} }),
		},
		"null: looks must increase, within the number of tests": {
			with(func(d *Design) { d.Looks = []int{7} }),
			with(func(d *Design) { d.Looks = []int{0, 6} }),
			with(func(d *Design) { d.Looks = []int{4, 4} }),
		},
		sum: {
			with(func(d *Design) { d.Contrasts = [][]float64{{1, 0}} }),
			with(func(d *Design) { d.Contrasts = [][]float64{{0, 0}} }),
			with(func(d *Design) { d.Contrasts = [][]float64{{1, -1, 0}} }),
			with(func(d *Design) { d.Contrasts = [][]float64{{math.NaN(), 0}} }),
			with(func(d *Design) { d.Contrasts = [][]float64{{math.Inf(1), -1}} }),
		},
	} {
		for i, call := range calls {
			if got := panicText(call); got != text {
				t.Errorf("case %d: panic %q, want %q", i, got, text)
			}
		}
		if !strings.HasPrefix(text, "null: ") {
			t.Error(text)
		}
	}
}

func panicText(call func()) (text string) {
	defer func() { text, _ = recover().(string) }()
	call()
	return ""
}

func TestInputsAreNotChanged(t *testing.T) {
	d, want := crippled(), crippled()
	find(t, d, Constant, 0.05, 100)
	for i := range d.Tests {
		if d.Tests[i] != want.Tests[i] {
			t.Error("tests changed")
		}
	}
	for q := range d.Contrasts {
		for i := range d.Contrasts[q] {
			if d.Contrasts[q][i] != want.Contrasts[q][i] {
				t.Error("contrasts changed")
			}
		}
	}
}
