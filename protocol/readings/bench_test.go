package readings

import (
	"fmt"
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
