//go:build calibration

package demo

import (
	"fmt"
	"os"
	"testing"
)

// TestCalibration counts over 1000 demo studies, from readings to intervals,
// and records the share in testdata/calibration.csv:
//
//	go test -tags calibration -run Calibration ./protocol/demo
func TestCalibration(t *testing.T) {
	const studies = 1000
	share, n := coverage(t, studies)
	text := fmt.Sprintf("# Share of 95 %% intervals of the demo's questions that hold the truth, seeds 1 to %d.\n"+
		"studies,intervals,coverage\n%d,%d,%.4f\n", studies, studies, n, share)
	if err := os.MkdirAll("testdata", 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile("testdata/calibration.csv", []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	if share < 0.94 || share > 0.96 {
		t.Error(text)
	}
}
