package protocol

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"mealtrial/protocol/readings"
)

// oneCurve is a study of one test with a reading every 15 min from −15 on.
func oneCurve(t *testing.T, endpoint string, glucose []float64, limits map[int]readings.Limit) (*Folder, Response) {
	t.Helper()
	s := study(t, "endpoint: {"+endpoint+"}\nfoods: [bread]\noutcomes: [{id: liking, kind: rating}]\n")
	log, err := ParseLog([]byte("---\n{date: 2027-01-11, time: \"07:30\", food: bread, outcomes: {liking: 7}}\n"), s)
	if err != nil {
		t.Fatal(err)
	}
	f := &Folder{Study: s, Log: log}
	bite, _ := log.Tests[0].Date.At(log.Tests[0].Time, s.Zone)
	for i, g := range glucose {
		if !math.IsNaN(g) {
			f.Recording.Readings = append(f.Recording.Readings, readings.Reading{Time: bite.Add(time.Duration(15*(i-1)) * time.Minute), Glucose: g, Limit: limits[i]})
		}
	}
	responses, problems := f.Responses()
	if problems != nil {
		t.Fatal(problems)
	}
	return f, responses[0]
}

// What stands at a limit of the sensor is a bound: more glucose makes more area, mean
// and time above, hides when the peak was, and a level below the limit is passed in
// any case.
func TestBoundsOfTheFurtherEndpoints(t *testing.T) {
	high := []float64{100, 100, 200, 400, 400, 250, 160, 120, 95, 90}
	low := []float64{100, 100, 120, 160, 120, 60, 40, 40, 90, 100}
	over := map[int]readings.Limit{3: readings.AboveRange, 4: readings.AboveRange}
	under := map[int]readings.Limit{6: readings.BelowRange, 7: readings.BelowRange}
	base := map[int]readings.Limit{0: readings.AboveRange}
	for _, c := range []struct {
		endpoint string
		glucose  []float64
		limits   map[int]readings.Limit
		want     Bound
	}{
		{"name: net_area", high, over, AtLeast},
		{"name: net_area", low, under, AtMost},
		{"name: net_area", high, base, AtMost},
		{"name: mean", high, over, AtLeast},
		{"name: mean", low, under, AtMost},
		{"name: mean", high, base, ""},
		{"name: time_of_peak", high, over, NotKnown},
		{"name: time_of_peak", low, under, ""},
		{"name: value_1h", high, over, ""},
		{"name: value_1h", low, map[int]readings.Limit{5: readings.BelowRange}, AtMost},
		{"name: value_2h", high, map[int]readings.Limit{9: readings.BelowRange}, AtMost},
		{"name: time_above, level: 140", high, over, ""},
		{"name: time_to_baseline", high, over, NotKnown},
		{"name: time_to_baseline", high, nil, ""},
		{"name: time_to_baseline", []float64{100, 100, 120, 140, 150, 150, 140, 130, 120, 110}, nil, AtLeast},
	} {
		f, r := oneCurve(t, c.endpoint, c.glucose, c.limits)
		if got := r.Bounds[f.Study.Endpoint.key()]; got != c.want {
			t.Errorf("%s, limits %v: %q, want %q", c.endpoint, c.limits, got, c.want)
		}
		if r.Counts() != (c.want == "") || (r.Value == nil) != (c.want == NotKnown) {
			t.Errorf("%s, limits %v: value %v, excluded %q", c.endpoint, c.limits, r.Value, r.Excluded)
		}
	}
}

// A curve that does not count takes nothing from what was noted of the test.
func TestOutcomesOfATestWithoutACurve(t *testing.T) {
	nan := math.NaN()
	f, r := oneCurve(t, "name: peak_rise", []float64{100, 100, 120, nan, nan, nan, nan, nan, nan, 100}, nil)
	if r.Counts() || len(r.Quality) == 0 || r.Quality[0].Name != LowCoverage {
		t.Fatalf("the curve counts: %+v", r)
	}
	o := f.outcomes([]Response{r})[0]
	if o.Tests != 1 || !close12(o.Foods[0].Mean, 7) {
		t.Errorf("%+v", o)
	}
}

// Each endpoint of one curve, by hand: baseline 100; 120, 160, 150, 130, 110, 100, 90,
// 90 at 15, 30, ... 120 min.
func TestEndpointsOfOneCurve(t *testing.T) {
	glucose := []float64{100, 100, 120, 160, 150, 130, 110, 100, 90, 90}
	for endpoint, want := range map[string]float64{
		"name: peak_rise": 60, "name: time_of_peak": 30, "name: value_1h": 130, "name: value_2h": 90, "name: time_to_baseline": 90,
		// Trapezoids of 15 min over 0, 20, 60, 50, 30, 10, 0, −10, −10.
		"name: net_area": 15 * (0/2.0 + 20 + 60 + 50 + 30 + 10 + 0 - 10 - 5), "name: iauc": 15 * (20 + 60 + 50 + 30 + 10),
		"name: mean": 100 + 15*(20+60+50+30+10-15)/120.0,
		// From 22.5 min, where 120 and 160 enclose 140, to 52.5, where 150 and 130 do.
		"name: time_above, level: 140": 30,
	} {
		_, r := oneCurve(t, endpoint, glucose, nil)
		if !close12(r.Value, want) {
			t.Errorf("%s: %v, want %g", endpoint, r.Value, want)
		}
	}
	_, r := oneCurve(t, "name: value_1h, smoothing: {median: 3}, secondary: [peak_rise, {name: time_above, level: 140}]", glucose, nil)
	// By the median of three the peak is 150.
	if !close12(r.Value, 130) || r.Secondary["peak_rise"] != 50 {
		t.Errorf("%v, %v", *r.Value, r.Secondary)
	}
	if text := fmt.Sprint(r.Secondary); !strings.Contains(text, "time_above_140") {
		t.Error(text)
	}
}
