package protocol

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"mealtrial/protocol/readings"
	"mealtrial/protocol/yamldoc"
	"mealtrial/stats/curve"
)

// Further endpoints. Glucose of the two values and of the mean is as it was read,
// without the baseline taken off.
const (
	NetArea        EndpointName = "net_area"         // above the baseline less below it
	MeanGlucose    EndpointName = "mean"             // over the window
	TimeOfPeak     EndpointName = "time_of_peak"     // minutes
	OneHourValue   EndpointName = "value_1h"         // glucose at 60 min
	TwoHourValue   EndpointName = "value_2h"         // glucose at 120 min
	TimeAboveLevel EndpointName = "time_above"       // minutes above Endpoint.Level
	TimeToBaseline EndpointName = "time_to_baseline" // minutes until glucose is back
)

// endpointNames are all endpoints, the default first.
var endpointNames = []string{string(PeakRise), string(IncrementalArea), string(NetArea), string(MeanGlucose), string(TimeOfPeak),
	string(OneHourValue), string(TwoHourValue), string(TimeAboveLevel), string(TimeToBaseline)}

var endpointWords = map[EndpointName]string{
	PeakRise: "peak rise", IncrementalArea: "incremental area", NetArea: "net area", MeanGlucose: "mean glucose", TimeOfPeak: "time of the peak",
	OneHourValue: "glucose at 1 h", TwoHourValue: "glucose at 2 h", TimeAboveLevel: "time above the declared level", TimeToBaseline: "time back to the baseline",
}

// A kind of quantity that an endpoint is.
type quantity int

const (
	aGlucose quantity = iota
	anArea
	aTime
)

func (e EndpointName) quantity() quantity {
	switch e {
	case IncrementalArea, NetArea:
		return anArea
	case TimeOfPeak, TimeAboveLevel, TimeToBaseline:
		return aTime
	}
	return aGlucose
}

// InWords names an endpoint with its level, where it has one.
func (e Endpoint) InWords() string {
	if e.Name == TimeAboveLevel {
		return fmt.Sprintf("time above %s %s", plainDigits(e.Level), e.GlucoseUnit)
	}
	return e.Name.Words()
}

// A Secondary is an endpoint that is shown beside the main one: in no family, and no
// verdict rests on it.
type Secondary struct {
	Name  EndpointName
	Level float64 // of time_above
}

// Words names a secondary endpoint beside the main one.
func (s Secondary) Words(main Endpoint) string { return main.with(s).InWords() }

// with returns the endpoint with another number taken.
func (e Endpoint) with(s Secondary) Endpoint {
	e.Name, e.Level = s.Name, s.Level
	return e
}

const levelExpected = "a level of glucose above zero, in the study's unit"

// readLevelOf reads the level of time_above, which needs one.
func readLevelOf(name EndpointName, n, at yamldoc.Node) float64 {
	x, ok := n.Number(levelExpected)
	switch {
	case name == TimeAboveLevel && !n.Present():
		at.Reject("time_above without a level", levelExpected, "add for example level: 140")
	case name != TimeAboveLevel && n.Present():
		n.Reject(n.Found(), "no level, which goes with time_above only", "take level: out")
	case ok && (x <= 0 || x > 1000):
		n.Reject(n.Found(), levelExpected, "")
	}
	return x
}

// readMore reads what an endpoint has besides its window: level, secondary endpoints
// and smoothing.
func (e *Endpoint) readMore(n yamldoc.Node, m map[string]yamldoc.Node) {
	e.Level = readLevelOf(e.Name, m["level"], n)
	seen := []Secondary{{e.Name, e.Level}}
	for _, item := range m["secondary"].List() {
		s := Secondary{}
		if item.IsMap() {
			k := item.Map("name", "level")
			if !k["name"].Present() {
				item.Reject("a secondary endpoint without a name", "such as {name: time_above, level: 140}", "")
				continue
			}
			s.Name = EndpointName(k["name"].OneOf(endpointNames...))
			s.Level = readLevelOf(s.Name, k["level"], item)
		} else {
			s.Name = EndpointName(item.OneOf(endpointNames...))
			readLevelOf(s.Name, yamldoc.Node{}, item)
		}
		if slices.Contains(seen, s) {
			item.Reject(item.Found()+", which is measured already", "each endpoint once, the main one not again", "take it out")
			continue
		}
		seen = append(seen, s)
		e.Secondary = append(e.Secondary, s)
	}
	for i, s := range seen {
		needed := map[EndpointName]float64{OneHourValue: 60, TwoHourValue: 120}[s.Name]
		if e.Window < needed {
			at := m["name"]
			if i > 0 {
				at = m["secondary"]
			}
			at.Reject(fmt.Sprintf("%s with a window of %s min", s.Name, plain(e.Window)), "a window that reaches the value", fmt.Sprintf("write window: %sm", plain(needed)))
		}
	}
	e.readSmoothing(m["smoothing"])
}

const smoothingExpected = "how readings are smoothed and over how many, an odd number from 3 to 15, such as {median: 3} or {mean: 5}"

func (e *Endpoint) readSmoothing(n yamldoc.Node) {
	if !n.Present() {
		return
	}
	m := n.Map("median", "mean")
	if len(m) != 1 {
		n.Reject(n.Found(), smoothingExpected, "")
		return
	}
	for by, value := range m {
		span, err := strconv.Atoi(value.Text())
		if err != nil || span < 3 || span > 15 || span%2 == 0 {
			value.Reject(value.Found(), smoothingExpected, "")
			return
		}
		e.Smoothing, e.Span = curve.Smoothing(by), span
	}
}

// smoothed are the readings as they are measured.
func (s *Study) smoothed(points []curve.Point) []curve.Point {
	if s.Endpoint.Smoothing == curve.NoSmoothing {
		return points
	}
	return curve.Smooth(points, s.Endpoint.Smoothing, s.Endpoint.Span, s.Quality.MaxGap)
}

// SmoothingWords says how readings are smoothed; "" where they are not.
func (e Endpoint) SmoothingWords() string {
	if e.Smoothing == curve.NoSmoothing {
		return ""
	}
	return fmt.Sprintf("readings smoothed first, by a running %s of %d", e.Smoothing, e.Span)
}

// Of takes the endpoint from a curve. ok is false where the curve does not give it;
// bound says when it is one only.
func (e Endpoint) Of(f curve.Features, points []curve.Point, w curve.Window) (x float64, bound Bound, ok bool) {
	switch e.Name {
	case IncrementalArea:
		return f.IncrementalArea, "", true
	case NetArea:
		return f.NetArea, "", true
	case MeanGlucose:
		return f.Mean, "", f.Coverage > 0
	case TimeOfPeak:
		return f.TimeToPeak, "", true
	case OneHourValue:
		return f.OneHour, "", f.HasOneHour
	case TwoHourValue:
		return f.TwoHour, "", f.HasTwoHour
	case TimeAboveLevel:
		return curve.TimeAbove(points, w, e.Level), "", true
	case TimeToBaseline:
		x, back := curve.TimeToBaseline(points, w, f)
		return x, map[curve.Return]Bound{curve.NotBack: AtLeast, curve.Unseen: NotKnown}[back], true
	}
	return f.PeakRise, "", true
}

// boundsOfMore says which of the further endpoints are no measurements, where a
// reading is at a limit of the sensor or the curve does not come back.
func (c *testCurve) boundsOfMore(points []curve.Point, s *Study) {
	w := s.window()
	var net, mean side
	top, base := false, false
	for i, x := range c.readings {
		m := points[i].Minute
		base = base || x.Limit != readings.NotLimited && m >= w.BaselineFrom && m <= w.BaselineTo
		if m < 0 || m > w.Length {
			continue
		}
		mean.add(x)
		top = top || x.Limit == readings.AboveRange
	}
	net = mean
	if b := c.bounds[keyBaseline]; b != "" {
		net.up, net.down = net.up || b == AtMost, net.down || b == AtLeast
		net.unknown = net.unknown || b == NotKnown
	}
	set := func(name EndpointName, b Bound) {
		if b == "" || !s.Endpoint.takes(name) {
			return
		}
		if c.bounds == nil {
			c.bounds = map[string]Bound{}
		}
		c.bounds[string(name)] = b
	}
	set(NetArea, net.bound())
	set(MeanGlucose, mean.bound())
	set(TwoHourValue, c.bounds[keyTwoHour])
	set(OneHourValue, c.valueSide(points, 60, c.features.HasOneHour).bound())
	if top {
		set(TimeOfPeak, NotKnown)
	}
	if mean.unknown {
		set(TimeAboveLevel, NotKnown)
	}
	_, back, _ := Endpoint{Name: TimeToBaseline}.Of(c.features, c.points, w)
	set(TimeToBaseline, back)
	if base || mean.down || top {
		set(TimeToBaseline, NotKnown)
	}
}

// takes tells whether an endpoint is the main one or a secondary one.
func (e Endpoint) takes(name EndpointName) bool {
	return e.Name == name || slices.ContainsFunc(e.Secondary, func(s Secondary) bool { return s.Name == name })
}

// valueSide is that of the glucose at a minute.
func (c *testCurve) valueSide(points []curve.Point, minute float64, has bool) (s side) {
	for i, x := range c.readings {
		m := points[i].Minute
		encloses := i+1 < len(points) && m < minute && points[i+1].Minute > minute || i > 0 && points[i-1].Minute < minute && m > minute
		if has && (m == minute || encloses) {
			s.add(x)
		}
	}
	return s
}

// takeSecondary fills in the secondary endpoints of a test.
func (r *Response) takeSecondary(c *testCurve, s *Study) {
	for _, second := range s.Endpoint.Secondary {
		e := s.Endpoint.with(second)
		x, _, ok := e.Of(c.features, c.points, s.window())
		if !ok || c.bounds[e.key()] != "" {
			continue
		}
		if r.Secondary == nil {
			r.Secondary = map[string]Number{}
		}
		r.Secondary[e.label()] = Number(x)
	}
}

// label names an endpoint uniquely within a study.
func (e Endpoint) label() string {
	if e.Name == TimeAboveLevel {
		return fmt.Sprintf("%s_%s", e.Name, plainDigits(e.Level))
	}
	return string(e.Name)
}

// checkTyped refuses a value typed by hand that the endpoint cannot have.
func (e Endpoint) checkTyped(x float64, n yamldoc.Node) {
	limit := largestRise[e.GlucoseUnit]
	const mend = "mend the number, or the endpoint's unit in " + StudyFile
	switch {
	case e.Name == PeakRise && math.Abs(x) > limit:
		n.Reject(n.Found(), fmt.Sprintf("a peak rise of at most %g %s", limit, e.Unit()), mend)
	case e.Name == IncrementalArea && (x < 0 || x > limit*e.Window):
		n.Reject(n.Found(), fmt.Sprintf("an incremental area from 0 to %g %s", limit*e.Window, e.Unit()), mend)
	case e.Name == NetArea && math.Abs(x) > limit*e.Window:
		n.Reject(n.Found(), fmt.Sprintf("a net area of at most %g %s", limit*e.Window, e.Unit()), mend)
	case e.Name.quantity() == aTime && (x < 0 || x > e.Window):
		n.Reject(n.Found(), fmt.Sprintf("a time from 0 to %g min, the window", e.Window), mend)
	case e.Name.quantity() == aGlucose && e.Name != PeakRise && (x <= 0 || x > limit):
		n.Reject(n.Found(), fmt.Sprintf("glucose above 0 and up to %g %s", limit, e.Unit()), mend)
	}
}

// secondaryEndpoints analyses the secondary endpoints of the tests that count, by the
// model of the main one.
func (f *Folder) secondaryEndpoints(counted []Response) []OutcomeResult {
	out := []OutcomeResult{}
	for _, second := range f.Study.Endpoint.Secondary {
		e := f.Study.Endpoint.with(second)
		r := OutcomeResult{ID: e.label(), Name: e.InWords(), Kind: SecondaryEndpoint, Scale: e.Unit(), When: "", Secondary: true,
			Foods: []OutcomeFood{}, Questions: []OutcomeAnswer{}, Notes: []string{}}
		var with []Response
		for _, x := range counted {
			if v, ok := x.Secondary[e.label()]; ok {
				x.Value = some(float64(v))
				with = append(with, x)
			} else {
				r.NotNoted++
			}
		}
		if r.Tests = len(with); r.Tests == 0 {
			r.Method = methodNone
			r.Notes = append(r.Notes, "no curve gives it")
			out = append(out, r)
			continue
		}
		f.numberOutcome(&r, with)
		if r.NotNoted > 0 {
			r.Notes = append(r.Notes, fmt.Sprintf("%s no value of it (typed by hand, at a limit of the sensor, or not back at the baseline in the window): the rest may be biased", Count(r.NotNoted, "test that counts gives", "tests that count give")))
		}
		out = append(out, r)
	}
	return out
}

// whyBound says why the endpoint is no measurement.
func (c *testCurve) whyBound(s *Study) string {
	switch {
	case c.limited != "":
		return c.limited
	case c.bounds[s.Endpoint.key()] == NotKnown:
		return "there are no readings where glucose may have come back"
	}
	return "glucose was not back within the window"
}

// id names the endpoint in a result.
func (e Endpoint) id() EndpointID {
	out := EndpointID{Name: e.Name, Unit: e.Unit(), Window: Number(e.Window)}
	if e.Name == TimeAboveLevel {
		out.Described = e.InWords()
	}
	return out
}

// zeroDoubts speak up where responses pile up at zero, below which a time cannot go.
func (a *Analysis) zeroDoubts(counted []Response) {
	const few = 2
	zeros := 0
	for _, r := range counted {
		if *r.Value == 0 {
			zeros++
		}
	}
	if a.Endpoint.Name.quantity() == aTime && zeros >= few {
		a.Warnings = append(a.Warnings, fmt.Sprintf("%s of %d have a %s of 0 min, below which it cannot go: their spread is not that of the others, so every interval here is rough.",
			Count(zeros, "test", "tests"), len(counted), a.Endpoint.InWords()))
	}
}
