package protocol

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"mealtrial/protocol/readings"
	"mealtrial/stats/curve"
)

// A Bound says how a number that is no measurement stands to the true one.
type Bound string

// The bounds.
const (
	AtLeast  Bound = "at least"
	AtMost   Bound = "at most"
	NotKnown Bound = "not known" // from neither side
)

// prefix stands before a number.
func (b Bound) prefix() string {
	if b == "" {
		return ""
	}
	return string(b) + " "
}

// write gives a number with as many digits as its size needs, never rounded to
// the side that the bound does not tell.
func (b Bound) write(x float64) string {
	scale := 1.0
	for a := math.Abs(x); a < 100 && scale < 1000; a *= 10 {
		scale *= 10
	}
	const slack = 1e-9 // of a number that is whole but for its last bits
	switch b {
	case AtLeast:
		x = math.Floor(x*scale+slack) / scale
	case AtMost:
		x = math.Ceil(x*scale-slack) / scale
	}
	return plain(x)
}

// Names of the numbers in Response.Bounds.
const (
	keyBaseline = "baseline"
	keyPeakRise = "peak_rise"
	keyIAUC     = "iauc"
	keyTwoHour  = "two_hour"
)

func (e Endpoint) key() string {
	if e.Name == PeakRise {
		return keyPeakRise
	}
	return string(e.Name)
}

// A testCurve is what one sensor gave in one test.
type testCurve struct {
	sensor   string
	readings []readings.Reading
	features curve.Features
	points   []curve.Point // as they were measured, smoothed where that is declared
	err      error         // curve.ErrNoBaseline
	bounds   map[string]Bound
	limited  string // what is at the limit, in words
}

// curvesOf makes a curve of each sensor that has readings in the window.
func curvesOf(near []readings.Reading, bite time.Time, s *Study) []*testCurve {
	var curves []*testCurve
	for _, x := range near {
		i := slices.IndexFunc(curves, func(c *testCurve) bool { return c.sensor == x.Sensor })
		if i < 0 {
			i = len(curves)
			curves = append(curves, &testCurve{sensor: x.Sensor})
		}
		curves[i].readings = append(curves[i].readings, x)
	}
	for _, c := range curves {
		c.measure(bite, s)
	}
	return slices.DeleteFunc(curves, func(c *testCurve) bool { return errors.Is(c.err, curve.ErrNoReadings) })
}

// choose takes, of the sensors that cover enough of the window, the one that the
// study file prefers, else the one that was worn first, else the first by name:
// by nothing that depends on the values, and so that it does not change from
// test to test. Where none covers enough it is the one that covers most. It is
// nil without curves.
func (f *Folder) choose(curves []*testCurve) *testCurve {
	if len(curves) == 0 {
		return nil
	}
	preferred := f.Study.Quality.Sensors
	rank := func(c *testCurve) int {
		if i := slices.Index(preferred, c.sensor); i >= 0 {
			return i
		}
		return len(preferred)
	}
	short := func(c *testCurve) float64 { // of what is enough
		if c.err != nil {
			return 1
		}
		return max(0, f.Study.Quality.MinCoverage-c.features.Coverage)
	}
	worn := func(c *testCurve) int64 {
		for _, s := range f.Recording.Sensors {
			if s.Name == c.sensor {
				return s.From.Unix()
			}
		}
		return math.MaxInt64
	}
	return slices.MinFunc(curves, func(a, b *testCurve) int {
		return cmp.Or(cmp.Compare(short(a), short(b)), cmp.Compare(rank(a), rank(b)), cmp.Compare(worn(a), worn(b)), cmp.Compare(a.sensor, b.sensor))
	})
}

// A side says in which directions the true number may lie from the one that
// was computed with bounds for values.
type side struct{ up, down, unknown bool }

func (s side) bound() Bound {
	switch {
	case s.unknown || s.up && s.down:
		return NotKnown
	case s.up:
		return AtLeast
	case s.down:
		return AtMost
	}
	return ""
}

func (s *side) add(x readings.Reading) {
	s.up = s.up || x.Limit == readings.AboveRange
	s.down = s.down || x.Limit == readings.BelowRange
	s.unknown = s.unknown || x.Limit != readings.NotLimited && x.Glucose == 0
}

// measure takes the numbers of the curve with each bound in the place of its
// value, and says which numbers are bounds themselves.
func (c *testCurve) measure(bite time.Time, s *Study) {
	w, unit := s.window(), s.Endpoint.GlucoseUnit
	points := make([]curve.Point, len(c.readings))
	for i, x := range c.readings {
		points[i] = curve.Point{Minute: x.Time.Sub(bite).Minutes(), Glucose: x.Glucose}
	}
	c.points = s.smoothed(points)
	c.features, c.err = curve.Measure(c.points, w)
	if c.err != nil {
		return
	}
	sides := map[string]side{}
	sides[keyBaseline] = c.baselineSide(points, w)
	sides[keyPeakRise] = c.peakSide(points, w, sides[keyBaseline])
	sides[keyIAUC] = c.areaSide(points, w, sides[keyBaseline])
	sides[keyTwoHour] = c.twoHourSide(points)
	for key, side := range sides {
		if b := side.bound(); b != "" {
			if c.bounds == nil {
				c.bounds = map[string]Bound{}
			}
			c.bounds[key] = b
		}
	}
	c.boundsOfMore(points, s)
	for i, x := range c.readings {
		if x.Limit != readings.NotLimited && points[i].Minute >= w.BaselineFrom && points[i].Minute <= w.Length {
			c.limited = atLimitWords(x, bite.Location(), unit)
			break
		}
	}
}

func atLimitWords(x readings.Reading, zone *time.Location, unit readings.Unit) string {
	word := map[readings.Limit]string{readings.BelowRange: "lower", readings.AboveRange: "upper"}[x.Limit]
	text := fmt.Sprintf("glucose was at the %s limit of what the sensor reports at %s", word, x.Time.In(zone).Format("15:04"))
	if x.Glucose > 0 {
		text += fmt.Sprintf(" (%s %s)", plain(x.Glucose), unit)
	}
	return text
}

func (c *testCurve) baselineSide(points []curve.Point, w curve.Window) (s side) {
	for i, x := range c.readings {
		if points[i].Minute >= w.BaselineFrom && points[i].Minute <= w.BaselineTo {
			s.add(x)
		}
	}
	return s
}

// peakSide: any reading above the range may be a higher peak; one below it
// matters only where it is the highest.
func (c *testCurve) peakSide(points []curve.Point, w curve.Window, base side) side {
	s := side{up: base.down, down: base.up, unknown: base.unknown}
	highest, known := math.Inf(-1), math.Inf(-1)
	for i, x := range c.readings {
		if points[i].Minute < 0 || points[i].Minute > w.Length {
			continue
		}
		highest = max(highest, x.Glucose)
		if x.Limit != readings.BelowRange {
			known = max(known, x.Glucose)
		}
		s.up = s.up || x.Limit == readings.AboveRange
		s.unknown = s.unknown || x.Limit == readings.AboveRange && x.Glucose == 0
	}
	s.down = s.down || highest > known
	return s
}

// areaSide: a reading above the range may add area; one below it takes some away
// unless it and its neighbours lie beneath the baseline, where nothing counts.
func (c *testCurve) areaSide(points []curve.Point, w curve.Window, base side) side {
	s := side{up: base.down, down: base.up, unknown: base.unknown}
	above := func(i int) bool {
		return i >= 0 && i < len(points) && c.readings[i].Glucose > c.features.Baseline
	}
	for i, x := range c.readings {
		reaches := i+1 < len(points) && points[i+1].Minute > 0 && points[i].Minute < w.Length || i > 0 && points[i-1].Minute < w.Length && points[i].Minute > 0
		switch {
		case x.Limit == readings.NotLimited || !reaches:
		case x.Limit == readings.AboveRange || above(i-1) || above(i) || above(i+1):
			s.add(x)
		}
	}
	return s
}

func (c *testCurve) twoHourSide(points []curve.Point) (s side) {
	const twoHours = 120
	for i, x := range c.readings {
		m := points[i].Minute
		encloses := i+1 < len(points) && m < twoHours && points[i+1].Minute > twoHours || i > 0 && points[i-1].Minute < twoHours && m > twoHours
		if c.features.HasTwoHour && (m == twoHours || encloses) {
			s.add(x)
		}
	}
	return s
}
