package protocol

import (
	"fmt"
	"math"
	"slices"

	"mealtrial/protocol/readings"
	"mealtrial/stats"
	"mealtrial/stats/curve"
)

// A Floor is what the endpoint gives on a day without food. A peak rise and an
// incremental area are not zero then, because the highest of many noisy readings lies
// above their mean.
type Floor struct {
	Source FloorSource `json:"source"`
	N      int         `json:"n"` // blank tests, or mornings; 0: simulated
	Mean   *Number     `json:"mean"`
	Low    *Number     `json:"low"` // t interval of the mean, at Level; nil where simulated
	High   *Number     `json:"high"`
	Level  Number      `json:"level"`
	// Upper is what a single test without food stays below, 95 times in 100: a
	// one-sided t bound of the next one, or the percentile of the simulation.
	Upper   *Number     `json:"upper_95"`
	NoiseSD *Number     `json:"noise_sd,omitempty"` // of the sensor, where simulated from it
	Seed    uint64      `json:"seed,omitempty"`
	Text    string      `json:"text"`
	Foods   []FloorFood `json:"foods"`
}

// A FloorSource is where a floor is from. The texts are part of the JSON contract.
type FloorSource string

// The sources, the best first.
const (
	FromBlanks  FloorSource = "blank tests"
	FromFasting FloorSource = "quiet stretches while fasting"
	FromNoise   FloorSource = "simulated sensor noise"
)

// A FloorFood holds one food against the floor: its mean in the model of the analysis
// less that without food, with a t interval for itself. The two have each a spread of
// their own, as a test without food scatters less.
type FloorFood struct {
	Food            string  `json:"food"`
	Tests           int     `json:"tests"`
	Mean            *Number `json:"mean"`
	Difference      *Number `json:"difference"`
	Low             *Number `json:"low"`
	High            *Number `json:"high"`
	Distinguishable bool    `json:"distinguishable"` // the interval lies above zero
	Small           int     `json:"tests_within_floor"`
	Text            string  `json:"text"`
}

const (
	floorUpper       = 0.95
	floorSimulations = 20_000
	floorSeed        = 1
	digestion        = 4 * 60 // minutes after the last food that are no fast yet; common practice, no source
	quietSlope       = 0.1    // mg/dL per minute that a quiet stretch may drift; common practice, no source
	fewestNoise      = 5      // degrees of freedom from which a noise SD is taken
)

// floored tells whether an endpoint has a floor: it is a rise above the baseline.
func (e EndpointName) floored() bool {
	return e == PeakRise || e == IncrementalArea || e == NetArea
}

// Floor estimates what a day without food gives, from the blank tests that count, else
// from quiet stretches of the same recordings before the tests, else by simulation from
// the sensor's noise. It is nil where there is nothing to estimate it from.
func (f *Folder) Floor(responses []Response) *Floor {
	s := f.Study
	if !s.Endpoint.Name.floored() {
		return nil
	}
	var blanks []float64
	for _, r := range responses {
		if r.Counts() && r.food >= 0 && s.Foods[r.food].Role == RoleBlank {
			blanks = append(blanks, float64(*r.Value))
		}
	}
	unit := s.Endpoint.Unit()
	out := &Floor{Level: Number(s.Level), Foods: []FloorFood{}}
	without := blanks
	if out.Source = FromBlanks; len(blanks) < 2 {
		without = f.fasting(responses)
		out.Source = FromFasting
	}
	if len(without) >= 2 && out.measured(without, s.Level) {
		out.Text = fmt.Sprintf("from %s it is %s %s (%s interval %s to %s); a single test without food stays below %s, 95 times in 100, if such tests are normal",
			floorCount(out.Source, out.N), rough(float64(*out.Mean)), unit, Percent(s.Level), rough(float64(*out.Low)), rough(float64(*out.High)), rough(float64(*out.Upper)))
	} else if !out.simulated(f, responses) {
		return nil
	}
	counted := slices.DeleteFunc(slices.Clone(responses), func(r Response) bool { return !r.Counts() || r.food < 0 || s.Foods[r.food].Role == RoleBlank })
	if len(counted) == 0 {
		return out
	}
	m := newModels(s, counted)
	for i, food := range s.Foods {
		if food.Role != RoleBlank {
			out.Foods = append(out.Foods, out.against(s, i, m, without))
		}
	}
	return out
}

func floorCount(source FloorSource, n int) string {
	if source == FromBlanks {
		return Count(n, "blank test", "blank tests")
	}
	return "quiet stretches of " + Count(n, "morning", "mornings") + ", fasting"
}

// measured fills in the mean of values without food; not ok where they do not differ.
func (o *Floor) measured(x []float64, level float64) bool {
	sd, df := pooledSD([][]float64{x})
	if !(sd > 0) {
		return false
	}
	n := float64(len(x))
	m := mean(x)
	limits := stats.TInterval(m, sd/math.Sqrt(n), float64(df), level)
	o.N, o.Mean, o.Low, o.High = len(x), some(m), some(limits.Low), some(limits.High)
	o.Upper = some(m + stats.TQuantile(floorUpper, float64(df))*sd*math.Sqrt(1+1/n))
	return true
}

// fasting takes the endpoint from stretches as long as a test in the fast before each
// test, where glucose was quiet, and returns the mean of each morning.
func (f *Folder) fasting(responses []Response) (mornings []float64) {
	s := f.Study
	fast := float64(defaultFast)
	if s.Plan != nil {
		fast = s.Plan.Fast
	}
	reach := math.Min(fastingBefore, fast-digestion)
	for i, r := range responses {
		if r.curve == nil {
			continue
		}
		bite, _ := r.Date.At(f.Log.Tests[i].Time, s.Zone)
		near := f.Recording.Between(bite.Add(-minutes(reach)), bite)
		near = slices.DeleteFunc(slices.Clone(near), func(x readings.Reading) bool { return x.Sensor != r.curve.sensor })
		var values []float64
		for start := s.Endpoint.Window; start+s.Endpoint.Baseline <= reach; start += s.Endpoint.Window + s.Endpoint.Baseline {
			if x, ok := s.quiet(near, bite.Add(-minutes(start)).Unix()); ok {
				values = append(values, x)
			}
		}
		if len(values) > 0 {
			mornings = append(mornings, mean(values))
		}
	}
	return mornings
}

// quiet takes the endpoint as if a first bite had been at a moment; not ok where
// readings do not cover the stretch, reach a limit of the sensor, or drift or drop too
// much.
func (s *Study) quiet(near []readings.Reading, bite int64) (x float64, ok bool) {
	w := s.window()
	var points []curve.Point
	for _, r := range near {
		if m := float64(r.Time.Unix()-bite) / 60; m >= w.BaselineFrom && m <= w.Length {
			if r.Limit != readings.NotLimited {
				return 0, false
			}
			points = append(points, curve.Point{Minute: m, Glucose: r.Glucose})
		}
	}
	points = s.smoothed(points)
	features, err := curve.Measure(points, w)
	if err != nil || features.Coverage < s.Quality.MinCoverage {
		return 0, false
	}
	slope, ok := curve.DriftOf(points, w.BaselineFrom, w.Length)
	if _, dip := curve.SharpDip(points, w.BaselineFrom, w.Length, s.Quality.Flags.Drop); !ok || dip || math.Abs(slope) > quietSlope*s.perUnit() {
		return 0, false
	}
	x, _, ok = s.Endpoint.Of(features, points, w)
	return x, ok
}

// simulated fills in the floor from the noise about the baselines.
func (o *Floor) simulated(f *Folder, responses []Response) bool {
	s, w := f.Study, f.Study.window()
	squares, df := 0.0, 0
	var steps []float64
	for _, r := range responses {
		if r.curve == nil {
			continue
		}
		var raw []curve.Point
		bite, _ := r.Date.At(f.timeOf(r), s.Zone)
		for _, x := range r.curve.readings {
			raw = append(raw, curve.Point{Minute: x.Time.Sub(bite).Minutes(), Glucose: x.Glucose})
		}
		q, d := curve.LevelNoise(raw, w)
		squares, df = squares+q, df+d
		for i := 1; i < len(raw); i++ {
			steps = append(steps, raw[i].Minute-raw[i-1].Minute)
		}
	}
	if df < fewestNoise || squares <= 0 || len(steps) == 0 {
		return false
	}
	sd, step := math.Sqrt(squares/float64(df)), median(steps)
	noise := curve.NoiseFloor(sd, math.Max(1, step), w, floorSimulations, floorSeed, func(points []curve.Point) float64 {
		points = s.smoothed(points)
		features, err := curve.Measure(points, w)
		if err != nil {
			return 0
		}
		x, _, _ := s.Endpoint.Of(features, points, w)
		return x
	})
	o.Source, o.N, o.Seed = FromNoise, 0, floorSeed
	o.Mean, o.Upper, o.NoiseSD = some(noise.Mean), some(noise.P95), some(sd)
	o.Text = fmt.Sprintf("by simulation of noise with the SD of the readings about their baselines, %s %s, independent from one to the next, it is %s %s, and below %s 95 times in 100; tests of plain water would measure it",
		plain(sd), s.Endpoint.GlucoseUnit, rough(noise.Mean), s.Endpoint.Unit(), rough(noise.P95))
	return true
}

// timeOf returns the time of the first bite of a test.
func (f *Folder) timeOf(r Response) Clock {
	c, err := ParseClock(r.Time)
	if err != nil {
		panic("protocol: a curve without a time of first bite")
	}
	return c
}

const notDistinguishable = "not distinguishable from "

// words say what the foods are held against.
func (s FloorSource) words() string {
	switch s {
	case FromFasting:
		return "a stretch without food"
	case FromNoise:
		return "the noise of the sensor"
	}
	return "plain water"
}

// against holds the mean of a food, in the model of the analysis, against the values
// without food, which have a spread of their own:
//
//	d = mean − floor,  se² = se(mean)² + s²/n,  df = se⁴ / (se(mean)⁴/df₁ + (s²/n)²/(n − 1))
//
// (Satterthwaite 1946, Biometrics Bulletin 2:110).
func (o *Floor) against(s *Study, food int, m models, without []float64) FloorFood {
	out := FloorFood{Food: s.Foods[food].ID}
	for _, r := range m.main.from {
		if r.food == food {
			out.Tests++
			if *r.Value <= *o.Upper {
				out.Small++
			}
		}
	}
	if out.Tests == 0 {
		out.Text = "not tested yet"
		return out
	}
	of := m.main.mean(s, food, s.Foods[food])
	if of.Mean == nil {
		out.Text = "its mean cannot be estimated over all blocks"
		return out
	}
	out.Mean, out.Difference = of.Mean, some(float64(*of.Mean)-float64(*o.Mean))
	if o.Source == FromNoise || of.SE == nil {
		out.Text = "no interval: " + map[bool]string{true: "it takes tests without food to hold it against", false: "there is no spread of repeated tests"}[o.Source == FromNoise]
		if out.Small == out.Tests {
			out.Text = notDistinguishable + o.Source.words() + ": every test lies within the floor"
		}
		return out
	}
	limits := o.limits(float64(*out.Difference), float64(*of.SE), m.main.meanDF(s, food), without, s.Level)
	out.Low, out.High, out.Distinguishable = some(limits.Low), some(limits.High), limits.Low > 0
	switch {
	case limits.High < 0:
		out.Text = "below " + o.Source.words()
	case !out.Distinguishable:
		out.Text = notDistinguishable + o.Source.words()
	default:
		out.Text = "above " + o.Source.words()
	}
	return out
}

// meanDF are the degrees of freedom of the mean of a food.
func (m *sample) meanDF(s *Study, food int) float64 {
	if own, err := m.ownMean(food); s.OwnSpread && err == nil {
		return own.DF
	}
	return float64(m.fit.SpreadDF())
}

// limits is the interval of a mean less that of values with a spread of their own.
func (o *Floor) limits(difference, se, df float64, without []float64, level float64) stats.Interval {
	sd, own := pooledSD([][]float64{without})
	a, b := se*se, sd*sd/float64(len(without))
	return stats.TInterval(difference, math.Sqrt(a+b), (a+b)*(a+b)/(a*a/df+b*b/float64(own)), level)
}

// FlagFloor flags every test with food whose response is no larger than a day without
// food may give.
func (f *Folder) FlagFloor(responses []Response) {
	floor := f.Floor(responses)
	if floor == nil {
		return
	}
	for i := range responses {
		r := &responses[i]
		if !r.Counts() || r.food < 0 || f.Study.Foods[r.food].Role == RoleBlank || *r.Value > *floor.Upper {
			continue
		}
		r.Small = true
		r.flag(fmt.Sprintf("no larger than a day without food may give (up to %s %s)", rough(float64(*floor.Upper)), f.Study.Endpoint.Unit()))
	}
}

// rough writes a number with two significant digits, as a floor deserves no more.
func rough(x float64) string {
	if x == 0 {
		return "0"
	}
	unit := math.Pow(10, math.Floor(math.Log10(math.Abs(x)))-1)
	return plain(math.Round(x/unit) * unit)
}

// floorDoubts name the foods that were not told from a day without food.
func (a *Analysis) floorDoubts() {
	if a.Floor == nil {
		return
	}
	for _, o := range a.Floor.Foods {
		if o.Tests == 0 || o.Distinguishable || o.Low == nil {
			continue
		}
		a.Warnings = append(a.Warnings, fmt.Sprintf("After %s the %s is %s (%s above the floor, %s interval %s to %s %s): a ratio to it, or a ranking of such small responses, says little.",
			o.Food, a.Endpoint.Name.Words(), o.Text, rough(float64(*o.Difference)), Percent(float64(a.Floor.Level)), rough(float64(*o.Low)), rough(float64(*o.High)), a.Endpoint.Unit))
	}
}
