package protocol

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// folderOf writes a study and its log into a folder and loads it.
func folderOf(t *testing.T, study, log string) *Folder {
	t.Helper()
	dir := t.TempDir()
	for name, text := range map[string]string{StudyFile: study, LogFile: log} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	f, err := LoadAll(dir)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

const pairStudy = "title: Pairs (invented)\nendpoint: {name: peak_rise, unit: mg/dL}\nmargin: 8\nfoods: [{id: a}, {id: b}, {id: c}]\nquestions: [a vs b, a vs c, a vs b as ratio]\n"

// The first test of each food in the first block with both; an excluded test is
// none. The limits are those of two single tests, ±t(0.975; df)·s·√2 (ISO 5725-6).
func TestFirstPair(t *testing.T) {
	f := folderOf(t, pairStudy, `---
{date: 2027-01-11, food: a, block: 1, value: 90, exclude: "ill"}
---
{date: 2027-01-12, food: b, block: 1, value: 30}
---
{date: 2027-01-13, food: b, block: 2, value: 33}
---
{date: 2027-01-14, food: a, block: 2, value: 52}
---
{date: 2027-01-15, food: a, block: 3, value: 47}
---
{date: 2027-01-16, food: b, block: 3, value: 24}
---
{date: 2027-01-17, food: c, block: 4, value: 24}
---
{date: 2027-01-18, food: c, block: 4, value: 29}
`)
	a, err := f.Analyse()
	if err != nil {
		t.Fatal(err)
	}
	g, err := f.FirstPair(a, a.Questions[0])
	if err != nil {
		t.Fatal(err)
	}
	if g.A.Value != 52 || g.B.Value != 33 || g.A.Tests != 1 || g.B.Tests != 1 {
		t.Errorf("the pair is %+v and %+v, want 52 and 33 of block 2", g.A, g.B)
	}
	// qt(0.975, 2) = 4.302652729749462 (R 4.2.2); the SD has 2 degrees of freedom
	// here: 7 tests less 3 foods less 4 blocks plus 2 parts that hang together.
	if a.WithinPersonSD.DF != 2 {
		t.Fatalf("%d degrees of freedom, want 2", a.WithinPersonSD.DF)
	}
	half := 4.302652729749462 * float64(*a.WithinPersonSD.Value) * math.Sqrt2
	if low, high := 19-half, 19+half; math.Abs(float64(*g.Low)-low) > 1e-9 || math.Abs(float64(*g.High)-high) > 1e-9 {
		t.Errorf("limits %g and %g, want %g and %g", float64(*g.Low), float64(*g.High), low, high)
	}
	// a and c were never in one block: any two days, whose spread is larger.
	g, err = f.FirstPair(a, a.Questions[1])
	if err != nil {
		t.Fatal(err)
	}
	if g.A.Value != 52 || g.B.Value != 24 || *g.Spread.SD != *a.BetweenDaysSD.Value {
		t.Errorf("the pair is %+v and %+v, spread %v, want 52 and 24 with that between days, %v", g.A, g.B, *g.Spread.SD, *a.BetweenDaysSD.Value)
	}
	if _, err := f.FirstPair(a, a.Questions[2]); err == nil || !strings.Contains(err.Error(), "no plain difference") {
		t.Errorf("a ratio: %v", err)
	}
}

func TestNoFirstPair(t *testing.T) {
	f := folderOf(t, pairStudy, "---\n{date: 2027-01-11, food: a, value: 52}\n---\n{date: 2027-01-12, food: b, value: 33}\n")
	a, err := f.Analyse()
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []string{"no spread from test to test", "no test that counts"} {
		if _, err := f.FirstPair(a, a.Questions[i]); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want an error with %q", a.Questions[i].Question, err, want)
		}
	}
}
