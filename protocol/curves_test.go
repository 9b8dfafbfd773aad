package protocol

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// Mean curves and bands against R's lm and predict: testdata/reference/bands.R.
func TestCurvesAgainstR(t *testing.T) {
	const reference = "../testdata/reference/"
	data, err := os.ReadFile(reference + "bands_readings.csv")
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	log, readings, seen := "", "time,glucose mg/dL\n", ""
	for _, line := range strings.Split(strings.TrimSpace(string(data)), "\n")[1:] {
		var test, minute int
		var glucose float64
		cells := strings.Split(line, ",")
		if _, err := fmt.Sscan(strings.Join([]string{cells[0], cells[2], cells[3]}, " "), &test, &minute, &glucose); err != nil {
			t.Fatal(err)
		}
		bite := time.Date(2027, 1, 10+test, 7, 30, 0, 0, time.UTC)
		if cells[0] != seen {
			seen = cells[0]
			log += fmt.Sprintf("---\n{date: %s, time: \"07:30\", food: %s}\n", bite.Format(dateLayout), cells[1])
		}
		readings += fmt.Sprintf("%s,%g\n", bite.Add(time.Duration(minute)*time.Minute).Format("2006-01-02 15:04"), glucose)
	}
	for name, text := range map[string]string{
		StudyFile: "title: Bands (invented)\nzone: UTC\nendpoint: {name: peak_rise, unit: mg/dL, window: 120m}\nquality: {max_gap: 20m, min_coverage: 0.5}\n" +
			"foods: [{id: a}, {id: b}, {id: water, role: blank}]\nquestions: [a vs b]\n",
		LogFile: log, ReadingsDir + "/sensor.csv": readings,
	} {
		if err := os.MkdirAll(filepath.Dir(filepath.Join(dir, name)), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	f, err := LoadAll(dir)
	if err != nil {
		t.Fatal(err)
	}
	curves := f.Curves()

	var made struct {
		Rows []struct {
			Minute, Mean, Low, High float64
			Food                    string
			Tests                   int
		}
	}
	table, err := os.ReadFile(reference + "bands.json")
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(table, &made); err != nil {
		t.Fatal(err)
	}
	want := made.Rows
	if len(want) != 15 {
		t.Fatalf("%d rows in the table, want 15", len(want))
	}
	for _, w := range want {
		found := false
		for _, p := range curves.Foods[f.Study.Food(w.Food)].Mean {
			if p.Minute != w.Minute {
				continue
			}
			found = true
			if p.Tests != w.Tests || math.Abs(p.Mean-w.Mean) > 1e-8 || math.Abs(p.Low-w.Low) > 1e-8 || math.Abs(p.High-w.High) > 1e-8 {
				t.Errorf("%s at %g min: %d tests, %.9f (%.9f to %.9f), R %d, %.9f (%.9f to %.9f)", w.Food, w.Minute, p.Tests, p.Mean, p.Low, p.High, w.Tests, w.Mean, w.Low, w.High)
			}
		}
		if !found {
			t.Errorf("%s has no mean at %g min", w.Food, w.Minute)
		}
	}
	if pieces := len(curves.Foods[1].Tests[1].Pieces); pieces != 2 {
		t.Errorf("the curve with a gap has %d pieces, want 2", pieces)
	}
}
