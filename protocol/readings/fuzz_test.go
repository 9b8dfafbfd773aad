package readings

import (
	"math"
	"strings"
	"testing"
	"time"

	"mealtrial/protocol/problem"
)

// Whatever stands in a file, reading it does not panic, its readings ascend and
// are finite, and what is wrong is a problem.List.
func FuzzRead(f *testing.F) {
	vienna := zone(f, "Europe/Vienna")
	for _, seed := range []string{
		"", "\n", "Time,Glucose (mg/dL)\n", "\xff\xfeT\x00", "Time,Glucose\n2027-01-31 07:00,\xff\n",
		"Recorder export,invented\nStarted,2027-01-30 18:00\n\nNumber,Time,Event,Glucose (mg/dL)\n1,2027-01-31 07:00:00,reading,99\n2,2027-01-31 07:05:00,reading,LOW\n",
		"\xef\xbb\xbfZeit;Glukose (mmol/L)\r\n31.10.2027 02:55;5,4\r\n31.10.2027 02:00;5,5\r\n",
		"\"Time\",\"Glucose\"\n\"1/31/2027, 7:05 PM\",\"101\"\n\"1/31/2027, 7:00 PM\",\"say \"\"x\"\"\"\n",
		"2027-01-31T07:00:00Z\t5.4\n2027-01-31T08:05:00+01:00\t5.6\n", "1801379100|101\n1801379400|>400\n",
		"Date;Clock;mg/dL\n03/02/2027;07:00;101\n04/02/2027;07:05;99\n", "2027-03-28 02:30,101,\"a\nb\"\n2027-03-28 03:30,99,\"\n",
		"Time,Glucose A,Glucose B\n2027-01-31 07:00,1,2\n", "Time,Glucose mmol/L\n2027-01-31 07:00,5,4\n",
	} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, content string) {
		for _, m := range []Mapping{{}, {TimeColumn: "1", GlucoseColumn: "2", TimeLayout: "dd/MM/yyyy H:mm", Decimal: ","}, {TimeColumn: "time", GlucoseColumn: "Glucose", Unit: MmolL}} {
			r, err := Read(folder("x.csv", content), "readings", m, Study{Unit: MmolL, Zone: vienna})
			if _, ok := err.(problem.List); err != nil && !ok {
				t.Fatalf("%T, want a problem.List", err)
			}
			if err == nil && len(r.Readings) == 0 && r.Conflicting == 0 {
				t.Fatal("no readings and no problem")
			}
			checkAscending(t, r)
			for _, x := range r.Readings {
				if x.Limit == NotLimited && !(x.Glucose > 0) || x.Glucose < 0 || math.IsInf(x.Glucose, 0) || x.Line < 1 || x.Line > 1+strings.Count(content, "\n")+strings.Count(content, "\r") {
					t.Fatalf("reading %+v", x)
				}
			}
			if n := len(r.Between(time.Time{}, time.Date(9999, 1, 1, 0, 0, 0, 0, time.UTC))); n > len(r.Readings) {
				t.Fatalf("%d of %d readings", n, len(r.Readings))
			}
		}
	})
}
