package predict

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"

	"mealtrial/stats"
	"mealtrial/stats/additive"
	"mealtrial/stats/linear"
)

func TestPlace(t *testing.T) {
	b := Bounds{Lower: 2, Upper: 3, Level: 0.95}
	for _, c := range []struct {
		limit float64
		want  Place
		words string
	}{
		{3.1, Below, "shown below the limit"},
		{3, Open, "still open"}, // equal shows nothing
		{2.5, Open, "still open"},
		{2, Open, "still open"},
		{1.9, Above, "shown above the limit"},
	} {
		if got := b.Place(c.limit); got != c.want || got.Words() != c.words {
			t.Errorf("limit %g: %s, %q", c.limit, got, got.Words())
		}
	}
}

func TestWhatTheDataCannotGive(t *testing.T) {
	obs := func(values ...float64) (o []additive.Observation) {
		for i, v := range values {
			o = append(o, additive.Observation{Treatment: i, Value: v})
		}
		return o
	}
	if _, err := FromFit(additive.NewFit(obs(1, 2, 3)), 0); !errors.Is(err, ErrNoSpread) {
		t.Errorf("no degrees of freedom: %v", err)
	}
	alike := append(obs(1, 2), obs(1, 2)...)
	if _, err := FromFit(additive.NewFit(alike), 0); !errors.Is(err, ErrNoSpread) {
		t.Errorf("responses alike: %v", err)
	}
	missing := append(obs(1, 2), additive.Observation{Treatment: 3, Value: 4}, additive.Observation{Treatment: 3, Value: 5})
	if _, err := FromFit(additive.NewFit(missing), 2); !errors.Is(err, linear.ErrNotEstimable) {
		t.Errorf("treatment never tested: %v", err)
	}
	for _, responses := range [][]float64{nil, {3}, {3, 3, 3}, {0.1, 0.1, 0.1}} {
		if m, err := FromResponses(responses); !errors.Is(err, ErrNoSpread) || m != (Mean{}) {
			t.Errorf("%v: %+v, %v", responses, m, err)
		}
	}
	if got := ErrNoSpread.Error(); got != "no spread of repeated responses to judge by" {
		t.Error(got)
	}
}

func TestPanics(t *testing.T) {
	good := Mean{Value: 1, Factor: 0.5, SD: 1, DF: 3}
	with := func(change func(*Mean)) func() { return func() { m := good; change(&m); Next(m, 0.95) } }
	for text, calls := range map[string][]func(){
		"predict: mean, factor and spread must be finite": {
			with(func(m *Mean) { m.Value = math.NaN() }), with(func(m *Mean) { m.SD = math.Inf(1) }), with(func(m *Mean) { m.Factor = math.NaN() })},
		"predict: factor and spread must not be negative": {
			with(func(m *Mean) { m.Factor = -1 }), with(func(m *Mean) { m.SD = -1 })},
		"predict: level out of range": {
			func() { Next(good, 1) }, func() { Next(good, 0) }, func() { MeanBounds(good, 0.4) }, func() { NextBounds(good, math.NaN()) }},
		"predict: limit must be finite":              {func() { Bounds{}.Place(math.Inf(1)) }},
		"predict: responses must be finite":          {func() { _, _ = FromResponses([]float64{1, math.NaN()}) }},
		"stats: degrees of freedom must be positive": {with(func(m *Mean) { m.DF = 0 })},
	} {
		for _, call := range calls {
			func() {
				defer func() {
					if got := recover(); got != text {
						t.Errorf("panic %v, want %q", got, text)
					}
				}()
				call()
			}()
		}
	}
}

// A place is what the one-sided t test at 1 − level says; shown for the next
// response implies shown for the mean; mirrored data give the mirrored place.
func TestPlaceIsTheOneSidedTest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := Mean{
			Value:  rapid.Float64Range(-20, 20).Draw(t, "value"),
			Factor: rapid.Float64Range(0.1, 1).Draw(t, "factor"),
			SD:     rapid.Float64Range(0.1, 10).Draw(t, "sd"),
			DF:     float64(rapid.IntRange(1, 40).Draw(t, "df")),
		}
		level := rapid.Float64Range(0.5, 0.999).Draw(t, "level")
		limit := rapid.Float64Range(-20, 20).Draw(t, "limit")
		tValue := (m.Value - limit) / (m.SD * m.Factor)
		p := stats.TwoSidedP(tValue, m.DF) / 2 // of the side the value lies on
		if math.Abs(p-(1-level)) < 1e-9 {
			t.Skip("on the border")
		}
		want := Open
		switch {
		case p < 1-level && tValue < 0:
			want = Below
		case p < 1-level:
			want = Above
		}
		mean, next := MeanBounds(m, level).Place(limit), NextBounds(m, level).Place(limit)
		if mean != want {
			t.Fatalf("%s, one-sided p %g says %s", mean, p, want)
		}
		if next != Open && next != mean {
			t.Fatalf("next response %s, mean %s", next, mean)
		}
		mirrored := m
		mirrored.Value = -m.Value
		opposite := map[Place]Place{Below: Above, Above: Below, Open: Open}
		if got := MeanBounds(mirrored, level).Place(-limit); got != opposite[mean] {
			t.Fatalf("%s, mirrored %s", mean, got)
		}
	})
}
