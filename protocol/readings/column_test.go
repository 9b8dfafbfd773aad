package readings

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

var allGuessed = []string{"delimiter", "time_column", "time_layout", "glucose_column"}

// Each export holds the same three invented readings.
var shapes = []struct {
	name    string
	content string
	told    Mapping
	report  FileReport
}{
	{"preamble", lines("Recorder export,invented,3", "Started,2027-01-30 18:00", "", "Number,Local time,Event,Glucose (mg/dL)",
		"1,2027-01-31 07:00,reading,99", "2,2027-01-31 07:05,reading,101", "3,2027-01-31 07:07,meal,", "4,2027-01-31 07:10,reading,LOW"), Mapping{},
		FileReport{HeaderLine: 4, Skipped: 1, Delimiter: ",", TimeColumn: "Local time", GlucoseColumn: "Glucose (mg/dL)", Guessed: allGuessed}},
	{"settings below the header", lines("Number,Time,Event,Glucose (mg/dL)", "1,,Alarm,70", "2,,Owner,", "3,2027-01-31 07:00,reading,99",
		"4,2027-01-31 07:05,reading,101", "5,2027-01-31 07:10,reading,LOW"), Mapping{},
		FileReport{HeaderLine: 1, Skipped: 2, Delimiter: ",", TimeColumn: "Time", GlucoseColumn: "Glucose (mg/dL)", Guessed: allGuessed,
			Notes: []string{"Rows with a value but no time, left out: 1."}}},
	{"text between the rows", lines("Time;Event;Glucose (mg/dL)", "2027-01-31 07:00;reading;99", "sensor changed;event;", "2027-01-31 07:05;reading;101", "2027-01-31 07:10;reading;LOW"), Mapping{},
		FileReport{HeaderLine: 1, Skipped: 1, Delimiter: ";", TimeColumn: "Time", GlucoseColumn: "Glucose (mg/dL)", Guessed: allGuessed}},
	{"events first", lines("Time|Glucose (mg/dL)|Event", "2027-01-31 06:00||start", "2027-01-31 07:00|99|", "2027-01-31 07:05|101|", "2027-01-31 07:10|LOW|"), Mapping{},
		FileReport{HeaderLine: 1, Skipped: 1, Delimiter: "|", TimeColumn: "Time", GlucoseColumn: "Glucose (mg/dL)", Guessed: allGuessed}},
	{"tabs, decimal commas", lines("Zeit\tGlukose", "2027-01-31 07:00\t99,0", "2027-01-31 07:05\t101", "2027-01-31 07:10\tLO"), Mapping{Unit: MgdL},
		FileReport{HeaderLine: 1, Delimiter: "tab", Decimal: ",", TimeColumn: "Zeit", GlucoseColumn: "Glukose", Guessed: append(allGuessed[:4:4], "decimal")}},
	{"quoted decimal commas", lines(`"Time","Glucose"`, `"2027-01-31 07:00","99,0"`, `"2027-01-31 07:05","101,0"`, `"2027-01-31 07:10","low"`), Mapping{Unit: MgdL},
		FileReport{HeaderLine: 1, Delimiter: ",", Decimal: ",", TimeColumn: "Time", GlucoseColumn: "Glucose", Guessed: append(allGuessed[:4:4], "decimal")}},
	{"no header", lines("1,2027-01-31 07:00,99", "2,2027-01-31 07:05,101", "3,2027-01-31 07:10,LOW"), Mapping{},
		FileReport{Delimiter: ",", TimeColumn: "2", GlucoseColumn: "3", Guessed: append(allGuessed[:4:4], "unit")}},
	{"no header below a preamble", lines("Export of 2027", "2027-01-31 07:00,99", "2027-01-31 07:05,101", "2027-01-31 07:10,LOW"), Mapping{Unit: MgdL},
		FileReport{Delimiter: ",", TimeColumn: "1", GlucoseColumn: "2", Guessed: allGuessed, Notes: []string{"The file has no header; what stands above line 2 was left out."}}},
	{"unit is the only sign", lines("Time,Pulse,mg/dL", "2027-01-31 07:00,61,99", "2027-01-31 07:05,62,101", "2027-01-31 07:10,60,LOW"), Mapping{},
		FileReport{HeaderLine: 1, Delimiter: ",", TimeColumn: "Time", GlucoseColumn: "mg/dL", Guessed: allGuessed}},
	{"rate of change", lines("Time,Glucose change (mg/dL/min),Glucose (mg/dL)", "2027-01-31 07:00,1.5,99", "2027-01-31 07:05,2,101", "2027-01-31 07:10,1,LOW"), Mapping{},
		FileReport{HeaderLine: 1, Delimiter: ",", TimeColumn: "Time", GlucoseColumn: "Glucose (mg/dL)", Guessed: allGuessed}},
	{"other sorts of glucose are empty", lines("Time,Glucose,Strip glucose", "2027-01-31 07:00,99,", "2027-01-31 07:05,101,", "2027-01-31 07:10,LOW,"), Mapping{Unit: MgdL},
		FileReport{HeaderLine: 1, Delimiter: ",", TimeColumn: "Time", GlucoseColumn: "Glucose", Guessed: allGuessed}},
	{"date and time apart", lines("Date;Clock;Glucose (mg/dL)", "2027-01-31;07:00;99", "2027-01-31;07:05;101", "2027-01-31;07:10;LOW"), Mapping{},
		FileReport{HeaderLine: 1, Delimiter: ";", TimeColumn: "Date + Clock", GlucoseColumn: "Glucose (mg/dL)", Guessed: allGuessed}},
	{"told by name", lines("Start,END,Glucose A,Glucose B", "2027-01-31 06:59,2027-01-31 07:00,70,99", "2027-01-31 07:04,2027-01-31 07:05,71,101", "2027-01-31 07:09,2027-01-31 07:10,72,LOW"),
		Mapping{TimeColumn: "end", GlucoseColumn: "glucose  b", Unit: MgdL},
		FileReport{HeaderLine: 1, Delimiter: ",", TimeColumn: "END", GlucoseColumn: "Glucose B", Guessed: []string{"delimiter", "time_layout"}}},
	{"told by number", lines("A,B,C", "2027-01-31 07:00,70,99", "2027-01-31 07:05,71,101", "2027-01-31 07:10,72,LOW"),
		Mapping{Delimiter: ",", Decimal: ".", TimeColumn: "1", TimeLayout: "yyyy-MM-dd HH:mm", GlucoseColumn: "3", Unit: MgdL},
		FileReport{HeaderLine: 1, Delimiter: ",", Decimal: ".", TimeColumn: "A", GlucoseColumn: "C"}},
	{"told date and time", lines("Clock,X,Day,Glucose", "07:00,1,2027-01-31,99", "07:05,1,2027-01-31,101", "07:10,1,2027-01-31,LOW"), Mapping{TimeColumn: "Day + Clock", Unit: MgdL},
		FileReport{HeaderLine: 1, Delimiter: ",", TimeColumn: "Day + Clock", GlucoseColumn: "Glucose", Guessed: []string{"delimiter", "time_layout", "glucose_column"}}},
	{"told date and time by number", lines("07:00,1,2027-01-31,99", "07:05,1,2027-01-31,101", "07:10,1,2027-01-31,LOW"), Mapping{TimeColumn: "3 + 1", GlucoseColumn: "4", Unit: MgdL},
		FileReport{Delimiter: ",", TimeColumn: "3 + 1", GlucoseColumn: "4", Guessed: []string{"delimiter", "time_layout"}}},
	{"empty cells beyond the header", lines("Time,Glucose", "2027-01-31 07:00,99,,", "2027-01-31 07:05,101,,", "2027-01-31 07:10,LOW,,"), Mapping{Unit: MgdL},
		FileReport{HeaderLine: 1, Delimiter: ",", TimeColumn: "Time", GlucoseColumn: "Glucose", Guessed: allGuessed}},
}

func TestShapes(t *testing.T) {
	const want = "2027-01-31 07:00 99\n2027-01-31 07:05 101\n2027-01-31 07:10 LOW"
	for _, c := range shapes {
		t.Run(c.name, func(t *testing.T) {
			got, report := mustRead(t, c.content, c.told)
			if pairs(got) != want {
				t.Errorf("got\n%s\nwant\n%s", pairs(got), want)
			}
			c.report.Zone = "UTC"
			c.report.File, c.report.Readings, c.report.Unit, c.report.TimeLayout = "readings/x.csv", 3, MgdL, "yyyy-MM-dd HH:mm"
			c.report.From, c.report.To = got[0].Time, got[2].Time
			if diff := cmp.Diff(c.report, report); diff != "" {
				t.Errorf("report (-want +got):\n%s", diff)
			}
		})
	}
}

func TestLinesAboveTheTableAreNotLostUnseen(t *testing.T) {
	_, report := mustRead(t, lines("2027-01-30 07:00,101", "Time,Glucose,Event", "2027-01-31 07:00,99,", "2027-01-31 07:05,100,"), Mapping{})
	if want := "Line 1 has a time and a number but stands above the header and was left out."; strings.Join(report.Notes, "") != want {
		t.Errorf("notes %q, want %q", report.Notes, want)
	}
	_, report = mustRead(t, lines("Export,", "2027,", "5,2027-01-31 07:00,99", "3,2027-01-31 07:05,100"), Mapping{GlucoseColumn: "3"})
	if want := "The file has no header; what stands above line 3 was left out."; strings.Join(report.Notes, "") != want {
		t.Errorf("notes %q, want %q", report.Notes, want)
	}
}

func TestColumnProblems(t *testing.T) {
	table := lines("Time,End,Pulse,Weight,Glucose A,Glucose B", "2027-01-31 07:00,2027-01-31 07:01,61,70,99,100", "2027-01-31 07:05,2027-01-31 07:06,62,71,101,102")
	pulse := lines("Time,Pulse,Weight", "2027-01-31 07:00,61,70", "2027-01-31 07:05,69,71")
	const name = "readings/x.csv:1: readings."
	for _, c := range []struct {
		name, content string
		told          Mapping
		err           string
	}{
		{"two time columns", table, Mapping{}, name + `time_column: found 2 columns of times: "Time", "End", expected one; write for example readings: {time_column: "Time"} in study.yaml`},
		{"two dates apart", lines("D;T;D;U;Glucose", "2027-01-31;07:00;2027-01-31;07:01;99"), Mapping{}, name +
			`time_column: found 2 columns of times: "1 + 2", "3 + 4", expected one; write for example readings: {time_column: "1 + 2"} in study.yaml`},
		{"two glucose columns", table, Mapping{TimeColumn: "Time"}, name +
			`glucose_column: found 2 columns that may be glucose: "Glucose A", "Glucose B", expected one; write for example readings: {glucose_column: "Glucose A"} in study.yaml`},
		{"two of a name", lines("Time,Glucose,Glucose", "2027-01-31 07:00,99,98"), Mapping{}, name +
			`glucose_column: found 2 columns that may be glucose: "2", "3", expected one; write for example readings: {glucose_column: "2"} in study.yaml`},
		{"two that may be", pulse, Mapping{}, name +
			`glucose_column: found 2 columns that may be glucose: "Pulse", "Weight", expected one; write for example readings: {glucose_column: "Pulse"} in study.yaml`},
		{"no such time column", table, Mapping{TimeColumn: "Times"},
			`readings/x.csv: readings.time_column: found no column called "Times", expected one of "Time", "End", "Pulse", "Weight", "Glucose A"; mend the name in study.yaml`},
		{"no such glucose column", pulse, Mapping{GlucoseColumn: "Puls"},
			`readings/x.csv: readings.glucose_column: found no column called "Puls", expected one of "Pulse", "Time", "Weight"; mend the name in study.yaml`},
		{"told name twice", lines("Time,Glucose,Glucose", "2027-01-31 07:00,99,98"), Mapping{GlucoseColumn: "glucose"}, name +
			`glucose_column: found several columns called "glucose", expected one; write the number of the column instead, such as "2", in study.yaml`},
		{"time number too large", pulse, Mapping{TimeColumn: "4"}, `study.yaml: readings.time_column: found "4", expected a number from 1 to 3`},
		{"glucose number too large", pulse, Mapping{GlucoseColumn: "4"}, `study.yaml: readings.glucose_column: found "4", expected a number from 1 to 3`},
		{"told layout does not fit", pulse, Mapping{TimeLayout: "dd.MM.yyyy HH:mm"}, `readings/x.csv:2: found no time in "2027-01-31 07:00,61,70", ` +
			"expected a time as dd.MM.yyyy HH:mm in every row; mend readings.time_layout in study.yaml, or leave it out"},
		{"many columns, a long name", lines("T,"+strings.Repeat("Glucose,", 8)+strings.Repeat("Glucose ", 20), "2027-01-31 07:00,99,99,99,99,99,99,99,99,99"), Mapping{},
			name + `glucose_column: found 9 columns that may be glucose: "2", "3", "4", "5", "6", "7", "8", "9", …, expected one; write for example readings: {glucose_column: "2"} in study.yaml`},
		{"a long line", strings.Repeat("7 words ", 20) + "\n", Mapping{}, `readings/x.csv:1: found no time in "7 words 7 words 7 words 7 words 7 words 7 words 7 words 7 wo…", ` +
			"expected a time such as 2027-01-31 07:05, 31.01.2027 07:05 or 2027-01-31T07:05:00Z in every row; " +
			"tell the layout with readings: {time_layout: …} in study.yaml, or move the file out of the folder"},
		{"told column is empty", lines("Time,Glucose,X", "2027-01-31 07:00,99,", "2027-01-31 07:05,98,"), Mapping{GlucoseColumn: "X"},
			"readings/x.csv: X: found no row with a time and a value, expected readings; name another column with readings.glucose_column in study.yaml, or move the file out of the folder"},
		{"decimal commas between commas", lines("Time,Glucose (mmol/L),", "2027-01-31 07:00,5,4,", "2027-01-31 07:05,5,6,", "2027-01-31 07:10,5,"), Mapping{GlucoseColumn: "2"},
			"readings/x.csv:2: found 4 cells, expected 3 as in the header; export with decimal points, or with semicolons between cells\n" +
				"readings/x.csv:3: found 4 cells, expected 3 as in the header; export with decimal points, or with semicolons between cells"},
		{"a comma in a note", lines("Time,Glucose,Note", "2027-01-31 07:00,99,a,b", "2027-01-31 07:05,98,"), Mapping{},
			"readings/x.csv:2: found 4 cells, expected 3 as in the header; put a cell that contains the delimiter between double quotes"},
		{"bad time", lines("Time,Glucose", "2027-01-31 07:00,99", "2027-02-31 07:05,98", "2027-03-01 07:05,98"), Mapping{},
			`readings/x.csv:3: Time: found "2027-02-31 07:05", expected a time as yyyy-MM-dd HH:mm; ` +
				"empty the cell if the row is no reading; tell another layout with readings.time_layout in study.yaml"},
		{"mixed decimals", lines("1;2027-01-31 07:00;99.5", "2;2027-01-31 07:05;98.5", "3;2027-01-31 07:10;98,5"), Mapping{},
			`readings/x.csv:3: column 3: found "98,5", expected a number such as 5.4, LOW or HIGH; ` +
				"empty the cell if the row is no reading; name another column with readings.glucose_column in study.yaml"},
		{"told decimal", lines("1;2027-01-31 07:00;99.5"), Mapping{Decimal: ","},
			`readings/x.csv:1: column 3: found "99.5", expected a number such as 5,4, LOW or HIGH; ` +
				"empty the cell if the row is no reading; name another column with readings.glucose_column in study.yaml"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := readOne(c.content, c.told)
			checkError(t, err, c.err)
		})
	}
}

func TestBadMapping(t *testing.T) {
	_, err := readOne("", Mapping{Delimiter: "tabs", Decimal: "'", Unit: "mg", TimeLayout: "YYYY", TimeColumn: "1 + 0", GlucoseColumn: "-1"})
	checkError(t, err, strings.Join([]string{
		`study.yaml: readings.delimiter: found "tabs", expected ",", ";", "|" or "tab"`,
		`study.yaml: readings.decimal: found "'", expected "." or ","`,
		`study.yaml: readings.unit: found "mg", expected mg/dL or mmol/L`,
		`study.yaml: readings.time_layout: found "YYYY", with YYYY, which is no date field here, expected date letters such as yyyy-MM-dd HH:mm:ss, or rfc3339, or epoch; ` +
			"put plain text between single quotes, such as yyyy-MM-dd'T'HH:mm",
		`study.yaml: readings.time_column: found "1 + 0", expected the header's text or a number from 1`,
		`study.yaml: readings.glucose_column: found "-1", expected the header's text or a number from 1`,
	}, "\n"))
}

// Words of invented headers that are to be taken for glucose, and others.
func TestGlucoseWords(t *testing.T) {
	for header, want := range map[string]bool{"Glucose": true, "Sensor GLUKOSE": true, "Glucosa": true, "Glicemia": true, "Glykemi": true, "Blutzucker": true,
		"Glycémie": true, "血糖値": true, "Insulin": false, "Pulse": false, "": false} {
		if got := namesGlucose(header); got != want {
			t.Errorf("%q: %v, want %v", header, got, want)
		}
	}
}
