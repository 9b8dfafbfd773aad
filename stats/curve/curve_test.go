package curve

import (
	"encoding/csv"
	"errors"
	"math"
	"os"
	"strconv"
	"testing"

	"pgregory.net/rapid"
)

func near(got, want, tolerance float64) bool { return math.Abs(got-want) <= tolerance }

func points(minutes, glucose []float64) []Point {
	var ps []Point
	for i := range minutes {
		ps = append(ps, Point{minutes[i], glucose[i]})
	}
	return ps
}

// fingerSticks is the window of curves sampled every 15 or 30 minutes.
var fingerSticks = Window{BaselineFrom: -15, Length: 120, MaxGap: 45}

// The four curves of the worked example in FAO Food and Nutrition Paper 66
// (1998), chapter 4, in mmol/L. The attribution is from memory; the areas
// printed there, remembered as 114, 155, 179 and 93, are reproduced.
var workedExample = []struct {
	name             string
	glucose          []float64
	area, rise, peak float64
}{
	{"S1", []float64{4.3, 6.3, 7.9, 5.3, 4.1, 4.6, 4.9}, 113.95, 3.6, 30},
	{"S2", []float64{4.0, 6.0, 6.7, 5.5, 5.3, 5.0, 4.2}, 155.25, 2.7, 30},
	{"S3", []float64{4.1, 5.8, 8.0, 6.5, 5.9, 4.8, 3.9}, 179.166666667, 3.9, 30},
	{"T", []float64{4.0, 5.0, 5.8, 5.4, 4.8, 4.2, 4.4}, 93.0, 1.8, 30},
}

var isoMinutes = []float64{0, 15, 30, 45, 60, 90, 120} // ISO 26642:2010

func TestWorkedExampleOfIncrementalArea(t *testing.T) {
	for _, c := range workedExample {
		f, err := Measure(points(isoMinutes, c.glucose), fingerSticks)
		if err != nil {
			t.Fatal(err)
		}
		if !near(f.IncrementalArea, c.area, 1e-9) {
			t.Errorf("%s: area %.12g, want %.12g", c.name, f.IncrementalArea, c.area)
		}
		if !near(f.PeakRise, c.rise, 1e-12) || f.TimeToPeak != c.peak {
			t.Errorf("%s: peak rise %g at %g min, want %g at %g", c.name, f.PeakRise, f.TimeToPeak, c.rise, c.peak)
		}
		if f.Coverage != 1 || f.LargestGap != 0 {
			t.Errorf("%s: coverage %g, gap %g, want a whole curve", c.name, f.Coverage, f.LargestGap)
		}
	}
}

// Two wrong methods give 112.5 (net area) and 117.0 (clip to zero, then
// trapezoids) on S1, which dips below its baseline and comes back.
func TestIncrementalAreaIsNeitherNetNorClipped(t *testing.T) {
	g := workedExample[0].glucose
	net, clipped := 0.0, 0.0
	for i := 1; i < len(g); i++ {
		h, a, c := isoMinutes[i]-isoMinutes[i-1], g[i-1]-g[0], g[i]-g[0]
		net += h * (a + c) / 2
		clipped += h * (math.Max(a, 0) + math.Max(c, 0)) / 2
	}
	if !near(net, 112.5, 1e-9) || !near(clipped, 117.0, 1e-9) {
		t.Fatalf("the wrong methods give %g and %g, want 112.5 and 117.0", net, clipped)
	}
	f, err := Measure(points(isoMinutes, g), fingerSticks)
	if err != nil {
		t.Fatal(err)
	}
	if near(f.IncrementalArea, net, 0.5) || near(f.IncrementalArea, clipped, 0.5) {
		t.Errorf("area %g is that of a wrong method", f.IncrementalArea)
	}
}

// Six people's glucose after six meals each: Hand and Crowder 1996, Practical
// Longitudinal Data Analysis, as shipped with R's nlme; features computed in R
// by testdata/reference/glucose_meals.R.
func TestSixPeoplesMealsAgainstR(t *testing.T) {
	raw := readCSV(t, "../../testdata/reference/glucose_meals.csv")
	curves := map[[2]string][]Point{}
	for _, row := range raw {
		if row["conc_mmol_l"] == "" {
			continue
		}
		key := [2]string{row["subject"], row["meal"]}
		curves[key] = append(curves[key], Point{number(t, row["minutes"]), number(t, row["conc_mmol_l"])})
	}
	want := readCSV(t, "../../testdata/reference/glucose_meals_features.csv")
	if len(want) != 36 {
		t.Fatalf("%d reference curves, want 36", len(want))
	}
	for _, row := range want {
		f, err := Measure(curves[[2]string{row["subject"], row["meal"]}], fingerSticks)
		if err != nil {
			t.Fatalf("%v: %v", row, err)
		}
		for _, c := range []struct {
			name string
			got  float64
		}{{"baseline", f.Baseline}, {"peak_rise", f.PeakRise}, {"time_of_peak", f.TimeToPeak}, {"iauc", f.IncrementalArea}} {
			if !near(c.got, number(t, row[c.name]), 1e-9) {
				t.Errorf("subject %s, %s: %s %.12g, R has %s", row["subject"], row["meal"], c.name, c.got, row[c.name])
			}
		}
	}
}

// The rows that checks of this kind usually quote from the same data, computed
// with R 4.2.2: baseline, peak rise, time of peak, area.
func TestQuotedMealsOfSubjectOne(t *testing.T) {
	f, err := Measure(points([]float64{-15, 0, 30, 60, 90, 120, 180}, []float64{4.90, 4.50, 7.84, 5.46, 5.08, 4.32, 3.91}), fingerSticks)
	if err != nil {
		t.Fatal(err)
	}
	if !near(f.Baseline, 4.700, 1e-12) || !near(f.PeakRise, 3.140, 1e-12) || f.TimeToPeak != 30 || !near(f.IncrementalArea, 122.72964, 5e-6) {
		t.Errorf("subject 1 at 10 am: %+v, want 4.700, 3.140, 30, 122.72964", f)
	}
	if !f.HasTwoHour || f.TwoHour != 4.32 {
		t.Errorf("2-hour value %g, want 4.32", f.TwoHour)
	}
}

func TestGaps(t *testing.T) {
	w := Window{BaselineFrom: -15, Length: 120, MaxGap: 20}
	var ps []Point
	for m := -15.0; m <= 130; m += 5 {
		if m > 30 && m < 60 { // 30 minutes are missing
			continue
		}
		ps = append(ps, Point{m, 100 + math.Max(0, 30-math.Abs(m-45))})
	}
	f, err := Measure(ps, w)
	if err != nil {
		t.Fatal(err)
	}
	if !near(f.Coverage, 90.0/120, 1e-12) || f.LargestGap != 30 {
		t.Errorf("coverage %g and gap %g, want 0.75 and 30", f.Coverage, f.LargestGap)
	}
	// Under the curve min(30-|m-45|) from 15 to 30 and from 60 to 75 lie two
	// triangles of 15 × 15 / 2; nothing is made up in the gap.
	if !near(f.IncrementalArea, 225, 1e-9) {
		t.Errorf("area %g, want 225: a gap must not be interpolated", f.IncrementalArea)
	}
	if f, _ = Measure(ps, Window{BaselineFrom: -15, Length: 120, MaxGap: 30}); f.Coverage != 1 {
		t.Errorf("coverage %g with a gap as long as is allowed, want 1", f.Coverage)
	}
}

func TestEndsOfTheWindowAreInterpolated(t *testing.T) {
	w := Window{BaselineFrom: -15, Length: 120, MaxGap: 20}
	var ps []Point
	for m := -13.0; m < 125; m += 5 { // never at 0 or at 120
		ps = append(ps, Point{m, 100 + math.Max(0, m)})
	}
	f, err := Measure(ps, w)
	if err != nil {
		t.Fatal(err)
	}
	// The curve is 100 at −3 and 102 at 2, so 101.2 at 0; the baseline is 100.
	want := 2*(1.2+2)/2 + (120.0*120-2*2)/2
	if !near(f.IncrementalArea, want, 1e-9) || f.Coverage != 1 || !near(f.TwoHour, 220, 1e-9) {
		t.Errorf("area %g, coverage %g, 2 h %g; want %g, 1, 220", f.IncrementalArea, f.Coverage, f.TwoHour, want)
	}
	f, _ = Measure(ps[:len(ps)-1], w) // ends at 117
	if f.HasTwoHour || !near(f.Coverage, 117.0/120, 1e-12) {
		t.Errorf("without a reading after the window: %+v", f)
	}
}

func TestUnmeasurableCurves(t *testing.T) {
	w := Window{BaselineFrom: -15, Length: 120, MaxGap: 20}
	for _, c := range []struct {
		ps   []Point
		want error
	}{
		{nil, ErrNoReadings},
		{[]Point{{-20, 100}, {5, 100}}, ErrNoBaseline},
		{[]Point{{-5, 100}, {125, 100}}, ErrNoReadings},
	} {
		if _, err := Measure(c.ps, w); !errors.Is(err, c.want) {
			t.Errorf("%v: %v, want %v", c.ps, err, c.want)
		}
	}
}

// What must hold for every curve: raising it changes no rise and no area,
// stretching it stretches them, and the area is never negative.
func TestShiftAndScale(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var ps []Point
		minute := -15.0
		for minute < 140 {
			ps = append(ps, Point{minute, rapid.Float64Range(40, 300).Draw(t, "glucose")})
			minute += rapid.Float64Range(1, 30).Draw(t, "step")
		}
		w := Window{BaselineFrom: -15, Length: 120, MaxGap: 20}
		shift, scale := rapid.Float64Range(-20, 20).Draw(t, "shift"), rapid.Float64Range(0.1, 3).Draw(t, "scale")
		var moved []Point
		for _, p := range ps {
			moved = append(moved, Point{p.Minute, shift + scale*p.Glucose})
		}
		f, err := Measure(ps, w)
		g, err2 := Measure(moved, w)
		if (err == nil) != (err2 == nil) {
			t.Fatalf("errors differ: %v, %v", err, err2)
		}
		if err != nil {
			return
		}
		if f.IncrementalArea < 0 || f.Coverage < 0 || f.Coverage > 1+1e-12 {
			t.Fatalf("impossible features %+v", f)
		}
		if !near(g.PeakRise, scale*f.PeakRise, 1e-6) || !near(g.IncrementalArea, scale*f.IncrementalArea, 1e-4) || g.TimeToPeak != f.TimeToPeak {
			t.Fatalf("shifted by %g and scaled by %g: %+v became %+v", shift, scale, f, g)
		}
	})
}

func number(t *testing.T, text string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// readCSV reads a table with a header, # comments left out.
func readCSV(t *testing.T, path string) []map[string]string {
	t.Helper()
	file, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	reader := csv.NewReader(file)
	reader.Comment = '#'
	records, err := reader.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var rows []map[string]string
	for _, record := range records[1:] {
		row := map[string]string{}
		for i, name := range records[0] {
			row[name] = record[i]
		}
		rows = append(rows, row)
	}
	return rows
}
