package protocol

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// LOW and HIGH are beyond every range of safety, whatever numbers the file holds
// besides: a file of readings from 80 to 140 gives LOW the bound 80, which is not
// below 70. Sensors stop reporting at 40 and 400 mg/dL or so (common practice, no
// source).
func TestWordsOutOfRangeAreSafetyLines(t *testing.T) {
	for word, want := range map[string]string{
		"LOW": "glucose below 70 mg/dL (at the sensor's limit at 08:15)", "HIGH": "glucose above 250 mg/dL (at the sensor's limit at 08:15)",
		"<40": "glucose below 70 mg/dL (at the sensor's limit at 08:15)", "100": "", "250": "", "70": "",
		"69": "glucose below 70 mg/dL (69 at 08:15)", "251": "glucose above 250 mg/dL (251 at 08:15)",
	} {
		dir := t.TempDir()
		write := func(name, text string) {
			if err := errors.Join(os.MkdirAll(filepath.Dir(filepath.Join(dir, name)), 0o755), os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644)); err != nil {
				t.Fatal(err)
			}
		}
		write(StudyFile, "format: 1\nzone: Europe/Vienna\nendpoint: {name: peak_rise, unit: mg/dL, window: 120m}\nfoods: [{id: a, role: reference}, {id: b}]\nquestions: [b vs a]\n")
		write(LogFile, "{format: 1, date: 2027-01-11, time: \"07:30\", food: a}\n")
		var csv strings.Builder
		csv.WriteString("Local time,Glucose (mg/dL)\n")
		for m := range 40 {
			cell := fmt.Sprint(80 + m*60/40)
			if at := 7*60 + 5*m; at == 8*60+15 {
				cell = word
			}
			fmt.Fprintf(&csv, "2027-01-11 %02d:%02d,%s\n", 7+5*m/60, 5*m%60, cell)
		}
		write("readings/s.csv", csv.String())
		f, err := LoadAll(dir)
		if err != nil {
			t.Fatal(err)
		}
		found := ""
		for _, l := range f.Safety() {
			found += l.Found
		}
		if found != want {
			t.Errorf("%s: %q, want %q", word, found, want)
		}
	}
}
