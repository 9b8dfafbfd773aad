//go:build calibration

package protocol

import (
	"fmt"
	"os"
	"testing"
	"time"
)

// TestCalibrationBattery writes testdata/battery.csv:
//
//	go test -tags calibration -run CalibrationBattery ./protocol
func TestCalibrationBattery(t *testing.T) {
	const studies, seed = 40_000, 20270111
	out := fmt.Sprintf("# %d simulated studies a row, with block shifts; made by TestCalibrationBattery on %s, seed %d.\n", studies, time.Now().Format("2006-01-02"), seed) +
		"# false_alarms: share of studies that call a pair without difference different at any look, by the interval that decides (promised 0.05)\n" +
		"# and by plain 95 % intervals; standard error 0.0011. coverage: of the plain 95 % interval at the last look, and of the question with the least.\n" +
		"scenario,foods,questions,looks,shape,false_alarms,false_alarms_plain,coverage,coverage_worst_question\n"
	row := func(c scenario, r batteryResult) {
		out += fmt.Sprintf("%q,%d,%d,%q,%s,%.4f,%.4f,%.4f,%.4f\n", c.name, c.foods, c.questions, c.looks, c.shape, r.falseAlarm, r.plain, r.coverage, r.worst)
	}
	for i, c := range withoutDifference() {
		r := c.battery(t, 10, studies, seed+uint64(i))
		row(c, r)
		if r.falseAlarm > 0.05+3*r.se(0.05) || r.coverage < 0.94 || r.coverage > 0.96 {
			t.Errorf("%s, %d questions, looks %s %s: %+v", c.name, c.questions, c.looks, c.shape, r)
		}
	}
	for i, c := range doubtful() {
		row(c, c.battery(t, 10, studies, seed+100+uint64(i)))
	}
	if err := os.WriteFile("testdata/battery.csv", []byte(out), 0o644); err != nil {
		t.Fatal(err)
	}
	t.Log(out)
}

// doubtful are those in which one fails.
func doubtful() []scenario {
	base := scenario{foods: 5, blocks: 6, questions: 4, looks: "at the end", shape: "constant", blockSD: 1}
	with := func(name string, change func(*scenario)) scenario {
		c := base
		c.name = name
		change(&c)
		return c
	}
	return []scenario{
		with("errors by t on 3 df", func(c *scenario) { c.tails = true }),
		with("SD in proportion to the response, means 0 to 6 SDs", func(c *scenario) { c.scaled, c.truth = true, []float64{0, 0, 2, 4, 6} }),
		with("SD in proportion to the response, the larger ones compared", func(c *scenario) { c.scaled, c.truth = true, []float64{6, 6, 4, 2, 0} }),
		with("correlation 0.3 from test to test", func(c *scenario) { c.serial = 0.3 }),
		with("correlation 0.6 from test to test", func(c *scenario) { c.serial = 0.6 }),
		with("all rise by 3 SDs over the study", func(c *scenario) { c.trendOver = 3 }),
		with("all rise by 6 SDs over the study", func(c *scenario) { c.trendOver = 6 }),
	}
}
