package readings

import (
	"strings"
	"testing"
	"time"
)

func TestFilesTogether(t *testing.T) {
	header := "Time,Glucose (mg/dL)\n"
	at := func(h, n int) string {
		return header + everyFive(time.Date(2027, 1, 31, h, 0, 0, 0, time.UTC), n, "2006-01-02 15:04", ",")
	}
	for _, c := range []struct {
		name  string
		files []string
		want  int
		err   string
	}{
		{"one after the other", []string{"b.csv", at(7, 3), "a.csv", at(8, 3)}, 6, ""},
		{"copies", []string{"a.csv", at(7, 3), "b.csv", at(7, 3)}, 3, ""},
		{"the same readings written otherwise", []string{"a.csv", at(7, 2), "b.txt", "Glucose (mg/dL)\tTime\n95\t2027-01-31T07:00:00\n102\t2027-01-31T07:05:00\n"}, 2, ""},
		{"the same readings in another unit", []string{"a.csv", at(7, 2), "b.txt", "Glucose (mmol/L);Time\n5,3;2027-01-31T07:00:00\n5,7;2027-01-31T07:05:00\n"}, 2, ""},
		{"part of another", []string{"a.csv", at(7, 9), "b.csv", at(7, 1)}, 9, ""},
		{"first rows of another", []string{"a.csv", at(7, 9), "b.csv", at(7, 2)}, 9, ""},
		{"a later and longer export", []string{"a.csv", at(7, 3), "b.csv", at(7, 9)}, 9, ""},
		{"newest first, and more", []string{"a.csv", at(7, 3), "b.csv", header + reversed(strings.TrimPrefix(at(7, 9), header))}, 9, ""},
		{"two sensors", []string{"a.csv", at(7, 14), "b.csv", at(8, 3)}, 17, ""},
		{"two sensors, the earlier second", []string{"a.csv", at(8, 3), "b.csv", at(7, 14)}, 17, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, err := Read(folder(c.files...), "readings", Mapping{}, Study{Unit: MgdL, Zone: time.UTC})
			checkError(t, err, c.err)
			if len(r.Readings) != c.want || len(r.Files) != 2 || r.Files[0].File != "readings/a.csv" {
				t.Errorf("%d readings of %+v, want %d", len(r.Readings), r.Files, c.want)
			}
			checkAscending(t, r)
		})
	}
}

func checkAscending(t testing.TB, r Recording) {
	t.Helper()
	for i := 1; i < len(r.Readings); i++ {
		a, b := r.Readings[i-1], r.Readings[i]
		if !b.Time.After(a.Time) && !(b.Time.Equal(a.Time) && b.Sensor > a.Sensor) {
			t.Fatalf("reading %d at %v is not after %v", i, r.Readings[i].Time, r.Readings[i-1].Time)
		}
	}
}

func TestBetween(t *testing.T) {
	at := func(minute int) time.Time { return time.Date(2027, 1, 31, 7, minute, 0, 0, time.UTC) }
	var r Recording
	for i := range 5 {
		r.Readings = append(r.Readings, Reading{Time: at(5 * i)})
	}
	for _, c := range []struct{ from, to, first, n int }{
		{0, 20, 0, 5}, {-9, 99, 0, 5}, {5, 10, 1, 2}, {5, 5, 1, 1}, {6, 9, 2, 0}, {6, 10, 2, 1}, {10, 5, 2, 0}, {21, 99, 5, 0}, {-9, -1, 0, 0},
	} {
		got := r.Between(at(c.from), at(c.to))
		if len(got) != c.n || cap(got) != c.n || c.n > 0 && !got[0].Time.Equal(r.Readings[c.first].Time) {
			t.Errorf("Between(%d, %d) = %v, cap %d", c.from, c.to, got, cap(got))
		}
	}
	if got := (Recording{}).Between(at(0), at(5)); len(got) != 0 {
		t.Errorf("of nothing: %v", got)
	}
}
