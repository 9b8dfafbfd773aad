// Package rehearsal simulates a tester with known truth: the glucose of whole
// days as a sensor would export it, and the log of the tests. Results of a
// study on such data can be held against the truth.
//
// It is a stand-in, not physiology: shapes and sizes are chosen so that files
// look like real ones. All of it is drawn from one seed.
package rehearsal

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"mealtrial/protocol"
	"mealtrial/protocol/readings"
)

// A Truth is what the simulated tester is like. Glucose is in mg/dL.
type Truth struct {
	Rise         map[string]float64 // peak of the glucose curve above the baseline, by food ID
	SD           float64            // within-person SD of that peak from test to test
	Trend        float64            // what a week adds to every rise
	Lost         float64            // share of tests of which nothing is recorded, in [0, 1)
	BaselineSD   float64            // of the fasting level from day to day
	SensorGainSD float64            // of a sensor's gain, as a share
	SensorZeroSD float64            // of a sensor's offset
	NoiseSD      float64            // of single readings, autocorrelated
}

// Usual is a tester of usual size; common practice, no source.
var Usual = Truth{SD: 6, BaselineSD: 4, SensorGainSD: 0.05, SensorZeroSD: 4, NoiseSD: 2}

const (
	fasting     = 92.0            // mg/dL
	interval    = 5 * time.Minute // between readings
	peakMinute  = 45.0            // from the first bite
	noiseMemory = 0.7             // correlation of neighbouring readings' noise
	tenseness   = 2.5             // how sharp the curve of a meal is
)

// A Session is what the tester hands in.
type Session struct {
	Files   map[string][]byte // sensor exports by file name
	Entries []protocol.Entry  // one a test, in order
}

// A Loss is a stretch of a test, in minutes from the first bite, that the
// sensor did not record.
type Loss struct{ From, To float64 }

// Simulate runs the tests of a schedule on a tester and writes what the sensors
// exported. Each block is one sensor, set the evening before its first test.
// Losses are by number of the test, from 0.
func Simulate(study *protocol.Study, schedule *protocol.Schedule, truth Truth, losses map[int]Loss, seed uint64) Session {
	w := newWorld(study, truth, seed)
	s := Session{Files: map[string][]byte{}}
	first := schedule.Tests[0].Date
	for i, t := range schedule.Tests {
		s.Entries = append(s.Entries, w.eat(i, t, first, losses))
	}
	sensors := w.sensors(schedule)
	w.addOtherMeals(sensors[0].from, sensors[len(sensors)-1].to)
	for i, sensor := range sensors {
		s.Files[fmt.Sprintf("sensor-%d.csv", i+1)] = w.export(sensor)
	}
	return s
}

type world struct {
	study  *protocol.Study
	truth  Truth
	random *rand.Rand
	meals  []meal
	lost   []span
}

func newWorld(study *protocol.Study, truth Truth, seed uint64) *world {
	const stream = 0x7265686561727365 // apart from the draw of the schedule
	return &world{study: study, truth: truth, random: rand.New(rand.NewPCG(seed, stream))}
}

type meal struct {
	at   time.Time
	rise float64
	peak float64 // minutes
}

type span struct{ from, to time.Time }

// eat makes the log entry of a test and the rise that it causes. The first
// bite is within a quarter of an hour of the planned time.
func (w *world) eat(i int, t protocol.PlannedTest, first protocol.Date, losses map[int]Loss) protocol.Entry {
	clock := t.Time + protocol.Clock(w.random.IntN(16)-5)
	bite, _ := t.Date.At(clock, w.study.Zone)
	rise := max(0, w.truth.Rise[t.Food]+w.truth.Trend*float64(t.Date-first)/7+w.truth.SD*w.random.NormFloat64())
	if w.study.Foods[w.study.Food(t.Food)].Role == protocol.RoleBlank {
		rise = 0
	}
	w.meals = append(w.meals, meal{bite, rise, peakMinute + 5*w.random.NormFloat64()})
	if loss, ok := losses[i]; ok {
		w.lost = append(w.lost, span{bite.Add(minutes(loss.From)), bite.Add(minutes(loss.To))})
	}
	at, food := clock.String(), t.Food
	e := protocol.Entry{Date: t.Date.String(), Time: &at, Food: &food}
	if portion := w.study.Foods[w.study.Food(t.Food)].Portion; portion != "" {
		e.Ate = &portion
	}
	return e
}

func minutes(m float64) time.Duration { return time.Duration(m * float64(time.Minute)) }

type sensor struct {
	span
	gain, zero float64
}

func (w *world) sensors(schedule *protocol.Schedule) []sensor {
	var sensors []sensor
	for i, t := range schedule.Tests {
		day, _ := t.Date.At(0, w.study.Zone)
		if i == 0 || schedule.Tests[i-1].Block != t.Block {
			sensors = append(sensors, sensor{span: span{from: day.Add(-5 * time.Hour)},
				gain: 1 + w.truth.SensorGainSD*w.random.NormFloat64(), zero: w.truth.SensorZeroSD * w.random.NormFloat64()})
		}
		sensors[len(sensors)-1].to = day.Add(14 * time.Hour)
	}
	return sensors
}

// addOtherMeals puts lunch, a snack and dinner on every day.
func (w *world) addOtherMeals(from, to time.Time) {
	for day := from; day.Before(to); day = day.AddDate(0, 0, 1) {
		y, m, d := day.Date()
		for _, hour := range []float64{12.5, 16, 19} {
			at := time.Date(y, m, d, 0, 0, 0, 0, day.Location()).Add(time.Duration((hour + 0.5*w.random.NormFloat64()) * float64(time.Hour)))
			w.meals = append(w.meals, meal{at, 15 + 25*w.random.Float64(), peakMinute})
		}
	}
	slices.SortFunc(w.meals, func(a, b meal) int { return a.at.Compare(b.at) })
}

// readings are what a sensor sends, rounded to the study's unit as sensors do.
// Where near is given, only moments near a test are made.
func (w *world) readings(s sensor, near func(time.Time) bool) []readings.Reading {
	var out []readings.Reading
	noise, level, day := 0.0, fasting+w.truth.BaselineSD*w.random.NormFloat64(), s.from.YearDay()
	for at := s.from.Add(time.Duration(w.random.IntN(300)) * time.Second); at.Before(s.to); at = at.Add(interval) {
		if at.YearDay() != day && at.Hour() >= 3 {
			day, level = at.YearDay(), fasting+w.truth.BaselineSD*w.random.NormFloat64()
		}
		if near != nil && !near(at) {
			continue
		}
		noise = noiseMemory*noise + math.Sqrt(1-noiseMemory*noiseMemory)*w.truth.NoiseSD*w.random.NormFloat64()
		missed := w.random.Float64() < 0.005
		if missed || slices.ContainsFunc(w.lost, func(l span) bool { return at.After(l.from) && at.Before(l.to) }) {
			continue
		}
		out = append(out, readings.Reading{Time: at, Glucose: round(s.zero+s.gain*(level+w.raised(at))+noise, w.study.Endpoint.GlucoseUnit)})
	}
	return out
}

// export writes what a sensor sent as a file.
func (w *world) export(s sensor) []byte {
	var b bytes.Buffer
	unit := w.study.Endpoint.GlucoseUnit
	decimals := 0
	if unit == readings.MmolL {
		decimals = 1
	}
	fmt.Fprintf(&b, "Recorder export,invented data\nStarted,%s\n\n", s.from.Format("2006-01-02 15:04"))
	fmt.Fprintf(&b, "Number,Local time,Event,Glucose (%s)\n", unit)
	for i, r := range w.readings(s, nil) {
		fmt.Fprintf(&b, "%d,%s,reading,%.*f\n", i+1, r.Time.Format("2006-01-02 15:04:05"), decimals, r.Glucose)
	}
	return b.Bytes()
}

// round gives glucose as sensors do: whole mg/dL, tenths of mmol/L.
func round(mgdl float64, unit readings.Unit) float64 {
	if unit == readings.MmolL {
		return math.Round(10*readings.Convert(mgdl, readings.MgdL, readings.MmolL)) / 10
	}
	return math.Round(mgdl)
}

// raised is what all meals of the last hours add. A meal's curve
//
//	rise · (x·exp(1−x))^tenseness,   x = minutes since the first bite / peak
//
// is highest at its peak minute, where it equals its rise.
func (w *world) raised(at time.Time) float64 {
	sum := 0.0
	first, _ := slices.BinarySearchFunc(w.meals, at.Add(-6*time.Hour), func(m meal, t time.Time) int { return m.at.Compare(t) })
	for _, m := range w.meals[first:] {
		if !m.at.Before(at) {
			break
		}
		x := at.Sub(m.at).Minutes() / m.peak
		sum += m.rise * math.Pow(x*math.Exp(1-x), tenseness)
	}
	return sum
}
