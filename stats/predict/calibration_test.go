//go:build calibration

package predict

import (
	"fmt"
	"math"
	"os"
	"strings"
	"testing"
)

// TestCalibration runs 50 000 studies a plan and records the table in
// testdata/calibration.csv:
//
//	go test -tags calibration -run Calibration ./stats/predict
func TestCalibration(t *testing.T) {
	const studies, seed = 50000, 20270114
	var b strings.Builder
	fmt.Fprintf(&b, "# Shares of simulated studies, %d a plan, seed %d; Monte Carlo standard error 0.0010 near 0.95, 0.0013 near 0.9.\n", studies, seed)
	b.WriteString("# next: 0.95 interval of the next response in an average block; upper, lower: its 0.9 bounds; below, above: a mean at the limit misplaced at 0.95.\n")
	b.WriteString("# new_block_own, new_block_residual: 0.95 interval of the next response in a new block, block SD three times the error SD, by FromResponses and FromFit.\n")
	b.WriteString("plan,next,upper,lower,below,above,new_block_own,new_block_residual\n")
	for _, p := range plans {
		got := p.tally(studies, seed)
		fmt.Fprintf(&b, "%q,%.4f,%.4f,%.4f,%.4f,%.4f,%.4f,%.4f\n", p.name, got.two, got.upper, got.lower, got.below, got.above, got.newOwn, got.newPooled)
		if math.Abs(got.two-0.95) > 0.004 || math.Abs(got.newOwn-0.95) > 0.004 || math.Abs(got.below-0.05) > 0.004 {
			t.Errorf("%s: %+v", p.name, got)
		}
	}
	if err := os.WriteFile("testdata/calibration.csv", []byte(b.String()), 0o644); err != nil {
		t.Fatal(err)
	}
}
