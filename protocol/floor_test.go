package protocol

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"
	"time"

	"mealtrial/protocol/readings"
	"mealtrial/stats/curve"
)

// lm, emmeans, t.test and a simulation: testdata/reference/floor.R.
func TestFloorAgainstR(t *testing.T) {
	data, err := os.ReadFile("../testdata/reference/floor.json")
	if err != nil {
		t.Fatal(err)
	}
	var ref struct {
		Cases []struct {
			Rows []struct {
				Food  string
				Block int
				Y     float64
			}
			Blank                  []float64
			Mean, Low, High, Upper float64
			Foods                  []struct {
				Food                  string
				Difference, Low, High float64
			}
		}
		Simulated struct{ SD, Mean, P95, Error float64 }
	}
	if err := json.Unmarshal(data, &ref); err != nil {
		t.Fatal(err)
	}
	for n, c := range ref.Cases {
		var rows []row
		for _, r := range c.Rows {
			rows = append(rows, row{r.Food, r.Block, r.Y})
		}
		for i, y := range c.Blank {
			rows = append(rows, row{"water", i%3 + 1, y})
		}
		a := analyseRows(t, "foods: [{id: wheat, role: reference}, lupin, {id: water, role: blank}]\n", rows)
		o := a.Floor
		if o == nil || o.Source != FromBlanks || !close12(o.Mean, c.Mean) || !close12(o.Low, c.Low) || !close12(o.High, c.High) || !close12(o.Upper, c.Upper) {
			t.Fatalf("case %d: %+v, R has %g, %g to %g, upper %g", n, o, c.Mean, c.Low, c.High, c.Upper)
		}
		for i, want := range c.Foods {
			for _, got := range o.Foods {
				if got.Food == want.Food && !(close12(got.Difference, want.Difference) && close12(got.Low, want.Low) && close12(got.High, want.High)) {
					t.Errorf("case %d: food %d: %v %v %v, R has %+v", n, i, *got.Difference, *got.Low, *got.High, want)
				}
			}
		}
		if len(o.Foods) != 2 {
			t.Errorf("case %d: %d foods", n, len(o.Foods))
		}
	}
	// The peak rise of nothing, with noise of 4 mg/dL: nearly 8 on average, 12 to 13 at
	// the 95th percentile.
	w := curve.Window{BaselineFrom: -15, Length: 120, MaxGap: 20}
	got := curve.NoiseFloor(ref.Simulated.SD, 5, w, 40_000, 1, func(points []curve.Point) float64 {
		f, err := curve.Measure(points, w)
		if err != nil {
			t.Fatal(err)
		}
		return f.PeakRise
	})
	if math.Abs(got.Mean-ref.Simulated.Mean) > 4*math.Hypot(got.Error, ref.Simulated.Error) || math.Abs(got.P95-ref.Simulated.P95) > 0.15 {
		t.Errorf("mean %.3f and 95th percentile %.3f, R has %.3f and %.3f", got.Mean, got.P95, ref.Simulated.Mean, ref.Simulated.P95)
	}
	if again := curve.NoiseFloor(4, 5, w, 100, 7, func(p []curve.Point) float64 { return p[0].Glucose }); again != curve.NoiseFloor(4, 5, w, 100, 7, func(p []curve.Point) float64 { return p[0].Glucose }) {
		t.Error("the same seed gives another floor")
	}
}

// noisy is a folder with two tests a food whose sensor shows a level with noise of SD 4
// from so many minutes before each test, and after a bite of bread a rise of 60.
func noisy(t *testing.T, before int, blank bool) *Folder {
	t.Helper()
	role := ""
	if blank {
		role = ", role: blank"
	}
	s := study(t, "foods: [{id: bread, role: reference}, {id: water"+role+"}]\n")
	random := rand.New(rand.NewPCG(20270111, 3))
	var log strings.Builder
	f := &Folder{Study: s}
	for i := range 10 {
		food := []string{"bread", "water"}[i%2]
		date := Date(20000 + 2*i)
		fmt.Fprintf(&log, "---\n{date: %s, time: \"07:30\", food: %s}\n", date, food)
		bite, _ := date.At(7*60+30, s.Zone)
		for m := -before; m <= 120; m += 5 {
			g := 90 + 4*random.NormFloat64()
			if food == "bread" && m > 10 {
				g += 60 * math.Exp(-math.Pow(float64(m-45)/25, 2))
			}
			f.Recording.Readings = append(f.Recording.Readings, readings.Reading{Time: bite.Add(time.Duration(m) * time.Minute), Glucose: g})
		}
	}
	var err error
	if f.Log, err = ParseLog([]byte(log.String()), s); err != nil {
		t.Fatal(err)
	}
	return f
}

// A food whose whole interval lies below a day without food is not called the same as
// it, and a floor of quiet stretches is not called water.
func TestBelowTheFloor(t *testing.T) {
	f := noisy(t, 360, false)
	for i := range f.Recording.Readings {
		r := &f.Recording.Readings[i]
		if r.Time.In(f.Study.Zone).Hour() == 7 && r.Time.In(f.Study.Zone).Minute() > 30 || r.Time.In(f.Study.Zone).Hour() > 7 {
			r.Glucose = 60 + 0.01*r.Glucose // far below the baseline: hardly any rise
		}
	}
	responses, problems := f.Responses()
	if problems != nil {
		t.Fatal(problems)
	}
	for _, o := range f.Floor(responses).Foods {
		if *o.High >= 0 || o.Text != "below a stretch without food" {
			t.Errorf("%s: %g to %g, %q", o.Food, *o.Low, *o.High, o.Text)
		}
	}
}

// Blank tests, quiet stretches and the noise itself agree on what nothing gives, and
// none of them tells water from it.
func TestThreeWaysToTheFloor(t *testing.T) {
	for _, c := range []struct {
		before int
		blank  bool
		source FloorSource
	}{{20, true, FromBlanks}, {360, false, FromFasting}, {20, false, FromNoise}} {
		f := noisy(t, c.before, c.blank)
		responses, problems := f.Responses()
		if problems != nil {
			t.Fatal(problems)
		}
		o := f.Floor(responses)
		if o == nil || o.Source != c.source {
			t.Fatalf("%+v, want %s", o, c.source)
		}
		// Simulated with SD 4: 7.9 on average, 12.6 at the 95th percentile (floor.R).
		if *o.Mean < 6 || *o.Mean > 10 || *o.Upper < 10 || *o.Upper > 17 {
			t.Errorf("%s: mean %g, upper %g", c.source, *o.Mean, *o.Upper)
		}
		bread := o.Foods[0]
		if c.source != FromNoise && !bread.Distinguishable {
			t.Errorf("%s: bread %+v", c.source, bread)
		}
		if !c.blank {
			if water := o.Foods[1]; water.Distinguishable || c.source == FromFasting && water.Text != "not distinguishable from a stretch without food" {
				t.Errorf("%s: water %+v", c.source, water)
			}
		}
		f.FlagFloor(responses)
		for _, r := range responses {
			if r.Food == "bread" && r.Small {
				t.Errorf("%s: bread flagged: %v", c.source, r.Flags)
			}
		}
	}
}

// The interval of a food against days without food holds the truth as often as it says,
// with spreads that differ by a factor of three, both ways: 5000 invented studies of
// four tests each, the spread of foods on eleven degrees of freedom.
func TestFloorIntervalHoldsItsLevel(t *testing.T) {
	const studies, level = 5000, 0.95
	for _, sd := range [][2]float64{{6, 2}, {2, 6}, {4, 4}} {
		random := rand.New(rand.NewPCG(5, uint64(sd[0])))
		held := 0
		for range studies {
			food, square := 0.0, 0.0
			for range 4 {
				food += sd[0] * random.NormFloat64() / 4
			}
			for range 11 {
				x := sd[0] * random.NormFloat64()
				square += x * x / 11
			}
			blank := make([]float64, 4)
			for i := range blank {
				blank[i] = sd[1] * random.NormFloat64()
			}
			if new(Floor).limits(food-mean(blank), math.Sqrt(square/4), 11, blank, level).Contains(0) {
				held++
			}
		}
		// The approximation of Satterthwaite is good to about a point at these sizes.
		if share := float64(held) / studies; share < 0.935 || share > 0.965 {
			t.Errorf("SDs %v: %.4f of the intervals hold the truth", sd, share)
		}
	}
}
