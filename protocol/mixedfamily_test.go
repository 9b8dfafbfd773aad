//go:build calibration

package protocol

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"testing"
	"time"
)

// The false alarms of random blocks over three questions and two looks, with the
// levels that the program takes at the estimated variance ratio and the intervals
// of Kenward and Roger; written to testdata/mixed_false_alarms.csv:
//
//	go test -tags calibration -run CalibrationMixedFamily -timeout 60m ./protocol
func TestCalibrationMixedFamily(t *testing.T) {
	const studies, schedules, seed = 1500, 10, 20270111
	out := fmt.Sprintf("# %d studies a row of 4 foods in 9 incomplete blocks of 2 or 3, all 3 questions against the reference, looks after 5 and 9 blocks, no difference.\n", studies) +
		fmt.Sprintf("# Made by TestCalibrationMixedFamily on %s, seed %d. Shares of studies that call one different (promised 0.05), standard error 0.006.\n", time.Now().Format("2006-01-02"), seed) +
		"true_variance_ratio,false_alarms_random_blocks\n"
	text := "foods:\n  - {id: a, role: reference}\n  - {id: b}\n  - {id: c}\n  - {id: d}\nblocks: random\nlooks: [5]\n" +
		"plan: {start: 2027-01-11, until: 2028-01-11, repeats: 5, washout: 0, block_size: 3, consecutive: allowed}\n"
	s := study(t, text)
	drawn := make([]*Schedule, schedules)
	for i := range drawn {
		var err error
		if drawn[i], err = DrawSchedule(s, uint64(i)+1); err != nil {
			t.Fatal(err)
		}
	}
	for _, ratio := range []float64{0, 1, 4} {
		random := rand.New(rand.NewPCG(seed, uint64(10*ratio)))
		alarms := 0
		for i := range studies {
			schedule := drawn[i%schedules]
			f := &Folder{Study: s, Schedule: schedule, Log: &Log{}}
			blocks := len(f.blocksInTime())
			shift := map[int]float64{}
			alarm := false
			for _, after := range s.Looks.of(blocks) {
				var from, to Date
				for _, p := range schedule.Tests {
					if p.Block <= after {
						to = max(to, p.Date+1)
					}
					if len(f.Log.Tests) > 0 {
						from = f.Log.Tests[len(f.Log.Tests)-1].Date + 1
					}
				}
				eat(t, f, from, to, func(_ int, p PlannedTest) float64 {
					if _, ok := shift[p.Block]; !ok {
						shift[p.Block] = math.Sqrt(ratio) * random.NormFloat64()
					}
					return 100 + 5*(shift[p.Block]+random.NormFloat64())
				})
				x, err := f.answer()
				if err != nil {
					t.Fatal(err)
				}
				state := f.lookState()
				levels := f.levels(state, x.models, func(int) bool { return true })
				x.keepPromise(s, x.models, levels)
				for _, q := range x.Questions {
					alarm = alarm || q.Low != nil && (*q.Low > 0 || *q.High < 0)
				}
				f.Ledger = append(f.Ledger, Look{Blocks: state.Finished, Declared: state.Now > 0, Nominal: levels.nominal()})
			}
			if alarm {
				alarms++
			}
		}
		share := float64(alarms) / studies
		out += fmt.Sprintf("%g,%.4f\n", ratio, share)
		if share > 0.05+3*math.Sqrt(0.05*0.95/studies) {
			t.Errorf("ratio %g: %.4f", ratio, share)
		}
	}
	if err := os.WriteFile("testdata/mixed_false_alarms.csv", []byte(out), 0o644); err != nil {
		t.Fatal(err)
	}
	t.Log(out)
}
