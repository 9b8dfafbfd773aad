package cli

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
)

func referenceRows(t *testing.T, name string) []map[string]string {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("..", "..", "..", "testdata", "reference", name))
	if err != nil {
		t.Fatal(err)
	}
	r := csv.NewReader(bytes.NewReader(data))
	r.Comment = '#'
	all, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var rows []map[string]string
	for _, cells := range all[1:] {
		row := map[string]string{}
		for i, cell := range cells {
			row[all[0][i]] = cell
		}
		rows = append(rows, row)
	}
	return rows
}

// Six people's glucose after six meals each, from files through the program to the
// numbers: Hand and Crowder 1996, Practical Longitudinal Data Analysis, the data set
// Glucose of R's nlme; numbers computed in R by testdata/reference/glucose_meals.R.
// Each person's file is another kind of export.
func TestSixPeopleThroughTheProgram(t *testing.T) {
	layouts := []struct {
		header, row, decimal string
	}{
		{"time,glucose mmol/L\n", "2006-01-02 15:04,%s\n", "."},
		{"Zeit;Glukose (mmol/l)\n", "02.01.2006 15:04;%s\n", ","},
		{"exported by hand\n\nDate\tTime\tGlucose mmol/L\n", "2006/01/02\t15:04:05\t%s\n", "."},
		{"when,mmol/L\n", "01/02/2006 3:04 PM,%s\n", "."},
		{"stamp,glucose_mmol_l\n", "2006-01-02T15:04:05Z,%s\n", "."},
		{"epoch,glucose mmol/L\n", "epoch,%s\n", "."},
	}
	raw := referenceRows(t, "glucose_meals.csv")
	compared := 0
	for person := 1; person <= 6; person++ {
		layout := layouts[person-1]
		dir := t.TempDir()
		day := map[string]time.Time{}
		study, log, readings := "title: person\nendpoint: {name: iauc, unit: mmol/L, window: 120m, baseline: 15m}\nquality: {max_gap: 45m}\nzone: UTC\nfoods:\n", "", layout.header
		for _, row := range raw {
			if row["subject"] != strconv.Itoa(person) {
				continue
			}
			food := "at-" + row["meal"]
			if _, known := day[food]; !known {
				day[food] = time.Date(2027, 1, 18+2*len(day), 7, 30, 0, 0, time.UTC)
				study += "  - {id: " + food + "}\n"
				log += fmt.Sprintf("---\n{date: %s, time: \"07:30\", food: %s}\n", day[food].Format("2006-01-02"), food)
			}
			if row["conc_mmol_l"] == "" {
				continue
			}
			minutes, _ := strconv.ParseFloat(row["minutes"], 64)
			at := day[food].Add(time.Duration(minutes * float64(time.Minute)))
			stamp, _, _ := strings.Cut(layout.row, "%s")
			text := at.Format(stamp)
			if strings.HasPrefix(stamp, "epoch") {
				text = fmt.Sprintf("%d,", at.Unix())
			}
			readings += text + strings.Replace(row["conc_mmol_l"], ".", layout.decimal, 1) + "\n"
		}
		for name, content := range map[string]string{"study.yaml": study, "log.yaml": log, "readings/export.csv": readings} {
			path := filepath.Join(dir, filepath.FromSlash(name))
			if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(path, []byte(content), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		var out, errs bytes.Buffer
		if code := Run([]string{"responses", dir, "--json"}, Streams{In: strings.NewReader(""), Out: &out, Err: &errs, Now: time.Now}); code != exitOK {
			t.Fatalf("person %d: exit %d: %s", person, code, errs.String())
		}
		var responses []struct {
			Food       string
			Baseline   float64
			PeakRise   float64 `json:"peak_rise"`
			TimeToPeak float64 `json:"time_to_peak"`
			IAUC       float64
			Value      float64
			Excluded   string
		}
		if err := json.Unmarshal(out.Bytes(), &responses); err != nil {
			t.Fatal(err)
		}
		for _, want := range referenceRows(t, "glucose_meals_features.csv") {
			if want["subject"] != strconv.Itoa(person) {
				continue
			}
			for _, r := range responses {
				if r.Food != "at-"+want["meal"] {
					continue
				}
				for name, got := range map[string]float64{"baseline": r.Baseline, "peak_rise": r.PeakRise, "time_of_peak": r.TimeToPeak, "iauc": r.IAUC} {
					x, _ := strconv.ParseFloat(want[name], 64)
					if math.Abs(got-x) > 1e-9*math.Max(1, math.Abs(x)) {
						t.Errorf("person %d, %s: %s %.12g, R has %.12g", person, r.Food, name, got, x)
					}
					compared++
				}
				if r.Excluded != "" || r.Value != r.IAUC {
					t.Errorf("person %d, %s: value %v, excluded %q", person, r.Food, r.Value, r.Excluded)
				}
			}
		}
	}
	if compared != 36*4 {
		t.Errorf("%d numbers were compared, want %d", compared, 36*4)
	}
}
