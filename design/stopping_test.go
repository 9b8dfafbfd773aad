package design

import (
	"errors"
	"math"
	"testing"

	"mealtrial/stats/additive"
	"mealtrial/stats/linear"
)

func pairs(n int) (layout []additive.Observation) {
	for i := range n {
		layout = append(layout, additive.Observation{Treatment: 0, Block: i}, additive.Observation{Treatment: 1, Block: i})
	}
	return layout
}

// At one look the simulated shares are the exact chances of VerdictChances, with a
// known spread and with an estimated one.
func TestOneLookIsTheExactChance(t *testing.T) {
	const studies = 40_000
	for _, c := range []struct{ size, margin, df float64 }{{0, 0, math.Inf(1)}, {1.5, 0, math.Inf(1)}, {2, 1, math.Inf(1)}, {0.2, 2.5, math.Inf(1)}, {1.5, 0, 6}} {
		s := Sequence{Layout: pairs(6), Contrast: []float64{1, -1}, Looks: []Decision{{12, 0.05}}, Margin: c.margin}
		looks, tests, err := s.Settle(c.size, 1, c.df, studies, 1)
		if err != nil {
			t.Fatal(err)
		}
		want := 1 - AverageChances(c.size, math.Sqrt(2.0/6), 1, c.df, 5, 0.95, c.margin).Open
		if math.Abs(looks[0].By-want) > 4*math.Sqrt(want*(1-want)/studies)+1e-9 || tests != 12 {
			t.Errorf("%+v: settled %.4f, exactly %.4f; %v tests", c, looks[0].By, want, tests)
		}
	}
}

// Two looks at Pocock's nominal level with many pairs: without a difference one is
// claimed with a chance of 0.05 (Jennison and Turnbull 2000, table 2.1; from memory),
// and each false claim is a wrong interval.
func TestTwoLooksKeepTheirPromise(t *testing.T) {
	const studies = 40_000
	s := Sequence{Layout: pairs(60), Contrast: []float64{1, -1}, Looks: []Decision{{60, 0.029386}, {120, 0.029386}}}
	looks, tests, err := s.Settle(0, 1, math.Inf(1), studies, 2)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(looks[1].By-0.05) > 0.0045 || looks[1].By != looks[1].Wrong || !(looks[0].By < looks[1].By) || !(tests < 120 && tests > 110) {
		t.Errorf("%+v after %v tests", looks, tests)
	}
}

// A look at which a treatment of the question is still to come is an error, and one at
// which nothing is decided is none, however strict the level.
func TestSettleBeforeAllTreatmentsAreIn(t *testing.T) {
	var layout []additive.Observation
	for b := range 6 {
		layout = append(layout, additive.Observation{Treatment: b / 3 * 2, Block: b}, additive.Observation{Treatment: b/3*2 + b%2, Block: b})
	}
	s := Sequence{Layout: layout, Contrast: []float64{0, 0, 1, -1}, Looks: []Decision{{Tests: 6, Level: 0.02}, {Tests: 12, Level: 0.04}}}
	if _, _, err := s.Settle(1, 1, math.Inf(1), 10, 1); !errors.Is(err, linear.ErrNotEstimable) {
		t.Errorf("error %v", err)
	}
	s.Looks[0].Level = 0
	s.Looks[1].Level = 1e-18
	if looks, tests, err := s.Settle(1, 1, math.Inf(1), 10, 1); err != nil || looks[1].By != 0 || tests != 12 {
		t.Errorf("%+v after %v tests, %v", looks, tests, err)
	}
}
