package protocol

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Whoever watches the reading of the sensor's files hears of most of it, in order and
// never of more than there is, and the result is the same as unwatched.
func TestWatchedReading(t *testing.T) {
	dir := t.TempDir()
	var csv strings.Builder
	csv.WriteString("time,glucose mg/dL\n")
	for day := range 28 {
		for minute := 0; minute < 1440; minute++ {
			fmt.Fprintf(&csv, "2027-01-%02d %02d:%02d,%d\n", 1+day, minute/60, minute%60, 90+minute%40)
		}
	}
	if err := os.Mkdir(filepath.Join(dir, ReadingsDir), 0o755); err != nil {
		t.Fatal(err)
	}
	for name, text := range map[string]string{"study.yaml": "zone: UTC\nfoods: [{id: a}, {id: b}]\n", "log.yaml": "---\n{date: 2027-01-11, time: \"07:30\", food: a}\n", "readings/a.csv": csv.String()} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	var last, of int64
	f, err := LoadAllWatched(dir, func(done, total int64) {
		if done < last || done > total || total <= 0 {
			t.Fatalf("%d of %d after %d", done, total, last)
		}
		last, of = done, total
	})
	if err != nil {
		t.Fatal(err)
	}
	if share := float64(last) / float64(of); share < 0.6 {
		t.Errorf("it ends at %.0f %% of what was announced", 100*share)
	}
	plain, err := LoadAll(dir)
	if err != nil {
		t.Fatal(err)
	}
	if a, b := fmt.Sprint(f.Recording.Readings), fmt.Sprint(plain.Recording.Readings); a != b || len(f.Recording.Readings) == 0 {
		t.Errorf("watched %d readings, unwatched %d, or others", len(f.Recording.Readings), len(plain.Recording.Readings))
	}
}
