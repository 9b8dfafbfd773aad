package protocol

import (
	"fmt"
	"strings"
	"testing"
)

// With very many tests not every one is left out in turn where each needs a fit of
// its own, and the table says so; a small study leaves out all.
func TestLeavingOutIsBounded(t *testing.T) {
	for foods, want := range map[int]string{
		4:  worstOfEach,
		24: "tests that weigh most; to try all of so many would take too long",
		60: "not tried: so many tests and foods would take too long to fit anew without each",
	} {
		d := drawn{options: "blocks: random\nmargin: 5\n"}
		for i := range foods {
			d.foods = append(d.foods, fmt.Sprintf("f%d", i))
			d.roles = append(d.roles, map[bool]string{true: "reference", false: "test"}[i == 0])
			if i > 0 {
				d.questions = append(d.questions, fmt.Sprintf("{%d} vs {0}", i))
			}
		}
		for b := range 8 {
			for i := range foods {
				d.tests = append(d.tests, drawnEntry{food: i, block: b + 1, value: float64(30 + i%7 + (b*b*13+i*i*7+i*b*5)%23)})
			}
		}
		ways := d.analyse(t, d.inOrder()).Robustness[0].Ways
		if len(ways) == 0 || !strings.Contains(ways[0].Note, want) {
			t.Errorf("%d foods: %+v, want %q", foods, ways[0], want)
		}
	}
}
