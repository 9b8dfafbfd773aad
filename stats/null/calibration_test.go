//go:build calibration

package null

import (
	"fmt"
	"os"
	"sort"
	"strings"
	"testing"
)

// Layouts in which a critical value is hard to find: few degrees of freedom at
// the first look, many looks, many questions.
var hardDesigns = map[string]Design{
	"df 1 then 2":                      complete(3, 2).asking(allPairs(3, 3)).looks(5, 6),
	"pairs from df 1, 6 looks":         complete(2, 7).asking(allPairs(2, 2)).looks(4, 6, 8, 10, 12, 14),
	"10 treatments, 45 pairs, 6 looks": complete(10, 10).asking(allPairs(10, 10)).looks(20, 40, 60, 80, 90, 100),
	"many pairs, 10 looks":             equalLooks(10),
	"no blocks, looks after each test": oneWay(2, 2, 3, 3).asking(allPairs(4, 4)).looks(4, 5, 6, 7, 8, 9, 10),
}

// TestCalibration simulates a million whole studies a layout and records what
// was achieved, and the precision at the default number of studies, in
// testdata/calibration.csv:
//
//	go test -tags calibration -run Calibration ./stats/null
func TestCalibration(t *testing.T) {
	const studies, seed = 1_000_000, 20270302
	var b strings.Builder
	fmt.Fprintf(&b, "# Bounds for alpha 0.05 with %d studies. achieved: share of %d whole studies, simulated\n", DefaultStudies, studies)
	fmt.Fprintf(&b, "# test by test with seed %d and fitted by least squares, in which some question passed;\n", seed)
	b.WriteString("# its Monte Carlo standard error is 0.0002. error_*: relative standard errors of the critical value, per cent.\n")
	b.WriteString("layout,shape,level_last,level_error,achieved,error_first_percent,error_last_percent\n")
	record := func(name string, d Design, whole bool) {
		for shape, word := range []string{"constant", "O'Brien-Fleming"} {
			bound := find(t, d, Shape(shape), 0.05, 0)
			achieved := ""
			if whole {
				got := brute(d, bound, studies, seed)
				achieved = fmt.Sprintf("%.4f", got)
				if got < 0.048 || got > 0.052 {
					t.Errorf("%s, %s: %.4f", name, word, got)
				}
			}
			final := 100 * bound.CriticalError[len(d.Looks)-1]
			if final > 0.5 {
				t.Errorf("%s, %s: relative error %.2f %%", name, word, final)
			}
			fmt.Fprintf(&b, "%q,%s,%.6f,%.6f,%s,%.3f,%.3f\n", name, word, last(bound), bound.LevelError, achieved, 100*bound.CriticalError[0], final)
		}
	}
	for _, name := range names(bruteDesigns) {
		record(name, bruteDesigns[name], true)
	}
	for _, name := range names(hardDesigns) {
		record(name, hardDesigns[name], false)
	}
	if err := os.MkdirAll("testdata", 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile("testdata/calibration.csv", []byte(b.String()), 0o644); err != nil {
		t.Fatal(err)
	}
	t.Log(b.String())
}

func names(designs map[string]Design) (sorted []string) {
	for name := range designs {
		sorted = append(sorted, name)
	}
	sort.Strings(sorted)
	return sorted
}
