package readings

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"
)

// BenchmarkRead reads 10,000 rows, a month at one reading each five minutes,
// with nothing told and in a zone with clock changes.
func BenchmarkRead(b *testing.B) {
	vienna := zone(b, "Europe/Vienna")
	for _, layout := range []string{"yyyy-MM-dd HH:mm:ss", "MM/dd/yyyy hh:mm a", "rfc3339"} {
		e := export{layout: layout}
		var content strings.Builder
		content.WriteString("Number,Time,Event,Glucose (mg/dL),Note\n")
		at := time.Date(2027, 9, 20, 0, 0, 0, 0, vienna)
		for i := range 10_000 {
			fmt.Fprintf(&content, "%d,%s,reading,%d,\n", i, e.time(at), 80+i*7%60)
			at = at.Add(5 * time.Minute)
		}
		fsys := folder("x.csv", content.String())
		b.Run(layout, func(b *testing.B) {
			b.SetBytes(int64(content.Len()))
			b.ReportAllocs()
			for b.Loop() {
				r, err := Read(fsys, "readings", Mapping{}, Study{Unit: MgdL, Zone: vienna})
				if err != nil || len(r.Readings) != 10_000 {
					b.Fatal(err)
				}
			}
		})
	}
}

// minuteYears writes years of readings at one a minute, 525,600 rows or 12 MB a
// year, into files of four weeks that overlap by a day.
func minuteYears(tb testing.TB, years int) (fsys fs.FS, rows int) {
	dir := tb.TempDir()
	if err := os.Mkdir(filepath.Join(dir, "readings"), 0o755); err != nil {
		tb.Fatal(err)
	}
	const part, overlap = 28 * 24 * 60, 24 * 60
	start := time.Date(2027, 1, 1, 0, 0, 0, 0, time.UTC)
	for from := 0; from < years*525_600; from += part {
		var b strings.Builder
		b.WriteString("Time,Glucose (mg/dL)\n")
		for i := max(0, from-overlap); i < min(from+part, years*525_600); i++ {
			b.WriteString(start.Add(time.Duration(i)*time.Minute).Format("2006-01-02 15:04") + fmt.Sprintf(",%d\n", 80+i*7%60))
			rows++
		}
		if err := os.WriteFile(filepath.Join(dir, "readings", fmt.Sprintf("%05d.csv", from/part)), []byte(b.String()), 0o644); err != nil {
			tb.Fatal(err)
		}
	}
	return os.DirFS(dir), rows
}

// BenchmarkMerge parses and merges one year and five years at one reading a
// minute. It reports the largest heap, which must not grow with the years.
func BenchmarkMerge(b *testing.B) {
	for _, years := range []int{1, 5} {
		fsys, _ := minuteYears(b, years)
		b.Run(fmt.Sprintf("years=%d", years), func(b *testing.B) {
			var largest uint64
			for b.Loop() {
				s, err := Open(fsys, "readings", Mapping{}, Study{Unit: MgdL, Zone: time.UTC})
				if err != nil {
					b.Fatal(err)
				}
				n := 0
				err = s.Each(nil, func(Reading) bool {
					if n++; n%50_000 == 0 {
						var m runtime.MemStats
						runtime.ReadMemStats(&m)
						largest = max(largest, m.HeapInuse)
					}
					return true
				})
				if err != nil || n != years*525_600 {
					b.Fatal(n, err)
				}
			}
			b.ReportMetric(float64(largest)/1e6, "MB-heap")
		})
	}
}

// BenchmarkWindows is the same year as an analysis sees it: two dozen tests.
func BenchmarkWindows(b *testing.B) {
	fsys, _ := minuteYears(b, 1)
	spans := []Span{}
	for i := range 24 {
		at := time.Date(2027, 1, 3+7*i, 7, 0, 0, 0, time.UTC)
		spans = append(spans, Span{at, at.Add(3 * time.Hour)})
	}
	for b.Loop() {
		r, err := Read(fsys, "readings", Mapping{}, Study{Unit: MgdL, Zone: time.UTC, Spans: spans})
		if err != nil || len(r.Readings) != 24*181 {
			b.Fatal(len(r.Readings), err)
		}
	}
}
