package curve

import (
	"encoding/json"
	"math"
	"os"
	"testing"

	"pgregory.net/rapid"
)

// Theoph (12 people) and Indometh (6), as shipped with R: areas, mean, time above half
// the peak, time back, smoothing: testdata/reference/areas.R.
func TestAreasAndTimesAgainstR(t *testing.T) {
	data, err := os.ReadFile("../../testdata/reference/areas.json")
	if err != nil {
		t.Fatal(err)
	}
	var ref struct {
		Areas []struct {
			Set, Subject                            string
			From, To, Area, Net, Mean, Level, Above float64
			Back                                    *float64
		}
		Raw []struct {
			Set, Subject string
			T, Y         float64
		}
		Smooth struct {
			Raw, Median3 []float64
			Median5      []float64 `json:"median5_inside"`
			Mean3        []float64 `json:"mean3_inside"`
		}
	}
	if err := json.Unmarshal(data, &ref); err != nil {
		t.Fatal(err)
	}
	if len(ref.Areas) != 18 {
		t.Fatalf("%d curves", len(ref.Areas))
	}
	for _, r := range ref.Areas {
		var ps []Point
		for _, x := range ref.Raw {
			if x.Set == r.Set && x.Subject == r.Subject {
				ps = append(ps, Point{x.T - r.From, x.Y})
			}
		}
		w := Window{Length: r.To - r.From, MaxGap: 100}
		f, err := Measure(ps, w)
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range []struct {
			name      string
			got, want float64
		}{
			{"area", Area(ps), r.Area}, {"net", f.NetArea, r.Net}, {"mean", f.Mean, r.Mean}, {"above", TimeAbove(ps, w, r.Level), r.Above},
		} {
			if !near(c.got, c.want, 1e-9*math.Max(1, math.Abs(c.want))) {
				t.Errorf("%s %s: %s %.12g, R has %.12g", r.Set, r.Subject, c.name, c.got, c.want)
			}
		}
		at, back := TimeToBaseline(ps, w, f)
		switch {
		case f.PeakRise <= 0: // falls from the first value on: never above it
			if at != 0 || back != Back {
				t.Errorf("%s %s: back at %g, %d", r.Set, r.Subject, at, back)
			}
		case r.Back == nil:
			if back != NotBack || at != w.Length {
				t.Errorf("%s %s: back at %g, %d, R finds none", r.Set, r.Subject, at, back)
			}
		default:
			if back != Back || !near(at, *r.Back-r.From, 1e-6) {
				t.Errorf("%s %s: back at %g, %d, R has %g", r.Set, r.Subject, at, back, *r.Back-r.From)
			}
		}
	}
	var ps []Point
	for i, y := range ref.Smooth.Raw {
		ps = append(ps, Point{float64(i), y})
	}
	same := func(name string, got []Point, want []float64) {
		t.Helper()
		for i := range want {
			if !near(got[i].Glucose, want[i], 1e-12) {
				t.Errorf("%s: value %d is %g, R has %g", name, i, got[i].Glucose, want[i])
			}
		}
	}
	n := len(ps)
	same("median of 3", Smooth(ps, RunningMedian, 3, 2), ref.Smooth.Median3)
	same("median of 5", Smooth(ps, RunningMedian, 5, 2)[2:n-2], ref.Smooth.Median5)
	same("mean of 3", Smooth(ps, RunningMean, 3, 2)[1:n-1], ref.Smooth.Mean3)
}

// Subject 1 of Theoph has an area of 148.92 mg·h/L by linear trapezoids, the value
// that packages of noncompartmental analysis print (from memory, not looked up).
func TestPublishedAreaOfTheoph(t *testing.T) {
	hours := []float64{0, 0.25, 0.57, 1.12, 2.02, 3.82, 5.10, 7.03, 9.05, 12.12, 24.37}
	conc := []float64{0.74, 2.84, 6.57, 10.50, 9.66, 8.58, 8.36, 7.47, 6.89, 5.94, 3.28}
	if a := Area(points(hours, conc)); !near(a, 148.92, 0.005) {
		t.Errorf("area %g", a)
	}
}

// S1 of the worked example: net area 112.5 (see TestIncrementalAreaIsNeitherNetNorClipped),
// which dips below its baseline of 4.3 between 45 and 60 min: 5.3 to 4.1 crosses at 57.5.
func TestNetAreaAndReturnOfTheWorkedExample(t *testing.T) {
	ps := points(isoMinutes, workedExample[0].glucose)
	f, err := Measure(ps, fingerSticks)
	if err != nil {
		t.Fatal(err)
	}
	if !near(f.NetArea, 112.5, 1e-9) || !near(f.Mean, 4.3+112.5/120, 1e-9) || f.OneHour != 4.1 || !f.HasOneHour {
		t.Errorf("net %g, mean %g, at 1 h %g", f.NetArea, f.Mean, f.OneHour)
	}
	if at, back := TimeToBaseline(ps, fingerSticks, f); !near(at, 57.5, 1e-9) || back != Back {
		t.Errorf("back at %g, %d; want 57.5", at, back)
	}
	// Above the baseline from 0 to 57.5 and from 60 + 30·0.2/0.5 = 72 to 120.
	if above := TimeAbove(ps, fingerSticks, 4.3); !near(above, 57.5+48, 1e-9) {
		t.Errorf("above the baseline for %g min, want 105.5", above)
	}
}

func TestReturnThatIsNotSeen(t *testing.T) {
	w := Window{BaselineFrom: -15, Length: 120, MaxGap: 20}
	ps := points([]float64{-10, 0, 15, 30, 45, 90, 105, 120}, []float64{90, 90, 120, 150, 120, 85, 84, 85})
	f, err := Measure(ps, w)
	if err != nil {
		t.Fatal(err)
	}
	if at, back := TimeToBaseline(ps, w, f); back != Unseen || at != 45 {
		t.Errorf("%g, %d: the way down lies in a gap", at, back)
	}
}

// Smoothing leaves straight lines and levels alone, and the median never leaves the
// range of the readings.
func TestSmoothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := 1 + 2*rapid.IntRange(0, 4).Draw(t, "half")
		slope := rapid.Float64Range(-2, 2).Draw(t, "slope")
		var straight, noisy []Point
		for m := 0.0; m < 100; m += 5 {
			straight = append(straight, Point{m, 100 + slope*m})
			noisy = append(noisy, Point{m, rapid.Float64Range(60, 200).Draw(t, "glucose")})
		}
		for _, by := range []Smoothing{RunningMean, RunningMedian, NoSmoothing} {
			for i, p := range Smooth(straight, by, n, 5) {
				if !near(p.Glucose, straight[i].Glucose, 1e-9) {
					t.Fatalf("%s of %d bends a line: %v", by, n, p)
				}
			}
			for i, p := range Smooth(noisy, by, n, 4.9) { // every step is a gap
				if p != noisy[i] {
					t.Fatalf("smoothed over a gap: %v", p)
				}
			}
		}
	})
	defer func() {
		if recover() == nil {
			t.Error("an even span: no panic")
		}
	}()
	Smooth(nil, RunningMean, 4, 5)
}

// The slope of a least-squares line: R lm(c(90, 92, 91, 95) ~ c(-15, -10, -5, 0)) has
// slope 0.28 and residual SD 1.449137675.
func TestBaselineSlope(t *testing.T) {
	slope, sd, n, ok := BaselineSlope(points([]float64{-15, -10, -5, 0, 5}, []float64{90, 92, 91, 95, 130}), Window{BaselineFrom: -15})
	if !ok || n != 4 || !near(slope, 0.28, 1e-12) || !near(sd, 1.449137675, 1e-9) {
		t.Errorf("slope %g, SD %g of %d", slope, sd, n)
	}
}
