package readings

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// Each export holds the readings 101, 99 and 98 at 07:00, 07:05 and 07:10 in
// Vienna, and what a person must tell of it, if anything.
func TestUnusualLayouts(t *testing.T) {
	vienna := zone(t, "Europe/Vienna")
	const want = "2027-01-31 07:00 101\n2027-01-31 07:05 99\n2027-01-31 07:10 98"
	for _, c := range []struct {
		name, content string
		told          Mapping
		guessed       string // beyond those of every table
		notes         string
	}{
		{"milliseconds of the epoch", lines("Time,Glucose (mg/dL)", "1801375200000,101", "1801375500000,99", "1801375800000,98"), Mapping{}, "", ""},
		{"zone in the cell", lines("Time,Glucose (mg/dL)", "2027-01-31 01:00 America/New_York,101", "2027-01-31 01:05 America/New_York,99", "2027-01-31 07:10 Europe/Vienna,98"), Mapping{}, "", ""},
		{"zone in a column", lines("Time,Glucose (mg/dL),Time zone", "2027-01-31 01:00,101,America/New_York", "2027-01-31 01:05,99,America/New_York", "2027-01-31 07:10,98,Europe/Vienna"), Mapping{}, "zone_column", ""},
		{"offset in a column", lines("Time,UTC offset,Glucose (mg/dL)", "2027-01-31 07:00,+01:00,101", "2027-01-31 07:05,+0100,99", "2027-01-31 06:10,UTC,98"), Mapping{}, "zone_column", ""},
		{"named zone", lines("Time,Glucose (mg/dL)", "2027-01-31 06:00,101", "2027-01-31 06:05,99", "2027-01-31 06:10,98"), Mapping{Zone: zone(t, "Europe/London")}, "", ""},
		{"events told", lines("Time,Event type,Glucose (mg/dL)", "2027-01-31 07:00,history,101", "2027-01-31 07:02,scan,150", "2027-01-31 07:05,history,99", "2027-01-31 07:07,meal,", "2027-01-31 07:10,history,98"),
			Mapping{EventColumn: "Event type", Events: []string{"history"}}, "", ""},
		{"several events told", lines("Time,Event type,Glucose (mg/dL)", "2027-01-31 07:00,history,101", "2027-01-31 07:05,scan,99", "2027-01-31 07:06,test,150", "2027-01-31 07:10,history,98"),
			Mapping{EventColumn: "2", Events: []string{"history", "scan"}}, "", ""},
		{"finger-sticks among the events", lines("Time,Event,Glucose (mg/dL)", "2027-01-31 07:00,reading,101", "2027-01-31 07:02,Calibration,150", "2027-01-31 07:05,reading,99", "2027-01-31 07:10,reading,98"), Mapping{}, "event_column",
			`Rows with glucose of the kind "Calibration" were taken for those of a finger-stick meter and left out.`},
		{"a trend is no event", lines("Time,Trend type,Glucose (mg/dL)", "2027-01-31 07:00,flat,101", "2027-01-31 07:05,falling,99", "2027-01-31 07:10,flat,98"), Mapping{}, "", ""},
		{"units in the cells", lines("Time,Value", "2027-01-31 07:00,101 mg/dL", "2027-01-31 07:05,99mg/dl", "2027-01-31 07:10,98"), Mapping{}, "", ""},
		{"two columns in turn", lines("Time,Stored glucose (mg/dL),Scanned glucose (mg/dL)", "2027-01-31 07:00,101,", "2027-01-31 07:05,,99", "2027-01-31 07:10,98,"),
			Mapping{GlucoseColumn: "Stored glucose (mg/dL) or Scanned glucose (mg/dL)"}, "", ""},
		{"two columns by number", lines("2027-01-31 07:00,101,", "2027-01-31 07:05,,99", "2027-01-31 07:10,98,"), Mapping{TimeColumn: "1", GlucoseColumn: "2 or 3", Unit: MgdL}, "", ""},
		{"a column for finger-sticks", lines("Time,Sensor glucose (mg/dL),Strip glucose (mg/dL)", "2027-01-31 07:00,101,", "2027-01-31 07:02,,150", "2027-01-31 07:05,99,", "2027-01-31 07:10,98,"), Mapping{}, "",
			`Column "Strip glucose (mg/dL)" was taken for that of a finger-stick meter and left out.`},
		{"exports one below the other", lines("Time,Glucose (mg/dL)", "2027-01-31 07:00,101", "2027-01-31 07:05,99", "Time,Glucose (mg/dL)", "2027-01-31 07:10,98"), Mapping{}, "", ""},
		{"days in the wrong order", lines("Time,Glucose (mg/dL)", "2027-01-31 07:10,98", "2027-01-31 07:00,101", "2027-01-31 07:05,99"), Mapping{}, "",
			"The rows are in 2 stretches of time that are not in order; they were put in order."},
		{"joined by a sign in a name", lines("Date + Time,Low or high glucose (mg/dL)", "2027-01-31 07:00,101", "2027-01-31 07:05,99", "2027-01-31 07:10,98"),
			Mapping{TimeColumn: "Date + Time", GlucoseColumn: "low or high glucose (mg/dL)"}, "", ""},
		{"fixed", lines("Time,Glucose (mg/dL)", "2027-01-31 07:00,101", "2027-01-31 07:05,99", "2027-01-31 07:10,98"),
			Mapping{Fixed: true, Delimiter: ",", TimeColumn: "Time", TimeLayout: "yyyy-MM-dd HH:mm", GlucoseColumn: "Glucose (mg/dL)"}, "", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, err := Read(folder("x.csv", c.content), "readings", c.told, Study{Zone: vienna})
			if err != nil {
				t.Fatal(err)
			}
			if pairs(r.Readings) != want {
				t.Errorf("got\n%s", pairs(r.Readings))
			}
			var guessed []string
			for _, key := range r.Files[0].Guessed {
				if !strings.Contains(" delimiter time_column time_layout glucose_column unit ", " "+key+" ") {
					guessed = append(guessed, key)
				}
			}
			if strings.Join(guessed, " ") != c.guessed || strings.Join(r.Files[0].Notes, " ") != c.notes {
				t.Errorf("guessed %q, want %q; notes %q", guessed, c.guessed, r.Files[0].Notes)
			}
		})
	}
}

// What was guessed of a file, told, reads the file in the same way.
func TestPartsTellTheSame(t *testing.T) {
	fsys := folder("a.csv", lines("Export", "", "Day;Clock;Event;Device;Glucose (mmol/L);At least", "31/01/2027;07:00;reading;L;5,4;", "31/01/2027;07:05;control;L;9,9;", "31/01/2027;07:10;reading;L;;22,2"))
	s, err := Open(fsys, "readings", Mapping{}, Study{})
	if err != nil {
		t.Fatal(err)
	}
	want := []Part{
		{"delimiter", ";", nil, FromContent}, {"decimal", ",", nil, FromContent}, {"time_column", "Day + Clock", nil, FromContent},
		{"time_layout", "dd/MM/yyyy HH:mm", nil, FromContent}, {"glucose_column", "Glucose (mmol/L)", nil, FromContent}, {"unit", "mmol/L", nil, FromTheFile},
		{"event_column", "Event", nil, FromContent}, {"events", "reading", []string{"reading"}, FromContent}, {"sensor_column", "Device", nil, FromContent},
		{"at_least_column", "At least", nil, FromContent}, {"highest", "22.2", nil, FromContent},
	}
	if diff := cmp.Diff(want, s.Parts(0)); diff != "" {
		t.Fatal(diff)
	}
	told := Mapping{Fixed: true, Delimiter: ";", Decimal: ",", TimeColumn: "Day + Clock", TimeLayout: "dd/MM/yyyy HH:mm", GlucoseColumn: "Glucose (mmol/L)", Unit: MmolL,
		EventColumn: "Event", Events: []string{"reading"}, SensorColumn: "Device", AtLeastColumn: "At least", Highest: 22.2}
	first, _ := Read(fsys, "readings", Mapping{}, Study{})
	second, err := Read(fsys, "readings", told, Study{})
	if diff := cmp.Diff(first.Readings, second.Readings); diff != "" || err != nil || len(second.Files[0].Guessed) != 0 {
		t.Errorf("%v %v %s", err, second.Files[0].Guessed, diff)
	}
}

// A Mapping for some files goes before that of all; what it leaves out is as
// there.
func TestMappingOfSomeFiles(t *testing.T) {
	fsys := folder("arm-1.csv", "Time,Glucose\n01/02/2027 07:00,5.4\n", "other.csv", "Time,Glucose\n02/03/2027 07:00,5.6\n")
	m := Mapping{Unit: MmolL, TimeLayout: "dd/MM/yyyy HH:mm", Files: []FileMapping{{Pattern: "arm*.csv", Mapping: Mapping{TimeLayout: "MM/dd/yyyy HH:mm", Sensor: "arm"}}}}
	r, err := Read(fsys, "readings", m, Study{Unit: MmolL})
	if err != nil {
		t.Fatal(err)
	}
	if got := pairs(r.Readings); got != "2027-01-02 07:00 5.4\n2027-03-02 07:00 5.6" || r.Readings[0].Sensor != "arm" || r.Readings[1].Sensor != "" {
		t.Errorf("got %+v", r.Readings)
	}
	for _, c := range []struct {
		file FileMapping
		err  string
	}{
		{FileMapping{Pattern: "[", Line: 7}, `study.yaml:7: readings.files: found "[", expected a file in readings/, or a pattern such as arm*.csv`},
		{FileMapping{Pattern: "a.csv", Line: 7, Mapping: Mapping{Decimal: "'"}}, `study.yaml:7: readings.files.a.csv.decimal: found "'", expected "." or ","`},
		{FileMapping{Pattern: "a.csv", Line: 7, Mapping: Mapping{Events: []string{"x"}}}, `study.yaml:7: readings.files.a.csv.events: found events without the column that they stand in, expected event_column as well`},
		{FileMapping{Pattern: "a.csv", Line: 7, Mapping: Mapping{Lowest: 50, Highest: 40}}, `study.yaml:7: readings.files.a.csv.lowest: found reporting limits from 50 to 40, expected the lower one above 0 and below the higher one`},
	} {
		_, err := Read(fsys, "readings", Mapping{Files: []FileMapping{c.file}}, Study{})
		checkError(t, err, c.err)
	}
	_, err = Read(folder("x.csv", "Time,Glucose (mg/dL)\n2027-01-31 07:00,101\n"), "readings", Mapping{SensorColumn: "9"}, Study{})
	checkError(t, err, `study.yaml: readings.sensor_column: found "9", expected a number from 1 to 2`)
	_, err = Read(folder("x.csv", "Time,Glucose (mg/dL)\n2027-01-31 07:00,101\n"), "readings", Mapping{EventColumn: "Kind", Events: []string{"reading"}}, Study{})
	checkError(t, err, `readings/x.csv: readings.event_column: found no column called "Kind", expected one of "Time", "Glucose (mg/dL)"; mend the name in study.yaml`)
}

func TestEventsAndSensorsThatAreNone(t *testing.T) {
	_, err := readOne("", Mapping{EventColumn: "2"})
	checkError(t, err, "study.yaml: readings.event_column: found a column of events without those that are the sensor's, expected events as well; write for example events: [reading]")
	_, err = readOne(lines("Time,Event,Glucose (mg/dL)", "2027-01-31 07:00,scan,101", "2027-01-31 07:05,history,99"), Mapping{EventColumn: "Event", Events: []string{"scann"}})
	checkError(t, err, `readings/x.csv: Event: found no row with glucose of the kind "scann", expected one of "scan", "history"; mend readings.events in study.yaml`)
	content := "Time,Number,Glucose (mg/dL)\n"
	for i := range 102 {
		content += fmt.Sprintf("2027-01-31 %02d:%02d,%d,101\n", i/60, i%60, i*i)
	}
	_, err = readOne(content, Mapping{SensorColumn: "Number"})
	const many = `, after 100 others, expected a few sensors; name another column with readings.sensor_column in study.yaml`
	checkError(t, err, "readings/x.csv:102: Number: found another sensor, \"10000\""+many+"\nreadings/x.csv:103: Number: found another sensor, \"10201\""+many)
}

func TestZoneNames(t *testing.T) {
	for name, want := range map[string]int{"Europe/Vienna": 3600, "UTC": 0, "GMT": 0, "Z": 0, "+01:00": 3600, "-0530": -19800, "UTC+2": 7200, "utc +02:00": 7200, "−03": -10800} {
		z, ok := zoneNamed(name)
		if !ok {
			t.Errorf("%s: no zone", name)
			continue
		}
		if _, got := clockOf(z); got != want {
			t.Errorf("%s: %d s, want %d", name, got, want)
		}
	}
	for _, name := range []string{"", "1", "+", "+25:00", "+01:60", "+1:5", "CET", "Europe", "Europe/Nowhere", "../etc/passwd", strings.Repeat("a/", 30)} {
		if z, ok := zoneNamed(name); ok {
			t.Errorf("%q is %v", name, z)
		}
	}
}

// clockOf is the offset in winter.
func clockOf(z *time.Location) (string, int) { return time.Date(2027, 1, 31, 0, 0, 0, 0, z).Zone() }
