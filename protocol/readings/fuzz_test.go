package readings

import (
	"math"
	"os"
	"path/filepath"
	"slices"
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
	files, err := filepath.Glob("testdata/misleading/*.csv")
	if err != nil || len(files) < 20 {
		f.Fatalf("%d seeds, %v", len(files), err)
	}
	for _, name := range files {
		seed, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(string(seed))
	}
	f.Fuzz(func(t *testing.T, content string) {
		for _, m := range []Mapping{{}, {TimeColumn: "1", SensorColumn: "2", EventColumn: "3", Events: []string{"reading"}, ZoneColumn: "4", GlucoseColumn: "2 or 3", Lowest: 40, Highest: 400},
			{TimeColumn: "1", GlucoseColumn: "2", TimeLayout: "dd/MM/yyyy H:mm", Decimal: ","}, {TimeColumn: "time", GlucoseColumn: "Glucose", Unit: MmolL}} {
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

// Two files that overlap anyhow give readings in order, once each.
func FuzzMerge(f *testing.F) {
	const header = "Time,Glucose (mg/dL)\n"
	f.Add(header+"2027-01-31 07:00,101\n2027-01-31 07:05,99\n", header+"2027-01-31 07:05,99\n2027-01-31 07:10,98\n")
	f.Add(header+"2027-10-31 02:30,101\n2027-10-31 02:30,99\n", "Time;Glucose (mmol/L)\n2027-10-31T02:30:00+01:00;5,5\n")
	f.Add("Time,Device,Glucose (mg/dL)\n2027-01-31 07:00,L,101\n2027-01-31 07:00,R,90\n", header+"2027-01-31 07:00,101\n")
	vienna := zone(f, "Europe/Vienna")
	f.Fuzz(func(t *testing.T, a, b string) {
		fsys := folder("a.csv", a, "b.csv", b)
		var first []Reading
		for _, room := range []int{keptEntries, 0} {
			s, err := open(fsys, "readings", Mapping{}, Study{Zone: vienna}, room)
			if _, ok := err.(problem.List); err != nil && !ok {
				t.Fatalf("%T, want a problem.List", err)
			}
			var r Recording
			if err := s.Each(nil, func(x Reading) bool { r.Readings = append(r.Readings, x); return true }); err != nil {
				t.Fatal(err)
			}
			checkAscending(t, r)
			n := 0
			for _, x := range s.Sensors {
				n += x.Readings
			}
			if err == nil && n != len(r.Readings) {
				t.Fatalf("%d readings counted, %d given", n, len(r.Readings))
			}
			if room == 0 && err == nil && !slices.Equal(first, r.Readings) {
				t.Fatalf("read again: %v, before: %v", r.Readings, first)
			}
			first = r.Readings
		}
	})
}

// A pattern that is accepted writes times that it reads again.
func FuzzPattern(f *testing.F) {
	for _, seed := range []string{"yyyy-MM-dd HH:mm:ss", "d.M.yy H.mm 'Uhr'", "yyyy-MM-dd'T'HH:mm:ss.SSSXXX", "M/d/yyyy h:mm a", "yyyy-MM-dd HH:mm VV", "yyyyMMddHHmm", "''", "epoch-ms", "rfc3339"} {
		f.Add(seed, "2027-01-31 07:05 Europe/Vienna")
	}
	at := time.Date(2027, 11, 23, 16, 35, 46, 0, time.UTC)
	f.Fuzz(func(t *testing.T, pattern, cell string) {
		l, err := newLayout(pattern)
		if err != nil {
			return
		}
		l.parse(cell)
		if l.kind != wallClock && l.kind != withOffset {
			return
		}
		text := at.Format(l.layout)
		got, ok := l.parse(text)
		if !ok || got.Truncate(time.Minute).Sub(at.Truncate(time.Minute)) != 0 && !strings.Contains(pattern, "yy") {
			t.Fatalf("%q writes %q and reads it as %v, %v", pattern, text, got, ok)
		}
	})
}
