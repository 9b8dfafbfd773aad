package protocol

import (
	"fmt"
	"math"
	"path"
	"slices"
	"sort"
	"time"

	"mealtrial/protocol/readings"
	"mealtrial/protocol/yamldoc"
	"mealtrial/stats/curve"
)

// A QualityFlag is something in a test that makes its number doubtful. It does not
// leave the test out unless the study file says so.
type QualityFlag struct {
	Name   FlagName `json:"name"`
	Reason string   `json:"reason"`
}

// A FlagName names a quality flag. The texts are those of the study file and part of
// the JSON contract.
type FlagName string

// The flags.
const (
	UnsteadyBaseline FlagName = "unsteady_baseline"
	UnusualBaseline  FlagName = "unusual_baseline"
	GapInWindow      FlagName = "gap"
	FirstDay         FlagName = "first_day"
	SharpDrop        FlagName = "sharp_drop"
	EatingInWindow   FlagName = "eating"
	ExerciseInWindow FlagName = "exercise"
	StartTime        FlagName = "start_time"
	PeakAtEdge       FlagName = "peak_at_edge"
	LowCoverage      FlagName = "coverage" // always leaves the test out
)

var flagNames = []string{string(UnsteadyBaseline), string(UnusualBaseline), string(GapInWindow), string(FirstDay), string(SharpDrop),
	string(EatingInWindow), string(ExerciseInWindow), string(StartTime), string(PeakAtEdge)}

// Thresholds of the quality flags. The defaults are common practice, no source.
type Thresholds struct {
	Slope    float64    // of the baseline, largest, glucose unit per minute
	Usual    float64    // distance of a baseline from the median of the others', largest, in robust SDs
	FirstDay float64    // minutes after a sensor is set
	Drop     float64    // depth of a sharp drop, smallest, glucose unit
	Shift    float64    // distance of the start of the rise from the usual one, largest, minutes
	LeaveOut []FlagName // flags that leave a test out
}

func defaultThresholds(unit readings.Unit) Thresholds {
	t := Thresholds{Slope: 1, Usual: 3, FirstDay: 24 * 60, Drop: 25, Shift: 20}
	if unit == readings.MmolL {
		t.Slope, t.Drop = 0.06, 1.4
	}
	return t
}

// qualityKeys are those of the flags in the study file.
var qualityKeys = []string{"baseline_slope", "baseline_usual", "first_day", "sharp_drop", "start_shift", "leave_out"}

func readThresholds(m map[string]yamldoc.Node, unit readings.Unit) Thresholds {
	t := defaultThresholds(unit)
	for _, field := range []struct {
		key, expected string
		to            *float64
	}{
		{"baseline_slope", fmt.Sprintf("the largest slope of a steady baseline, above zero, in %s per minute", unit), &t.Slope},
		{"baseline_usual", "how many robust SDs a baseline may lie from your usual one, above zero", &t.Usual},
		{"sharp_drop", fmt.Sprintf("the depth of a drop that is too sharp, above zero, in %s", unit), &t.Drop},
	} {
		if x, ok := m[field.key].Number(field.expected); ok {
			if *field.to = x; x <= 0 || x > 1000 {
				m[field.key].Reject(m[field.key].Found(), field.expected, "")
			}
		}
	}
	t.FirstDay = readUpTo(m["first_day"], t.FirstDay, 7*24*60)
	t.Shift = readUpTo(m["start_shift"], t.Shift, 120)
	for _, item := range m["leave_out"].List() {
		t.LeaveOut = append(t.LeaveOut, FlagName(item.OneOf(flagNames...)))
	}
	return t
}

// doubt flags a test, and leaves it out where the study file says so.
func (r *Response) doubt(s *Study, name FlagName, format string, args ...any) {
	reason := fmt.Sprintf(format, args...)
	r.Quality = append(r.Quality, QualityFlag{name, reason})
	if slices.Contains(s.Quality.Flags.LeaveOut, name) && r.Source != FromHand {
		r.Value, r.Source = nil, ""
		r.invalidate(reason)
		return
	}
	r.flag(reason)
}

// lowCoverage leaves out a test of whose window too little was measured.
func (r *Response) lowCoverage(reason string) {
	r.Quality = append(r.Quality, QualityFlag{LowCoverage, reason})
	r.invalidate(reason)
}

// flagQuality looks at every test whose curve was measured. What is usual is judged
// from the other tests.
func (f *Folder) flagQuality(all []Response) {
	onsets := make([]*float64, len(all))
	for i := range all {
		if all[i].curve != nil {
			onsets[i] = f.onset(f.Log.Tests[i], all[i].curve)
		}
	}
	baselines := make([]*Number, len(all))
	for i, r := range all {
		baselines[i] = r.Baseline
	}
	for i := range all {
		r, t := &all[i], f.Log.Tests[i]
		f.flagLogged(t, r)
		if r.curve == nil {
			continue
		}
		f.flagBaseline(r, baselines, i)
		f.flagSensor(t, r)
		f.flagStart(r, t, onsets, i)
	}
}

// flagLogged flags what the log says happened between the baseline and the end of the
// window, the meal itself apart.
func (f *Folder) flagLogged(t Test, r *Response) {
	e := f.Study.Endpoint
	for _, h := range t.Happened {
		after := float64(h.Time - t.Time)
		name := map[string]FlagName{Eating: EatingInWindow, Exercise: ExerciseInWindow}[h.What]
		if !t.HasTime || name == "" || after < -e.Baseline || after > e.Window {
			continue
		}
		when := fmt.Sprintf("%s min after the first bite", plain(after))
		if after < 0 {
			when = fmt.Sprintf("%s min before the first bite", plain(-after))
		}
		r.doubt(f.Study, name, "%s, %s: within the window", h.Words(), when)
	}
}

func (f *Folder) flagBaseline(r *Response, baselines []*Number, i int) {
	s := f.Study
	unit := s.Endpoint.GlucoseUnit
	if slope, _, n, ok := curve.BaselineSlope(r.curve.points, s.window()); ok && math.Abs(slope) > s.Quality.Flags.Slope {
		r.doubt(s, UnsteadyBaseline, "baseline unsteady: glucose was %s by %s %s a minute over %d readings before the first bite (more than %s)",
			map[bool]string{true: "rising", false: "falling"}[slope > 0], plain(math.Abs(slope)), unit, n, plain(s.Quality.Flags.Slope))
	}
	var others []float64
	for j, b := range baselines {
		if j != i && b != nil {
			others = append(others, float64(*b))
		}
	}
	const fewest = 5 // below it what is usual is not known
	if r.Baseline == nil || len(others) < fewest {
		return
	}
	middle, sd := robust(others)
	least := 5 * s.perUnit() // a person with very even baselines is not flagged for the sensor's noise
	if distance := math.Abs(float64(*r.Baseline) - middle); distance > s.Quality.Flags.Usual*math.Max(sd, least) {
		r.doubt(s, UnusualBaseline, "baseline outside your usual: %s %s, where the other tests lie around %s (SD %s, by the median distance)",
			plain(float64(*r.Baseline)), unit, plain(middle), plain(math.Max(sd, least)))
	}
}

// perUnit is the size of one mg/dL in the study's unit.
func (s *Study) perUnit() float64 { return readings.Convert(1, readings.MgdL, s.Endpoint.GlucoseUnit) }

// robust returns the median and 1.4826 times the median distance from it, which for
// normal values estimates the SD (Hampel 1974, JASA 69:383; from memory).
func robust(x []float64) (middle, sd float64) {
	middle = median(x)
	away := make([]float64, len(x))
	for i, v := range x {
		away[i] = math.Abs(v - middle)
	}
	return middle, 1.4826 * median(away)
}

func median(x []float64) float64 {
	sorted := slices.Clone(x)
	sort.Float64s(sorted)
	n := len(sorted)
	return (sorted[(n-1)/2] + sorted[n/2]) / 2
}

// flagSensor flags a sensor on its first day and drops as from pressure on it.
func (f *Folder) flagSensor(t Test, r *Response) {
	s := f.Study
	bite, _ := t.Date.At(t.Time, s.Zone)
	if set, ok := f.sensorSet(r.curve.sensor, bite); ok {
		if age := bite.Sub(set).Minutes(); age >= 0 && age < s.Quality.Flags.FirstDay {
			r.doubt(s, FirstDay, "the sensor's first day: it was %s h old (less than %s)", plain(math.Round(age/6)/10), plain(s.Quality.Flags.FirstDay/60))
		}
	}
	if dip, ok := curve.SharpDip(r.curve.points, -s.Endpoint.Baseline, s.Endpoint.Window, s.Quality.Flags.Drop); ok {
		r.doubt(s, SharpDrop, "sharp drop and recovery at %s min, as from pressure on the sensor: down %s and up %s %s", plain(dip.Minute), plain(dip.Fall), plain(dip.Climb), s.Endpoint.GlucoseUnit)
	}
}

// sensorSet returns when the sensor of a moment was set: as the plan says, else the
// first reading of a sensor that its file names; the first reading of a file shows
// only when the file begins.
func (f *Folder) sensorSet(name string, at time.Time) (set time.Time, ok bool) {
	if p := f.Study.Plan; p != nil {
		for _, x := range p.Sensors {
			if !at.Before(x.Start) && at.Before(x.end()) {
				return x.Start, true
			}
		}
	}
	for _, x := range f.Recording.Sensors {
		named := !slices.ContainsFunc(x.Files, func(file string) bool { return path.Base(file) == name })
		if name != "" && x.Name == name && named {
			return x.From, true
		}
	}
	return time.Time{}, false
}

const (
	beforeBite   = 120 // minutes before the first bite that are searched for the start of a rise
	leastRise    = 20  // mg/dL; a smaller rise shows no start. Common practice, no source
	usualOnset   = 10  // minutes after the first bite: what digestion and the sensor's lag take; common practice, no source
	fewestOnsets = 4   // other tests from which one's own is taken
)

// onset estimates when glucose began to rise, in minutes from the first bite.
func (f *Folder) onset(t Test, c *testCurve) *float64 {
	s := f.Study
	bite, _ := t.Date.At(t.Time, s.Zone)
	var points []curve.Point
	for _, x := range f.Recording.Between(bite.Add(-minutes(beforeBite)), bite.Add(minutes(s.Endpoint.Window))) {
		if x.Sensor == c.sensor && x.Limit == readings.NotLimited {
			points = append(points, curve.Point{Minute: x.Time.Sub(bite).Minutes(), Glucose: x.Glucose})
		}
	}
	at, ok := curve.Onset(curve.Smooth(points, curve.RunningMedian, 3, s.Quality.MaxGap), leastRise*s.perUnit())
	if !ok {
		return nil
	}
	return &at
}

// flagStart flags a rise that begins too far from where it begins in the other tests,
// and above all before the first bite. It suggests what may be wrong and changes
// nothing.
func (f *Folder) flagStart(r *Response, t Test, onsets []*float64, i int) {
	s := f.Study
	if onsets[i] == nil {
		return
	}
	var others []float64
	for j, o := range onsets {
		if j != i && o != nil {
			others = append(others, *o)
		}
	}
	usual := float64(usualOnset)
	if len(others) >= fewestOnsets {
		usual = median(others)
	}
	shift := *onsets[i] - usual
	if math.Abs(shift) <= s.Quality.Flags.Shift {
		return
	}
	const step = 5 // to which a suggestion is rounded
	suggested := t.Time + Clock(step*math.Round(shift/step))
	found := fmt.Sprintf("glucose begins to rise %s min after the first bite", plain(*onsets[i]))
	if *onsets[i] < 0 {
		found = fmt.Sprintf("glucose begins to rise %s min before the first bite", plain(-*onsets[i]))
	}
	r.doubt(s, StartTime, "start time does not fit the curve: %s, usually %s min after it; a first bite at %s would fit: look whether the clock or the log is wrong (nothing was changed)",
		found, plain(usual), (suggested+dayMinutes)%dayMinutes)
}

// fastingBefore is how many minutes before the window of a test are read as well: for
// the start of its rise, and for the floor.
const fastingBefore = 6 * 60
