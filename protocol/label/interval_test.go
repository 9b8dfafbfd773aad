package label

import (
	"encoding/json"
	"testing"
)

func TestIntervalText(t *testing.T) {
	for want, i := range map[string]Interval{
		"10.5 to under 11.5": halfOpen(10.5, 11.5), "33 to under 35": open(33, 35), "over 0 to under 1": open(0, 1), "0 to 0.5": closed(0, 0.5), "34": closed(34, 34), "0": closed(0, 0),
		"33.4 to 35.8": closed(33.4545, 35.71), "0.495 to 0.505": closed(0.495, 0.505), "1850 to 2000": closed(1850.3, 1999.2), "-0.1 to 2": closed(-0.05, 2), "0.000098 to 0.000107": closed(0.0000981, 0.0001061),
	} {
		if got := i.Text(); got != want {
			t.Errorf("%v: %q, want %q", i, got, want)
		}
	}
}

func TestIntervalJSON(t *testing.T) {
	got, err := json.Marshal(halfOpen(0.1+0.2, 1.0/3))
	if want := `{"low":0.3,"high":0.333333333333,"low_open":false,"high_open":true}`; err != nil || string(got) != want {
		t.Errorf("%s, %v", got, err)
	}
}

func TestIntervalEnds(t *testing.T) {
	for _, c := range []struct {
		i    Interval
		x    float64
		want bool
	}{{closed(1, 2), 1, true}, {closed(1, 2), 2, true}, {open(1, 2), 1, false}, {open(1, 2), 2, false}, {halfOpen(1, 2), 1, true}, {closed(1, 2), 2.1, false}} {
		if got := c.i.Contains(c.x); got != c.want {
			t.Errorf("%v holds %g: %v", c.i, c.x, got)
		}
	}
	if !closed(1, 2).Overlaps(closed(2, 3)) || halfOpen(1, 2).Overlaps(closed(2, 3)) || closed(2, 3).Overlaps(halfOpen(1, 2)) || closed(1, 2).Overlaps(open(2, 3)) {
		t.Error("overlap at an end")
	}
	if got := open(-1, 1).atLeast(0); got != halfOpen(0, 1) {
		t.Errorf("cut at zero: %v", got)
	}
	if got := open(-2, -1).atLeast(0); got != closed(0, 0) {
		t.Errorf("all cut off: %v", got)
	}
}

// Mistakes of the program panic.
func TestPanics(t *testing.T) {
	for name, f := range map[string]func(){
		"label: no rounding rule for this line":            func() { RuleFor(US, Salt, Gram) },
		"label: a negative amount":                         func() { RuleFor(US, Fat, Gram).Print(-1) },
		"label: product of a negative interval":            func() { closed(-1, 1).times(closed(0, 1)) },
		"label: division by an interval that reaches zero": func() { closed(1, 1).over(halfOpen(0, 1)) },
		"label: not a finite number in a result":           func() { _, _ = number(1 / closed(0, 0).Low).MarshalJSON() },
		"label: no rounding rule for this line, kJ":        func() { RuleFor(US, Energy, KJ) },
		"label: no rounding rule for this line, sodium":    func() { RuleFor(EU, Sodium, Milligram) },
		"label: a negative amount (not a number)":          func() { RuleFor(EU, Fat, Gram).Print(closed(0, 0).Low / closed(0, 0).Low) },
	} {
		func() {
			defer func() {
				if r, _ := recover().(string); r == "" || len(r) > len(name) || name[:len(r)] != r {
					t.Errorf("%s: %v", name, r)
				}
			}()
			f()
		}()
	}
}
