package demo

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"mealtrial/protocol"
	"mealtrial/protocol/rehearsal"
)

func build(t *testing.T, seed uint64) *protocol.Folder {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "demo")
	if err := Build(dir, seed); err != nil {
		t.Fatal(err)
	}
	f, err := protocol.LoadAll(dir)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// The demo's truth is known, so its intervals can be held against it. Rises are
// those of the noise-free curve; the highest of many noisy readings lies above
// it, for every food alike, so differences are free of that and means are not.
func TestIntervalsOfTheDemoHoldTheTruth(t *testing.T) {
	a, err := build(t, Seed).Analyse()
	if err != nil {
		t.Fatal(err)
	}
	truth := Truth().Rise
	if len(a.Questions) != 3 {
		t.Fatalf("%d questions, want 3", len(a.Questions))
	}
	for _, q := range a.Questions {
		want := truth[q.A] - truth[q.B]
		if q.Low == nil || float64(*q.Low) > want || want > float64(*q.High) {
			t.Errorf("%s: interval %v to %v does not hold the truth %g", q.Question, *q.Low, *q.High, want)
		}
	}
	sd := a.WithinPersonSD
	if want := rehearsal.Usual.SD; float64(*sd.Low) > want || want > float64(*sd.High) {
		t.Errorf("SD interval %v to %v does not hold %g", *sd.Low, *sd.High, want)
	}
	if len(a.Excluded) != 1 || !strings.Contains(a.Excluded[0].Reason, "readings cover") {
		t.Errorf("excluded %v, want the one test with a gap", a.Excluded)
	}
}

// Over many testers the 95 % intervals must hold the truth 95 times in 100. The
// long form is TestCalibration; here 40 studies, within four standard errors of
// their 120 intervals, which are not independent.
func TestCoverageOverSomeDemos(t *testing.T) {
	if share, n := coverage(t, 40); share < 0.87 {
		t.Errorf("coverage %.3f of %d intervals", share, n)
	}
}

// coverage is the share of intervals of questions that hold the truth.
func coverage(t *testing.T, studies int) (share float64, n int) {
	truth := Truth().Rise
	hits := 0
	levels := build(t, 1).PlannedLevels()
	for seed := range uint64(studies) {
		a, err := build(t, seed+1).Answers(levels)
		if err != nil {
			t.Fatal(err)
		}
		for _, q := range a.Questions {
			want := truth[q.A] - truth[q.B]
			n++
			if float64(*q.PlainLow) <= want && want <= float64(*q.PlainHigh) {
				hits++
			}
		}
	}
	return float64(hits) / float64(n), n
}

func TestSameSeedSameBytes(t *testing.T) {
	a, b := filepath.Join(t.TempDir(), "a"), filepath.Join(t.TempDir(), "b")
	for _, dir := range []string{a, b} {
		if err := Build(dir, 5); err != nil {
			t.Fatal(err)
		}
	}
	files := 0
	err := filepath.WalkDir(a, func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		files++
		rel, _ := filepath.Rel(a, path)
		one, err1 := os.ReadFile(path)
		two, err2 := os.ReadFile(filepath.Join(b, rel))
		if err1 != nil || err2 != nil || string(one) != string(two) {
			return fmt.Errorf("%s differs between two builds", rel)
		}
		return nil
	})
	if err != nil || files < 8 {
		t.Errorf("%d files: %v", files, err)
	}
}

func TestBuildRefusesAFolderThatIsNotADemo(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "log.yaml")
	if err := os.WriteFile(path, []byte("mine"), 0o644); err != nil {
		t.Fatal(err)
	}
	err := Build(dir, Seed)
	if err == nil || !strings.Contains(err.Error(), "found a folder that is not empty and no earlier demo") {
		t.Errorf("error %v", err)
	}
	if data, _ := os.ReadFile(path); string(data) != "mine" {
		t.Errorf("the file became %q", data)
	}
	if err := Build(filepath.Join(dir, "new"), Seed); err != nil {
		t.Error(err)
	}
	if err := Build(filepath.Join(dir, "new"), 7); err != nil {
		t.Errorf("an earlier demo is not replaced: %v", err)
	}
	// What a person adds to a demo is not wiped either.
	log := filepath.Join(dir, "new", "log.yaml")
	data, _ := os.ReadFile(log)
	if err := os.WriteFile(log, append(data, "# mine\n"...), 0o644); err != nil {
		t.Fatal(err)
	}
	err = Build(filepath.Join(dir, "new"), 7)
	if err == nil || !strings.Contains(err.Error(), "found a file of an earlier demo that was changed since") {
		t.Errorf("error %v", err)
	}
}
