package readings

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// withSensors writes readings as "07:00 101 sensor", one a line.
func withSensors(list []Reading) string {
	var b strings.Builder
	for _, r := range list {
		fmt.Fprintf(&b, "%s %g %s\n", r.Time.Format("15:04"), r.Glucose, r.Sensor)
	}
	return b.String()
}

func sensorsOf(r Recording) string {
	var out []string
	for _, s := range r.Sensors {
		out = append(out, fmt.Sprintf("%s %d", s.Name, s.Readings))
	}
	return strings.Join(out, ", ")
}

func TestSensors(t *testing.T) {
	const header = "Time,Glucose (mg/dL)\n"
	const left, right = "2027-01-31 07:00,101\n2027-01-31 07:05,103\n", "2027-01-31 07:02,95\n2027-01-31 07:07,96\n"
	for _, c := range []struct {
		name                string
		files               []string
		told                Mapping
		want, sensors       string
		repeated, conflicts int
	}{
		{"column", []string{"a.csv", "Time,Serial number,Glucose (mg/dL)\n2027-01-31 07:00,L,101\n2027-01-31 07:00,R,95\n2027-01-31 07:05,L,103\n2027-01-31 07:05,R,96\n"}, Mapping{},
			"07:00 101 L\n07:00 95 R\n07:05 103 L\n07:05 96 R\n", "L 2, R 2", 0, 0},
		{"column, sensors one below the other", []string{"a.csv", "Time,Device,Glucose (mg/dL)\n2027-01-31 07:00,L,101\n2027-01-31 07:05,L,103\n2027-01-31 07:02,R,95\n"}, Mapping{},
			"07:00 101 L\n07:02 95 R\n07:05 103 L\n", "L 2, R 1", 0, 0},
		{"files that overlap", []string{"a.csv", header + left, "b.csv", header + right}, Mapping{},
			"07:00 101 a.csv\n07:02 95 b.csv\n07:05 103 a.csv\n07:07 96 b.csv\n", "a.csv 2, b.csv 2", 0, 0},
		{"files of one name in two folders", []string{"old/a.csv", header + left, "new/a.csv", header + right}, Mapping{},
			"07:00 101 a.csv (2)\n07:02 95 a.csv\n07:05 103 a.csv (2)\n07:07 96 a.csv\n", "a.csv 2, a.csv (2) 2", 0, 0},
		{"told by file", []string{"a.csv", header + left, "b.csv", header + right},
			Mapping{Files: []FileMapping{{Pattern: "b*", Mapping: Mapping{Sensor: "arm"}}}}, "07:00 101 a.csv\n07:02 95 arm\n07:05 103 a.csv\n07:07 96 arm\n", "a.csv 2, arm 2", 0, 0},
		{"a copy of a named one", []string{"a.csv", header + left, "b.csv", header + left + "2027-01-31 07:10,99\n"},
			Mapping{Files: []FileMapping{{Pattern: "b*", Mapping: Mapping{Sensor: "arm"}}}}, "07:00 101 arm\n07:05 103 arm\n07:10 99 arm\n", "arm 3", 2, 0},
		{"a conflict", []string{"a.csv", header + left + "2027-01-31 07:10,99\n", "b.csv", header + left + "2027-01-31 07:10,98\n"}, Mapping{},
			"07:00 101 \n07:05 103 \n", " 2", 2, 1},
		{"one row twice", []string{"a.csv", header + left + "2027-01-31 07:05,103\n"}, Mapping{}, "07:00 101 \n07:05 103 \n", " 2", 1, 0},
		{"times with and without seconds", []string{"a.csv", header + "2027-01-31 07:00:23,101\n2027-01-31 07:05:24,103\n2027-01-31 07:10:59,99\n", "b.csv", header + left + "2027-01-31 07:10,99\n2027-01-31 07:15,98\n"}, Mapping{},
			"07:00 101 \n07:05 103 \n07:10 99 \n07:15 98 \n", " 4", 3, 0},
		{"times with and without seconds, other values", []string{"a.csv", header + "2027-01-31 07:00:23,101\n2027-01-31 07:05:24,103\n2027-01-31 07:10:59,97\n", "b.csv", header + left + "2027-01-31 07:10,99\n2027-01-31 07:15,98\n"}, Mapping{},
			"07:00 101 b.csv\n07:00 101 a.csv\n07:05 103 b.csv\n07:05 103 a.csv\n07:10 99 b.csv\n07:10 97 a.csv\n07:15 98 b.csv\n", "a.csv 3, b.csv 4", 0, 0},
		{"one row in three files", []string{"a.csv", header + left, "b.csv", header + left, "c.csv", header + left}, Mapping{}, "07:00 101 \n07:05 103 \n", " 2", 4, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, err := Read(folder(c.files...), "readings", c.told, Study{})
			if err != nil {
				t.Fatal(err)
			}
			if got := withSensors(r.Readings); got != c.want || sensorsOf(r) != c.sensors || r.Repeated != c.repeated || r.Conflicting != c.conflicts {
				t.Errorf("got\n%s%q, %d repeated, %d conflicts; want\n%s%q", got, sensorsOf(r), r.Repeated, r.Conflicting, c.want, c.sensors)
			}
			checkAscending(t, r)
		})
	}
	r, err := Read(folder("a.csv", header+left+"2027-01-31 07:10,99\n", "b.csv", header+left+"2027-01-31 07:10,98\n"), "readings", Mapping{}, Study{})
	at := time.Date(2027, 1, 31, 7, 10, 0, 0, time.UTC)
	want := []Conflict{{Time: at, A: Reading{Time: at, Glucose: 99, File: "readings/a.csv", Line: 4}, B: Reading{Time: at, Glucose: 98, File: "readings/b.csv", Line: 4}}}
	if diff := cmp.Diff(want, r.Conflicts); diff != "" || err != nil {
		t.Errorf("%v %s", err, diff)
	}
}

// However a recording is cut into files that overlap, in whatever order the
// files and their rows are, the same readings come out, once each; and whether
// entries are kept in memory or read again makes no difference.
func TestCutsOfOneRecording(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		vienna, err := time.LoadLocation("Europe/Vienna")
		if err != nil {
			t.Fatal(err)
		}
		start := time.Date(2027, 10, 30, 20, 0, 0, 0, time.UTC) // the clock goes back in this night
		n := rapid.IntRange(2, 300).Draw(t, "n")
		random := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0))
		values := make([]int, n)
		for i := range values {
			values[i] = 60 + random.IntN(200)
		}
		fsys := folder()
		for k, from := 0, 0; from < n; k++ {
			to := min(n, from+rapid.IntRange(1, n).Draw(t, "length"))
			layout := rapid.SampledFrom([]string{"rfc3339", "epoch"}).Draw(t, "layout")
			var rows []string
			for i := max(0, from-rapid.IntRange(0, n).Draw(t, "overlap")); i < to; i++ {
				rows = append(rows, export{layout: layout}.time(start.Add(time.Duration(5*i)*time.Minute).In(vienna))+fmt.Sprintf(",%d", values[i]))
			}
			if rapid.Bool().Draw(t, "newest first") {
				slices.Reverse(rows)
			}
			name := fmt.Sprintf("%d.csv", random.IntN(1e9))
			fsys["readings/"+name] = folder(name, lines(append([]string{"Time,Glucose (mg/dL)"}, rows...)...))["readings/"+name]
			from = to
		}
		for _, kept := range []int{keptEntries, 0} {
			s, err := open(fsys, "readings", Mapping{Unit: MgdL, Lowest: 1, Highest: 999, GlucoseColumn: "2"}, Study{Zone: vienna}, kept)
			if err != nil {
				t.Fatal(err)
			}
			i := 0
			err = s.Each(nil, func(r Reading) bool {
				if i >= n || r.Glucose != float64(values[i]) || !r.Time.Equal(start.Add(time.Duration(5*i)*time.Minute)) || r.Sensor != "" {
					t.Fatalf("reading %d: %+v, want %d", i, r, values[i])
				}
				i++
				return true
			})
			if err != nil || i != n || s.Conflicting != 0 || len(s.Sensors) != 1 || s.Sensors[0].Readings != n {
				t.Fatalf("%v, %d of %d readings, %+v", err, i, n, s.Merge)
			}
		}
	})
}

// A recording longer than what is kept in memory, in all orders, with clock
// changes, is the same when it is read again.
func TestReadAgain(t *testing.T) {
	vienna := zone(t, "Europe/Vienna")
	var rows []string
	at := time.Date(2027, 10, 29, 0, 0, 0, 0, vienna)
	for i := range 3 * blockRows {
		rows = append(rows, at.Format("2006-01-02 15:04")+fmt.Sprintf(",%d,%c", 80+i*7%60, 'A'+i/100%2))
		at = at.Add(time.Minute)
	}
	for _, order := range []string{"oldest first", "newest first"} {
		if order == "newest first" {
			slices.Reverse(rows)
		}
		fsys := folder("x.csv", "Time,Glucose (mg/dL),Sensor\n"+lines(rows...))
		var want []Reading
		for _, kept := range []int{keptEntries, 0, 1000} {
			s, err := open(fsys, "readings", Mapping{}, Study{Unit: MgdL, Zone: vienna}, kept)
			if err != nil {
				t.Fatal(err)
			}
			var got []Reading
			if err := s.Each(nil, func(r Reading) bool { got = append(got, r); return true }); err != nil || len(got) != len(rows) {
				t.Fatalf("%s: %d readings, %v", order, len(got), err)
			}
			if want == nil {
				want = got
			}
			if diff := cmp.Diff(want, got); diff != "" {
				t.Errorf("%s, %d kept: %s", order, kept, diff)
			}
		}
		for i := 1; i < len(want); i++ {
			if want[i].Time.Sub(want[i-1].Time) != time.Minute {
				t.Fatalf("%s: %v after %v", order, want[i].Time, want[i-1].Time)
			}
		}
	}
}

// Spans give what lies within them, and end early when asked to.
func TestSpans(t *testing.T) {
	start := time.Date(2027, 1, 31, 7, 0, 0, 0, time.UTC)
	fsys := folder("x.csv", "Time,Glucose (mg/dL)\n"+everyFive(start, 5000, "2006-01-02 15:04", ","))
	at := func(i int) time.Time { return start.Add(time.Duration(5*i) * time.Minute) }
	r, err := Read(fsys, "readings", Mapping{}, Study{Spans: []Span{{at(4000), at(4002)}, {at(1), at(3)}, {at(2), at(4)}, {at(9999), at(10000)}}})
	if err != nil || len(r.Readings) != 7 || !r.Readings[0].Time.Equal(at(1)) || !r.Readings[6].Time.Equal(at(4002)) {
		t.Errorf("%v %v", r.Readings, err)
	}
	if r, err = Read(fsys, "readings", Mapping{}, Study{Spans: []Span{}}); err != nil || len(r.Readings) != 0 || r.Empty() || r.Files[0].Readings != 5000 {
		t.Errorf("no span: %v %v", r.Readings, err)
	}
	s, _ := Open(fsys, "readings", Mapping{}, Study{})
	n := 0
	if err := s.Each(nil, func(Reading) bool { n++; return n < 10 }); err != nil || n != 10 {
		t.Errorf("%d readings, %v", n, err)
	}
}
