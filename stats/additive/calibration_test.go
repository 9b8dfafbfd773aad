//go:build calibration

package additive

import (
	"fmt"
	"os"
	"strings"
	"testing"
)

// TestCalibration runs 100 000 studies a layout and records the table in
// testdata/calibration.csv:
//
//	go test -tags calibration -run Calibration ./stats/additive
func TestCalibration(t *testing.T) {
	const studies, seed = 40000, 20270111
	var b strings.Builder
	fmt.Fprintf(&b, "# Shares of simulated studies, %d a layout, seed %d; Monte Carlo standard error %.4f.\n", studies, seed, 0.0011)
	b.WriteString("# coverage: the 95 % interval held the truth; alarm: a check at 5 % spoke up where nothing was amiss.\n")
	b.WriteString("layout,coverage_difference,coverage_sd,alarm_outlier,alarm_trend,alarm_unequal\n")
	for _, l := range layouts {
		got := l.tally(studies, seed)
		fmt.Fprintf(&b, "%q,%.4f,%.4f,%.4f,%.4f,%.4f\n", l.name, got.difference, got.sd, got.outlier, got.trend, got.unequal)
		if got.difference < 0.94 || got.difference > 0.96 || got.sd < 0.94 || got.sd > 0.96 || got.outlier > 0.055 || got.trend > 0.055 || got.unequal > 0.055 {
			t.Errorf("%s: %+v", l.name, got)
		}
	}
	if err := os.MkdirAll("testdata", 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile("testdata/calibration.csv", []byte(b.String()), 0o644); err != nil {
		t.Fatal(err)
	}
	t.Log(b.String())
}
