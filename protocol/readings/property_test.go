package readings

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"
)

// An export is a way to write readings into a file.
type export struct {
	delimiter, decimal string
	layout             string // in date letters
	unit               Unit
	zone               *time.Location
	newestFirst, named bool
}

var exportLayouts = []string{"yyyy-MM-dd HH:mm", "yyyy-MM-dd'T'HH:mm:ss", "rfc3339", "dd.MM.yyyy HH:mm", "d/M/yyyy H:mm", "MM/dd/yyyy hh:mm a",
	"M/d/yyyy h:mm:ss a", "dd-MM-yyyy HH:mm", "yyyy/MM/dd HH:mm:ss", "epoch", "yyyy-MM-dd HH:mm:ss XX"}

func drawExport(t *rapid.T) export {
	zones := []string{"UTC", "Europe/Vienna", "America/New_York", "Australia/Lord_Howe", "Asia/Kolkata"}
	z, err := time.LoadLocation(rapid.SampledFrom(zones).Draw(t, "zone"))
	if err != nil {
		t.Fatal(err)
	}
	return export{
		delimiter: rapid.SampledFrom([]string{",", ";", "tab", "|"}).Draw(t, "delimiter"), decimal: rapid.SampledFrom([]string{".", ","}).Draw(t, "decimal"),
		layout: rapid.SampledFrom(exportLayouts).Draw(t, "layout"), unit: rapid.SampledFrom([]Unit{MgdL, MmolL}).Draw(t, "unit"), zone: z,
		newestFirst: rapid.Bool().Draw(t, "newest first"), named: rapid.Bool().Draw(t, "header"),
	}
}

// drawReadings gives whole minutes, at most a quarter of an hour apart, some of
// them around the changes of the clock.
func drawReadings(t *rapid.T, unit Unit, z *time.Location) []Reading {
	days := []time.Time{time.Date(2027, 3, 27, 22, 0, 0, 0, time.UTC), time.Date(2027, 10, 30, 20, 0, 0, 0, time.UTC), time.Date(2027, 11, 7, 2, 0, 0, 0, time.UTC),
		time.Date(2027, 6, 30, 22, 0, 0, 0, time.UTC)}
	at := rapid.SampledFrom(days).Draw(t, "day").Add(time.Duration(rapid.IntRange(0, 600).Draw(t, "start")) * time.Minute)
	// Nothing tells in which pass of a repeated hour a file begins.
	if _, n := instants(at.Add(offset(at, z)), z); n == 2 {
		at = at.Add(-2 * time.Hour)
	}
	var list []Reading
	for range rapid.IntRange(8, 60).Draw(t, "n") {
		at = at.Add(time.Duration(rapid.IntRange(1, 15).Draw(t, "step")) * time.Minute)
		r := Reading{Time: at.In(z), Limit: rapid.SampledFrom([]Limit{NotLimited, NotLimited, NotLimited, NotLimited, BelowRange, AboveRange}).Draw(t, "limit")}
		if r.Limit == NotLimited {
			r.Glucose = float64(rapid.IntRange(2*40, 2*300).Draw(t, "glucose")) / 2
			if unit == MmolL {
				r.Glucose = float64(rapid.IntRange(22, 220).Draw(t, "glucose")) / 10
			}
		}
		list = append(list, r)
	}
	// The unit and the glucose column cannot be seen from bounds alone.
	list[0].Limit, list[0].Glucose = NotLimited, map[Unit]float64{MgdL: 101.5, MmolL: 5.5}[unit]
	return list
}

func (e export) time(at time.Time) string {
	switch e.layout {
	case "rfc3339":
		return at.Format(time.RFC3339)
	case "epoch":
		return fmt.Sprint(at.Unix())
	}
	l, err := newLayout(e.layout)
	if err != nil {
		panic(err)
	}
	return at.Format(l.layout)
}

func (e export) write(list []Reading) string {
	delimiter := strings.ReplaceAll(e.delimiter, "tab", "\t")
	var rows []string
	for i, r := range list {
		value := strings.ReplaceAll(fmt.Sprintf("%.1f", r.Glucose), ".", e.decimal)
		if r.Limit != NotLimited {
			value = map[Limit]string{BelowRange: "low", AboveRange: "HI"}[r.Limit]
		}
		if e.decimal == e.delimiter {
			value = `"` + value + `"`
		}
		rows = append(rows, strings.Join([]string{fmt.Sprint(i), e.time(r.Time), "reading", value}, delimiter))
		if i%7 == 3 {
			rows = append(rows, strings.Join([]string{"", e.time(r.Time), "meal", ""}, delimiter))
		}
	}
	if e.newestFirst {
		slices.Reverse(rows)
	}
	if e.named {
		rows = append([]string{"Invented export", "", strings.Join([]string{"Number", "Time", "Event", "Glucose " + string(e.unit)}, delimiter)}, rows...)
	}
	return lines(rows...)
}

// What is written in any export is read back, with the mapping told or, where
// the file can decide everything, guessed.
func TestReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e := drawExport(t)
		list := drawReadings(t, e.unit, e.zone)
		m := Mapping{Delimiter: e.delimiter, Decimal: e.decimal, TimeColumn: "2", TimeLayout: e.layout, GlucoseColumn: "4", Unit: e.unit, Lowest: 0.1, Highest: 999}
		if rapid.Bool().Draw(t, "guess") {
			m = Mapping{Unit: e.unit, Lowest: 0.1, Highest: 999}
			if strings.Contains(e.layout, "d/M") || strings.Contains(e.layout, "M/d") || strings.Contains(e.layout, "dd-MM") || strings.Contains(e.layout, "MM/dd") {
				m.TimeLayout = e.layout // a day or two may be read either way
			}
		}
		content := e.write(list)
		unit := rapid.SampledFrom([]Unit{MgdL, MmolL}).Draw(t, "study's unit")
		r, err := Read(folder("x.csv", content), "readings", m, Study{Unit: unit, Zone: e.zone})
		if err != nil {
			t.Fatalf("%v\n%s", err, content)
		}
		for i := range list {
			list[i].Glucose = Convert(list[i].Glucose, e.unit, unit)
		}
		for i, x := range r.Readings {
			if x.Limit != NotLimited {
				r.Readings[i].Glucose = 0
			}
		}
		diff := cmp.Diff(list, r.Readings, cmpopts.EquateApprox(1e-12, 0), cmpopts.IgnoreFields(Reading{}, "File", "Line"))
		if diff != "" {
			t.Fatalf("(-want +got)\n%s\n%s", diff, content)
		}
		if f := r.Files[0]; f.NewestFirst != e.newestFirst || f.Readings != len(list) || math.Abs(float64(f.Skipped-len(list)/7)) > 1 {
			t.Fatalf("report %+v", f)
		}
	})
}
