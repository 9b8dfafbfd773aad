package readings

import (
	"math"
	"strconv"
	"testing"

	"pgregory.net/rapid"
)

func TestNumbers(t *testing.T) {
	for _, c := range []struct {
		cell string
		mark byte
		want float64 // NaN: no number
	}{
		{"101", 0, 101}, {"5.4", 0, 5.4}, {"5,4", 0, 5.4}, {"5,4", ',', 5.4}, {"5.4", '.', 5.4},
		{"+5.4", '.', 5.4}, {"-5.4", '.', -5.4}, {".5", '.', 0.5}, {"5.", '.', 5},
		{"0.1234567890123456789", '.', 0.12345678901234568}, {"00005.4000", '.', 5.4},
		{"5,4", '.', math.NaN()}, {"5.4", ',', math.NaN()}, {"1.234,5", 0, math.NaN()}, {"1e2", '.', math.NaN()},
		{"0x10", '.', math.NaN()}, {"1_0", '.', math.NaN()}, {"NaN", '.', math.NaN()}, {"Inf", '.', math.NaN()},
		{"", '.', math.NaN()}, {".", '.', math.NaN()}, {"-", '.', math.NaN()}, {"--5", '.', math.NaN()}, {"5 4", '.', math.NaN()},
	} {
		got, ok := number(c.cell, c.mark)
		if ok == math.IsNaN(c.want) || ok && got != c.want {
			t.Errorf("number(%q, %q) = %v, %v; want %v", c.cell, c.mark, got, ok, c.want)
		}
	}
}

// Whatever package strconv prints without an exponent is read back as it does.
func TestNumbersLikeStrconv(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := strconv.FormatFloat(rapid.Float64Range(-1e6, 1e6).Draw(t, "x"), 'f', rapid.IntRange(0, 20).Draw(t, "decimals"), 64)
		want, err := strconv.ParseFloat(text, 64)
		if err != nil {
			t.Fatal(err)
		}
		if got, ok := number(text, '.'); !ok || got != want {
			t.Fatalf("number(%q) = %v, %v; want %v", text, got, ok, want)
		}
	})
}

func TestLimits(t *testing.T) {
	for cell, want := range map[string]Limit{
		"LOW": BelowRange, "Lo": BelowRange, "<40": BelowRange, "< 2,2": BelowRange,
		"high": AboveRange, "HI": AboveRange, ">400": AboveRange, ">22.2": AboveRange,
		"": NotLimited, "H": NotLimited, "lower": NotLimited, "<": NotLimited, "<-5": NotLimited, "40": NotLimited, "=40": NotLimited, "<a": NotLimited,
	} {
		if got := limit(cell); got != want {
			t.Errorf("limit(%q) = %v, want %v", cell, got, want)
		}
	}
}

func TestGlucoseCells(t *testing.T) {
	content := lines("Time,Glucose (mg/dL)", "2027-01-31 07:00,101", "2027-01-31 07:05,low", "2027-01-31 07:10,HI", "2027-01-31 07:15,", "2027-01-31 07:20,102")
	got, report := mustRead(t, content, Mapping{})
	if want := "2027-01-31 07:00 101\n2027-01-31 07:05 LOW\n2027-01-31 07:10 HIGH\n2027-01-31 07:20 102"; pairs(got) != want {
		t.Errorf("got\n%s\nwant\n%s", pairs(got), want)
	}
	if report.Readings != 4 || report.Skipped != 1 {
		t.Errorf("%d readings and %d skipped, want 4 and 1", report.Readings, report.Skipped)
	}
	const mend = "; empty the cell if the row is no reading"
	const text = "LOW or HIGH" + mend + "; name another column with readings.glucose_column in study.yaml"
	for cell, want := range map[string]string{
		"error": `"error", expected a number, ` + text, "NaN": `"NaN", expected a number, ` + text, "Inf": `"Inf", expected a number, ` + text,
		"0": `"0", expected a value above 0 and at most 1000 mg/dL` + mend, "-3": `"-3", expected a value above 0 and at most 1000 mg/dL` + mend,
		"1001": `"1001", expected a value above 0 and at most 1000 mg/dL` + mend,
	} {
		r, err := readOne(lines("Time,Glucose (mg/dL)", "2027-01-31 07:00,101", "2027-01-31 07:05,"+cell, "2027-01-31 07:10,102"), Mapping{})
		checkError(t, err, "readings/x.csv:3: Glucose (mg/dL): found "+want)
		if len(r.Readings) != 2 {
			t.Errorf("%s: %d good readings kept, want 2", cell, len(r.Readings))
		}
	}
	_, err := readOne(lines("Time,Glucose (mmol/L)", "2027-01-31 07:00,5.4", "2027-01-31 07:05,55.6", "2027-01-31 07:10,5,5"), Mapping{Delimiter: ","})
	checkError(t, err, `readings/x.csv:3: Glucose (mmol/L): found "55.6", expected a value above 0 and at most 55.51 mmol/L`+mend+"\n"+
		`readings/x.csv:4: found 3 cells, expected 2 as in the header; export with decimal points, or with semicolons between cells`)
}

func TestManyBadRowsAreCounted(t *testing.T) {
	content := "Time,Glucose (mg/dL)\n2027-01-31 07:00,101\n"
	for i := range 8 {
		content += "2027-01-31 07:0" + strconv.Itoa(i+1) + ",bad\n"
	}
	_, err := readOne(content, Mapping{})
	list := problems(t, err)
	if len(list) != 6 || list[5].Error() != "readings/x.csv: found 3 more rows like this" {
		t.Errorf("got\n%v", err)
	}
	_, err = readOne(content[:len(content)-2*len("2027-01-31 07:01,bad\n")], Mapping{})
	list = problems(t, err)
	if len(list) != 6 || list[5].Error() != "readings/x.csv: found 1 more row like this" {
		t.Errorf("got\n%v", err)
	}
}

func TestPlainText(t *testing.T) {
	for text, want := range map[string]string{"Glucose (mg/dL)": "Glucose (mg/dL)", "a\x1b[31mb": "a[31mb", "Größe\u202e": "Größe", "two\nlines": "two lines", "می\u200cخواهم": "می\u200cخواهم", "": "", "\x00": ""} {
		if got := plainText(text); got != want {
			t.Errorf("%q is %q, want %q", text, got, want)
		}
	}
	r, err := readOne("Time,Dev\x1bice,Glu\u200bcose \x1b[31m(mg/dL)\n2027-01-31 07:00,\x1b[32mA,101\n", Mapping{GlucoseColumn: "Glucose [31m(mg/dL)"})
	if err != nil || r.Readings[0].Sensor != "[32mA" || r.Files[0].SensorColumn != "Device" || r.Files[0].GlucoseColumn != "Glucose [31m(mg/dL)" {
		t.Errorf("%+v %v", r, err)
	}
}
