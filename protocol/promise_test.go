package protocol

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"mealtrial/stats"
)

// Studies without any difference, looked at after blocks 3, 4, 5 and 6, with two
// questions: the chance of any false "different" at any look is 5 %, and the plain
// interval would have it far more often (repeated looks at 95 %: 0.126 for one
// question and four looks, Jennison and Turnbull 2000, table 2.1; from memory).
func TestFalseAlarmsOverQuestionsAndLooks(t *testing.T) {
	for _, shape := range []string{"constant", "obrien_fleming"} {
		any, plain, n := falseAlarms(t, shape, 400)
		se := math.Sqrt(0.05 * 0.95 / float64(n))
		if share := float64(any) / float64(n); math.Abs(share-0.05) > 3.5*se {
			t.Errorf("%s: false alarms in %.4f of %d studies, want 0.05", shape, share, n)
		}
		if share := float64(plain) / float64(n); share < 0.10 {
			t.Errorf("%s: plain intervals give %.4f only, so the test cannot tell", shape, share)
		}
	}
}

func falseAlarms(t *testing.T, shape string, studies int) (anyFalse, plainFalse, n int) {
	s := study(t, "foods: [{id: wheat, role: reference}, lupin, konjac]\nquestions: [each vs reference]\nlooks: {after: every block from 3, shape: "+shape+
		"}\nplan: {start: 2027-01-11, until: 2027-02-28, repeats: 6, washout: 1}\n")
	schedule, err := DrawSchedule(s, 1)
	if err != nil {
		t.Fatal(err)
	}
	random := rand.New(rand.NewPCG(20270111, 1))
	folderWith := func(blocks int, values []float64) *Folder {
		var log strings.Builder
		for i, p := range schedule.Tests {
			if p.Block <= blocks {
				fmt.Fprintf(&log, "---\n{date: %s, food: %s, block: %d, value: %.6f}\n", p.Date, p.Food, p.Block, values[i])
			}
		}
		parsed, err := ParseLog([]byte(log.String()), s)
		if err != nil {
			t.Fatal(err)
		}
		return &Folder{Study: s, Log: parsed, Schedule: schedule}
	}
	draw := func() (values []float64) {
		shift := 0.0
		for i, p := range schedule.Tests {
			if i == 0 || p.Block != schedule.Tests[i-1].Block {
				shift = 15 * random.NormFloat64()
			}
			values = append(values, 40+shift+8*random.NormFloat64())
		}
		return values
	}
	levels := map[int]Levels{}
	for range studies {
		values := draw()
		bad, badPlain := false, false
		for blocks := 3; blocks <= 6; blocks++ {
			f := folderWith(blocks, values)
			if _, known := levels[blocks]; !known {
				x, err := f.answer()
				if err != nil {
					t.Fatal(err)
				}
				levels[blocks] = f.levels(f.lookState(), x.models, func(int) bool { return true })
			}
			a, err := f.Answers(levels[blocks])
			if err != nil {
				t.Fatal(err)
			}
			for _, q := range a.Questions {
				bad = bad || q.Verdict == stats.Different
				badPlain = badPlain || q.PlainVerdict == stats.Different
			}
		}
		n++
		if bad {
			anyFalse++
		}
		if badPlain {
			plainFalse++
		}
	}
	return anyFalse, plainFalse, n
}
