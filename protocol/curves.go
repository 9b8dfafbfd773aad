package protocol

import (
	"fmt"
	"math"
	"slices"

	"mealtrial/stats"
	"mealtrial/stats/curve"
)

// Curves are the glucose curves of a study, laid against the first bite.
type Curves struct {
	Unit     string // of glucose
	From, To float64
	Level    float64 // of the band
	Method   string  // of the band
	Foods    []FoodCurves
}

// FoodCurves are the curves of one food.
type FoodCurves struct {
	Food, Name string
	Role       Role
	Tests      []Curve
	Mean       []BandPoint // of the tests that count, by time
	Counted    int         // tests that the mean is of
}

// A Curve is what the sensor read around one test.
type Curve struct {
	Date   Date
	Counts bool            // else the test was left out of the analysis
	Pieces [][]curve.Point // rise above the baseline; between pieces is a gap too long to join
}

// A BandPoint is the mean rise at one minute with its interval.
type BandPoint struct {
	Minute, Mean float64
	Tests        int
	Low, High    float64 // valid when HasBand
	HasBand      bool
}

// bandStep is the distance of the points of a mean curve, in minutes: that of the
// readings of most sensors. Common practice, no source.
const bandStep = 5

// Curves returns the curves of all tests with readings and a baseline: each as
// the rise above its own baseline, and by food the mean of the tests that count
// with its pointwise t interval. As in the analysis one spread is taken for all
// foods, the blank apart, here minute by minute: at a minute with N curves of k
// foods it has N − k degrees of freedom. Blocks are not taken out. A minute
// beyond the quality rule's longest gap is left open.
func (f *Folder) Curves() *Curves {
	s := f.Study
	out := &Curves{Unit: string(s.Endpoint.GlucoseUnit), From: -s.Endpoint.Baseline, To: s.Endpoint.Window, Level: s.Level,
		Method: "pointwise t interval of the mean at each minute by itself, one spread for all foods, blocks not taken out"}
	for _, food := range s.Foods {
		out.Foods = append(out.Foods, FoodCurves{Food: food.ID, Name: food.Name, Role: food.Role})
	}
	counted := make([][][]curve.Point, len(s.Foods))
	responses, _ := f.Responses()
	for i, r := range responses {
		points := f.rises(f.Log.Tests[i], r)
		if len(points) == 0 || r.food < 0 {
			continue
		}
		counts := r.Counts() && r.Source == FromReadings
		if counts {
			counted[r.food] = append(counted[r.food], points)
		}
		of := &out.Foods[r.food]
		of.Tests = append(of.Tests, Curve{Date: r.Date, Counts: counts, Pieces: pieces(points, s.window())})
	}
	for i := range out.Foods {
		out.Foods[i].Counted = len(counted[i])
	}
	for minute := out.From; minute <= out.To+1e-9; minute += bandStep {
		out.bandAt(minute, counted, s)
	}
	return out
}

// rises are the readings around a test minus its baseline.
func (f *Folder) rises(t Test, r Response) []curve.Point {
	if r.Baseline == nil || r.curve == nil || r.curve.limited != "" {
		return nil
	}
	bite, _ := t.Date.At(t.Time, f.Study.Zone)
	points := make([]curve.Point, len(r.curve.readings))
	for i, x := range r.curve.readings {
		points[i] = curve.Point{Minute: x.Time.Sub(bite).Minutes(), Glucose: x.Glucose}
	}
	for i := range points {
		points[i].Glucose -= float64(*r.Baseline)
	}
	return points
}

// pieces cuts a curve at its ends and at gaps that are too long to join.
func pieces(points []curve.Point, w curve.Window) (out [][]curve.Point) {
	var piece []curve.Point
	for _, p := range points {
		if p.Minute < w.BaselineFrom || p.Minute > w.Length {
			continue
		}
		if n := len(piece); n > 0 && p.Minute-piece[n-1].Minute > w.MaxGap {
			out, piece = append(out, piece), nil
		}
		piece = append(piece, p)
	}
	if len(piece) > 0 {
		out = append(out, piece)
	}
	return out
}

// bandAt adds the means at one minute.
func (c *Curves) bandAt(minute float64, counted [][][]curve.Point, s *Study) {
	values := make([][]float64, len(counted))
	for i, curves := range counted {
		for _, points := range curves {
			if x, ok := curve.ValueAt(points, minute, s.Quality.MaxGap); ok {
				values[i] = append(values[i], x)
			}
		}
	}
	for i := range values {
		n := len(values[i])
		if n == 0 {
			continue
		}
		p := BandPoint{Minute: minute, Mean: mean(values[i]), Tests: n}
		blank := s.Foods[i].Role == RoleBlank
		pool := slices.Clone(values)
		for j := range pool {
			if (s.Foods[j].Role == RoleBlank) != blank {
				pool[j] = nil
			}
		}
		if sd, df := pooledSD(pool); df > 0 && sd > 0 {
			limits := stats.TInterval(p.Mean, sd/math.Sqrt(float64(n)), float64(df), s.Level)
			p.Low, p.High, p.HasBand = limits.Low, limits.High, true
		}
		c.Foods[i].Mean = append(c.Foods[i].Mean, p)
	}
}

func mean(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}

// pooledSD is the spread within groups, with its degrees of freedom.
func pooledSD(groups [][]float64) (sd float64, df int) {
	sum := 0.0
	for _, g := range groups {
		if len(g) == 0 {
			continue
		}
		m := mean(g)
		for _, v := range g {
			sum += (v - m) * (v - m)
		}
		df += len(g) - 1
	}
	if df == 0 {
		return 0, 0
	}
	return math.Sqrt(sum / float64(df)), df
}

// Text says what a food's mean is of.
func (c FoodCurves) Text() string {
	left := len(c.Tests) - c.Counted
	if left == 0 {
		return Count(c.Counted, "test", "tests")
	}
	return fmt.Sprintf("%s, %d left out", Count(c.Counted, "test", "tests"), left)
}
