package protocol

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"mealtrial/stats"
)

// A study of the first version, masked, corrected, unmasked and looked at, opens and
// is answered as it was then. The files in testdata/format1 never change; another
// format gets a folder of its own.
func TestStudyOfTheFirstFormatOpens(t *testing.T) {
	const dir = "testdata/format1"
	data, err := os.ReadFile(filepath.Join(dir, "expected.json"))
	if err != nil {
		t.Fatal(err)
	}
	var want struct {
		SD        float64 `json:"within_person_sd"`
		Lock      string
		Questions []struct {
			Question            string
			Estimate, Low, High float64
			Verdict             stats.Verdict
		}
	}
	if err := json.Unmarshal(data, &want); err != nil {
		t.Fatal(err)
	}
	f, err := Load(dir)
	if err != nil {
		t.Fatal(err)
	}
	a, err := f.Analyse()
	if err != nil {
		t.Fatal(err)
	}
	near := func(got *Number, want float64) bool { return got != nil && relative(float64(*got), want) < 1e-9 }
	if a.Lock != want.Lock || len(f.Ledger) != 1 || !near(a.WithinPersonSD.Value, want.SD) || len(want.Questions) != 3 {
		t.Errorf("lock %s, %d looks, SD %v", a.Lock, len(f.Ledger), a.WithinPersonSD.Value)
	}
	for i, q := range want.Questions {
		got := a.Questions[i]
		if got.Question != q.Question || got.Verdict != q.Verdict || !near(got.Estimate, q.Estimate) || !near(got.Low, q.Low) || !near(got.High, q.High) {
			t.Errorf("%+v, was %+v", got, q)
		}
	}
}

func relative(got, want float64) float64 { return max(got-want, want-got) / max(want, -want, 1e-9) }

// A file of a later format is named and refused, whichever it is.
func TestLaterFormatsAreRefused(t *testing.T) {
	for _, name := range []string{StudyFile, ScheduleFile, KeyFile, LogFile, LedgerFile} {
		dir := t.TempDir()
		if err := os.CopyFS(dir, os.DirFS("testdata/format1")); err != nil {
			t.Fatal(err)
		}
		text, err := os.ReadFile(filepath.Join(dir, name))
		if err == nil {
			err = os.WriteFile(filepath.Join(dir, name), append([]byte("format: 2\n"), text...), 0o644)
		}
		if err != nil {
			t.Fatal(err)
		}
		_, err = Load(dir)
		if err == nil || !strings.Contains(err.Error(), name+":1: format: found format 2, which a later version of mealtrial wrote, expected at most 1, which mealtrial "+Version+" reads; install a newer mealtrial; nothing was changed") {
			t.Errorf("%s: %v", name, err)
		}
	}
}
