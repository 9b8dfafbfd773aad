//go:build calibration

package ratio

import (
	"fmt"
	"math"
	"os"
	"strings"
	"testing"
)

// TestCalibration runs 200 000 studies a setting and records the table in
// testdata/calibration.csv:
//
//	go test -tags calibration -run Calibration ./stats/ratio
func TestCalibration(t *testing.T) {
	const studies, seed = 200000, 20270112
	var b strings.Builder
	fmt.Fprintf(&b, "# Shares of simulated studies, %d a setting, seed %d; Monte Carlo standard error at most 0.0009.\n", studies, seed)
	b.WriteString("# coverage: the set held the true ratio; the other columns are shares of its shapes.\n")
	b.WriteString("setting,level,coverage,bounded,complement,unbounded\n")
	for _, s := range settings {
		got, shapes := s.tally(studies, seed)
		fmt.Fprintf(&b, "%q,%g,%.4f,%.4f,%.4f,%.4f\n", s.name, s.level, got, shapes[Bounded], shapes[Complement], shapes[Unbounded])
		if math.Abs(got-s.level) > 4*math.Sqrt(s.level*(1-s.level)/studies) {
			t.Errorf("%s: coverage %.4f, want %g", s.name, got, s.level)
		}
	}
	if err := os.MkdirAll("testdata", 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile("testdata/calibration.csv", []byte(b.String()), 0o644); err != nil {
		t.Fatal(err)
	}
}
