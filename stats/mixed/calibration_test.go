//go:build calibration

package mixed

import (
	"fmt"
	"os"
	"strings"
	"testing"
	"time"
)

// TestCalibration records in testdata/calibration.csv how often intervals hold
// the truth:
//
//	go test -tags calibration -run Calibration ./stats/mixed
//
// The bounds allow for what the approximation of Kenward and Roger is known to
// miss with few tests; see the package's table.
func TestCalibration(t *testing.T) {
	const studies, seed = 20000, 20261125
	var b strings.Builder
	fmt.Fprintf(&b, "# Shares of %d simulated studies a line, seed %d, made %s; Monte Carlo standard error 0.0015, of unadjusted and boundary up to 0.0035.\n",
		studies, seed, time.Now().UTC().Format(time.DateOnly))
	b.WriteString("# ratio: true block variance / error variance. pairs, lowest, highest: coverage of 95 % intervals of differences, of all, of the worst and best pair.\n")
	b.WriteString("# mean: of the mean of the first treatment. unadjusted: of differences, unadjusted SE and normal quantile. boundary: block variance estimated as zero.\n")
	b.WriteString("# width: mean width of the first difference in units of that with fixed blocks.\n")
	b.WriteString("layout,ratio,pairs,lowest,highest,mean,unadjusted,boundary,width\n")
	for _, p := range plans {
		for _, ratio := range ratios {
			got := p.tally(ratio, studies, seed)
			fmt.Fprintf(&b, "%q,%g,%.4f,%.4f,%.4f,%.4f,%.4f,%.4f,%.3f\n", p.name, ratio, got.pairs, got.low, got.high, got.mean, got.unadjusted, got.boundary, got.width)
			if got.low < 0.93 || got.high > 0.985 {
				t.Errorf("%s, ratio %g: coverage of a difference from %.4f to %.4f", p.name, ratio, got.low, got.high)
			}
		}
	}
	if err := os.WriteFile("testdata/calibration.csv", []byte(b.String()), 0o644); err != nil {
		t.Fatal(err)
	}
	t.Log(b.String())
}
