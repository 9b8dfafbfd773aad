package readings

import (
	"fmt"
	"strings"
	"testing"
)

// bounds writes readings with their bounds: 101, <=40, >=400, < for no number.
func bounds(list []Reading) string {
	var out []string
	for _, r := range list {
		mark := map[Limit]string{BelowRange: "<=", AboveRange: ">="}[r.Limit]
		if r.Glucose == 0 {
			out = append(out, strings.TrimSuffix(mark, "="))
			continue
		}
		out = append(out, mark+fmt.Sprintf("%.4g", r.Glucose))
	}
	return strings.Join(out, " ")
}

func TestReportingLimits(t *testing.T) {
	for _, c := range []struct {
		name, unit string
		cells      []string
		told       Mapping
		want       string
		guessed    string
	}{
		{"words take what was reported", "mg/dL", []string{"LOW", "61", "333", "HIGH"}, Mapping{}, "<=61 61 333 >=333", ""},
		{"words alone", "mg/dL", []string{"LOW", "HIGH"}, Mapping{Unit: MgdL}, "< >", ""},
		{"numbers in cells", "mg/dL", []string{"<45", "61", "333", ">390"}, Mapping{}, "<=45 61 333 >=390", ""},
		{"words beside numbers in cells", "mg/dL", []string{"<45", "LOW", "61", "333", ">390", "HI"}, Mapping{}, "<=45 <=45 61 333 >=390 >=390", ""},
		{"usual limits that are reached", "mg/dL", []string{"40", "61", "333", "400"}, Mapping{}, "<=40 61 333 >=400", "lowest highest"},
		{"usual limits that are passed", "mg/dL", []string{"39", "61", "401"}, Mapping{}, "39 61 401", ""},
		{"usual limits in mmol/L", "mmol/L", []string{"2.2", "5.4", "22.2"}, Mapping{}, "<=39.63 97.28 >=399.9", "lowest highest"},
		{"a word stands for a usual limit", "mg/dL", []string{"61", "400", "HIGH"}, Mapping{}, "61 >=400 >=400", "highest"},
		{"told", "mg/dL", []string{"55", "61", "351", "350", "LO"}, Mapping{Lowest: 55, Highest: 350}, "<=55 61 >=350 >=350 <=55", ""},
		{"told so high that none is reached", "mg/dL", []string{"40", "61", "400"}, Mapping{Lowest: 20, Highest: 500}, "40 61 400", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			content := "Time,Glucose (" + c.unit + ")\n"
			for i, cell := range c.cells {
				content += fmt.Sprintf("2027-01-31 07:0%d,%s\n", i, cell)
			}
			got, report := mustRead(t, content, c.told)
			if bounds(got) != c.want {
				t.Errorf("got %s, want %s", bounds(got), c.want)
			}
			guessed := ""
			for _, key := range report.Guessed {
				if key == "lowest" || key == "highest" {
					guessed = strings.TrimSpace(guessed + " " + key)
				}
			}
			if guessed != c.guessed {
				t.Errorf("guessed %q, want %q", guessed, c.guessed)
			}
		})
	}
	_, report := mustRead(t, lines("Time,Glucose (mg/dL)", "2027-01-31 07:00,400", "2027-01-31 07:05,61"),
		Mapping{Fixed: true, Delimiter: ",", TimeColumn: "Time", TimeLayout: "yyyy-MM-dd HH:mm", GlucoseColumn: "Glucose (mg/dL)"})
	if want := "The highest value is 400 mg/dL, where sensors often stop reporting; if this one does, write highest: 400 under readings: in study.yaml."; strings.Join(report.Notes, "") != want {
		t.Errorf("notes %q, want %q", report.Notes, want)
	}
	_, report = mustRead(t, lines("Time,Glucose (mg/dL)", "2027-01-31 07:00,410", "2027-01-31 07:05,61"), Mapping{Highest: 400})
	if want := "Values reach 410 mg/dL, beyond the reporting limit of 400; they count as bounds."; strings.Join(report.Notes, "") != want {
		t.Errorf("notes %q, want %q", report.Notes, want)
	}
}
