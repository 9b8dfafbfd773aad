package protocol

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"mealtrial/protocol/readings"
)

// curveFrom makes readings from the first bite on, each quarter of an hour from
// minute −15: 90, <=40, >=400, and < or > for a bound without a number.
func curveFrom(t *testing.T, bite time.Time, sensor, text string) []readings.Reading {
	t.Helper()
	var list []readings.Reading
	for i, cell := range strings.Fields(text) {
		r := readings.Reading{Time: bite.Add(time.Duration(15*(i-1)) * time.Minute), Sensor: sensor}
		switch cell[0] {
		case '<':
			r.Limit = readings.BelowRange
		case '>':
			r.Limit = readings.AboveRange
		}
		if number := strings.TrimLeft(cell, "<=>"); number != "" {
			if _, err := fmt.Sscan(number, &r.Glucose); err != nil {
				t.Fatal(err)
			}
		}
		list = append(list, r)
	}
	return list
}

// oneTest is a study of one test in an hour's window.
func oneTest(t *testing.T, settings string) (*Folder, time.Time) {
	t.Helper()
	study, err := ParseStudy([]byte("foods: [{id: wheat, role: reference}]\n" + settings + "\n"))
	if err != nil {
		t.Fatal(err)
	}
	log, err := ParseLog([]byte("---\n{date: 2027-01-11, time: \"07:30\", food: wheat}\n"), study)
	if err != nil {
		t.Fatal(err)
	}
	return &Folder{Study: study, Log: log}, time.Date(2027, 1, 11, 7, 30, 0, 0, time.UTC)
}

// By hand: what a true value beyond each bound does to each number.
func TestBounds(t *testing.T) {
	for _, c := range []struct {
		name, curve         string
		peak, iauc          float64
		bounds              map[string]Bound
		excludedPeak, areas string // why the test is left out with either endpoint; "" for counted
	}{
		{"no bound", "90 90 120 110 100 95", 30, 937.5, nil, "", ""},
		{"peak at the limit", "90 90 >=400 300 200 100", 310, 9525, map[string]Bound{"peak_rise": AtLeast, "iauc": AtLeast},
			"peak rise is at least 310 mg/dL, glucose was at the upper limit of what the sensor reports at 07:45 (400 mg/dL)",
			"incremental area is at least 9525 mg/dL·min, glucose was at the upper limit of what the sensor reports at 07:45 (400 mg/dL)"},
		{"low beneath the baseline is no matter", "90 90 80 <=40 85 88", 0, 0, nil, "", ""},
		{"low after a peak", "90 90 120 <=40 85 88", 30, 309.375, map[string]Bound{"iauc": AtMost}, "",
			"incremental area is at most 310 mg/dL·min, glucose was at the lower limit of what the sensor reports at 08:00 (40 mg/dL)"},
		{"nothing but lows", "50 50 <=40 <=40 <=40 <=40", 0, 0, nil, "", ""},
		{"low baseline", "<=40 <=40 120 110 100 95", 80, 3562.5, map[string]Bound{"baseline": AtMost, "peak_rise": AtLeast, "iauc": NotKnown},
			"peak rise is at least 80 mg/dL, glucose was at the lower limit of what the sensor reports at 07:15 (40 mg/dL)", "incremental area is not known, glucose was at the lower limit of what the sensor reports at 07:15 (40 mg/dL)"},
		{"high throughout", ">=400 >=400 >=400 >=400 390 380", 0, 0, map[string]Bound{"baseline": AtLeast, "peak_rise": NotKnown, "iauc": NotKnown},
			"peak rise is not known, glucose was at the upper limit of what the sensor reports at 07:15 (400 mg/dL)", "incremental area is not known, glucose was at the upper limit of what the sensor reports at 07:15 (400 mg/dL)"},
		{"a bound without a number", "90 90 > 110 100 95", 20, 0, map[string]Bound{"peak_rise": NotKnown, "iauc": NotKnown},
			"peak rise is not known, glucose was at the upper limit of what the sensor reports at 07:45", "incremental area is not known, glucose was at the upper limit of what the sensor reports at 07:45"},
	} {
		t.Run(c.name, func(t *testing.T) {
			for endpoint, excluded := range map[string]string{"peak_rise": c.excludedPeak, "iauc": c.areas} {
				f, bite := oneTest(t, "endpoint: {name: "+endpoint+", window: 60m}")
				f.Recording.Readings = curveFrom(t, bite, "", c.curve)
				all, problems := f.Responses()
				r := all[0]
				if problems != nil || float64(*r.PeakRise) != c.peak || c.bounds["iauc"] != NotKnown && float64(*r.IAUC) != c.iauc {
					t.Errorf("%s: peak rise %v, area %v, %v; want %v, %v", endpoint, *r.PeakRise, *r.IAUC, problems, c.peak, c.iauc)
				}
				if diff := cmp.Diff(c.bounds, r.Bounds); diff != "" {
					t.Errorf("%s: %s", endpoint, diff)
				}
				if r.Excluded != excluded || r.Counts() != (excluded == "") {
					t.Errorf("%s: left out %q, want %q", endpoint, r.Excluded, excluded)
				}
			}
		})
	}
}

// A bound is rounded to its own side.
func TestBoundsAreRoundedOutwards(t *testing.T) {
	for _, c := range []struct {
		b    Bound
		x    float64
		want string
	}{{AtLeast, 300.9, "300"}, {AtMost, 300.1, "301"}, {"", 300.9, "301"}, {AtLeast, 12.39, "12.3"}, {AtMost, 1.231, "1.24"}, {AtLeast, 310, "310"}, {AtLeast, 0.1 + 0.2, "0.3"}, {AtMost, -5.39, "−5.39"}, {AtLeast, 0, "0"}} {
		if got := c.b.write(c.x); got != c.want {
			t.Errorf("%s %g is written %s, want %s", c.b, c.x, got, c.want)
		}
	}
}

// Declared in the study file, a bound counts for the value, but never one of
// which not even the side is known.
func TestLimitDeclaredAsBound(t *testing.T) {
	const declared = "endpoint: {name: peak_rise, window: 60m}\nquality: {at_limit: bound}"
	f, bite := oneTest(t, declared)
	f.Recording.Readings = curveFrom(t, bite, "", "90 90 >=400 300 200 100")
	all, _ := f.Responses()
	if r := all[0]; !r.Counts() || *r.Value != 310 || !strings.HasSuffix(strings.Join(r.Flags, "; "), "at 07:45 (400 mg/dL); counted as that, as declared; glucose above 250") {
		t.Errorf("%+v", r)
	}
	f, bite = oneTest(t, declared)
	f.Recording.Readings = curveFrom(t, bite, "", ">=400 >=400 >=400 >=400 390 380")
	if all, _ = f.Responses(); all[0].Counts() {
		t.Errorf("%+v", all[0])
	}
}

// A test is taken from one sensor, by nothing that depends on its values.
func TestWhichSensor(t *testing.T) {
	const whole, half, low = "90 90 120 110 100 95", "90 90 120", "80 80 95 92 90 85"
	for _, c := range []struct {
		name, settings, a, b, sensor, flag string
	}{
		{"the first by name", "", whole, low, "arm", "also worn: sensor leg, peak rise 15"},
		{"the one with enough of the window", "", half, low, "leg", "also worn: sensor arm, peak rise 30"},
		{"the one worn first", "arm later", whole, low, "leg", "also worn: sensor arm, peak rise 30"},
		{"the preferred one", "quality: {sensors: [leg]}", whole, low, "leg", "also worn: sensor arm, peak rise 30"},
		{"the preferred one has not enough", "quality: {sensors: [arm, leg]}", half, low, "leg", "also worn: sensor arm, peak rise 30"},
		{"one without a baseline", "quality: {sensors: [leg]}", whole, "", "arm", ""},
		{"at the limit", "", whole, "80 80 >=400 92 90 85", "arm", "also worn: sensor leg, peak rise at least 320"},
	} {
		t.Run(c.name, func(t *testing.T) {
			later := c.settings == "arm later"
			f, bite := oneTest(t, "endpoint: {name: peak_rise, window: 60m}\n"+strings.TrimPrefix(c.settings, "arm later"))
			if later {
				f.Recording.Sensors = []readings.SensorReport{{Name: "arm", From: bite.Add(-time.Hour)}, {Name: "leg", From: bite.Add(-2 * time.Hour)}}
			}
			f.Recording.Readings = append(curveFrom(t, bite, "arm", c.a), curveFrom(t, bite, "leg", c.b)...)
			sortByTime(f.Recording.Readings)
			all, problems := f.Responses()
			if r := all[0]; problems != nil || r.Sensor != c.sensor || !r.Counts() || !strings.Contains(strings.Join(r.Flags, "; "), c.flag) {
				t.Errorf("%+v %v", r, problems)
			}
		})
	}
}

func sortByTime(list []readings.Reading) {
	for i := range list {
		for k := i; k > 0 && list[k].Time.Before(list[k-1].Time); k-- {
			list[k], list[k-1] = list[k-1], list[k]
		}
	}
}
