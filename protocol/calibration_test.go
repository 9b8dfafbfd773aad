//go:build calibration

package protocol

import (
	"fmt"
	"math"
	"os"
	"testing"
	"time"
)

// The long form of TestFalseAlarmsOverQuestionsAndLooks; its result is kept in
// testdata/false_alarms.csv.
func TestCalibrationFalseAlarms(t *testing.T) {
	const studies = 6000
	out := "# Shares of 6000 studies without any difference that call one different, at any of four looks and two questions.\n" +
		"# Made by TestCalibrationFalseAlarms, seed 20270111, " + time.Now().Format("2006-01-02") + ". Promised 0.05.\n" +
		"shape,honest,plain,standard_error\n"
	for _, shape := range []string{"constant", "obrien_fleming"} {
		honest, plain, n := falseAlarms(t, shape, studies)
		share := float64(honest) / float64(n)
		se := math.Sqrt(0.05 * 0.95 / float64(n))
		out += fmt.Sprintf("%s,%.4f,%.4f,%.4f\n", shape, share, float64(plain)/float64(n), se)
		if math.Abs(share-0.05) > 3*se {
			t.Errorf("%s: %.4f", shape, share)
		}
	}
	if err := os.WriteFile("testdata/false_alarms.csv", []byte(out), 0o644); err != nil {
		t.Fatal(err)
	}
}
