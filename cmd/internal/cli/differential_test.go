package cli

import (
	"bytes"
	"encoding/json"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"mealtrial/protocol"
)

var (
	differential     = flag.String("differential", "", "`file` to write random studies and their analyses to, for testdata/reference/differential.R")
	differentialSeed = flag.Uint64("differential-seed", 1, "seed of the random studies")
	differentialN    = flag.Int("differential-studies", 500, "how many")
)

// A drawnTest is one test of a random study, as R reads it.
type drawnTest struct {
	Food  string  `json:"food"`
	Block int     `json:"block"`
	Value float64 `json:"value"`
	Lost  bool    `json:"lost"`
}

type drawnStudy struct {
	Model    string          `json:"model"` // fixed or random blocks
	Rows     []drawnTest     `json:"rows"`
	Analysis json.RawMessage `json:"analysis"`
}

// TestDifferentialStudies draws studies, unbalanced and with lost tests, of 2 to 12
// foods in 2 to 8 blocks, analyses each with analyse --json, and writes all into
// one file that R compares. Without the flag it draws a few and only sees that each
// is analysed.
func TestDifferentialStudies(t *testing.T) {
	n := *differentialN
	if *differential == "" {
		n = 10
	}
	random := rand.New(rand.NewPCG(*differentialSeed, 20270111))
	studies := make([]drawnStudy, n)
	dirs := make([]string, n)
	for i := range studies {
		dirs[i] = t.TempDir()
		studies[i] = drawStudy(t, random, dirs[i], i)
	}
	var wg sync.WaitGroup
	for worker := range 2 {
		wg.Go(func() {
			for i := worker; i < n; i += 2 {
				var out, errs bytes.Buffer
				if code := Run([]string{"analyse", dirs[i], "--json"}, Streams{In: os.Stdin, Out: &out, Err: &errs, Now: clock}); code != exitOK {
					t.Errorf("study %d: exit %d: %s", i, code, errs.String())
					continue
				}
				studies[i].Analysis = out.Bytes()
			}
		})
	}
	wg.Wait()
	if *differential == "" || t.Failed() {
		return
	}
	data, err := json.Marshal(studies)
	if err == nil {
		err = os.WriteFile(*differential, data, 0o644)
	}
	if err != nil {
		t.Fatal(err)
	}
}

// drawStudy writes one random study and returns its rows.
func drawStudy(t *testing.T, random *rand.Rand, dir string, i int) drawnStudy {
	foods, blocks := 2+random.IntN(11), 2+random.IntN(7)
	s := drawnStudy{Model: []string{"fixed", "random"}[i%2]}
	spread := []float64{0, 4, 12}[random.IntN(3)] // between blocks
	for b := range blocks {
		level := 40 + spread*random.NormFloat64()
		for _, f := range random.Perm(foods) {
			for range []int{0, 1, 1, 1, 1, 1, 1, 2}[random.IntN(8)] {
				value := level + 3*float64(f) + 8*random.NormFloat64()
				s.Rows = append(s.Rows, drawnTest{fmt.Sprintf("f%d", f), b + 1, float64(int(value*10)) / 10, random.IntN(12) == 0})
			}
		}
	}
	var study, log strings.Builder
	fmt.Fprintf(&study, "title: random study %d (invented)\nendpoint: {name: peak_rise, unit: mg/dL}\nmargin: 5\nblocks: %s\nfoods:\n", i, s.Model)
	for f := range foods {
		fmt.Fprintf(&study, "  - {id: f%d%s}\n", f, map[bool]string{true: ", role: reference"}[f == 0])
	}
	study.WriteString("questions:\n")
	for q := range min(foods-1, []int{1, 1, 1, 3}[random.IntN(4)]) {
		fmt.Fprintf(&study, "  - f%d vs f0\n", foods-1-q)
	}
	first := time.Date(2027, 1, 11, 0, 0, 0, 0, time.UTC)
	for day, row := range s.Rows {
		lost := ""
		if row.Lost {
			lost = ", exclude: lost"
		}
		fmt.Fprintf(&log, "---\n{date: %s, food: %s, block: %d, value: %g%s}\n", first.AddDate(0, 0, day).Format(time.DateOnly), row.Food, row.Block, row.Value, lost)
	}
	for name, text := range map[string]string{protocol.StudyFile: study.String(), protocol.LogFile: log.String()} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return s
}
