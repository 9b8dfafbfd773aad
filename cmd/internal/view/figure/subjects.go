package figure

import (
	"fmt"
	"math"
	"strings"

	"mealtrial/cmd/internal/view"
	"mealtrial/cmd/internal/view/drawing"
	"mealtrial/protocol"
	"mealtrial/stats/ratio"
)

// Ratios draws each question about a ratio on a logarithmic axis, on which half and
// twice are equally far from 1, no difference. A set that runs on without end, or
// that reaches zero or below, ends in an arrow.
func Ratios(a *protocol.Analysis, size Size) (*drawing.Scene, error) {
	return questions(a, size, ofRatios)
}

// Limits draws each question about a limit: the two one-sided bounds, each at its
// level, and the limit that they are held against.
func Limits(a *protocol.Analysis, size Size) (*drawing.Scene, error) {
	return questions(a, size, ofLimits)
}

// Asked tells whether a study asks something that Ratios, or Limits, would show.
func Asked(a *protocol.Analysis) (ratios, limits bool) {
	for _, q := range a.Questions {
		ratios, limits = ratios || ofRatios.of(q), limits || ofLimits.of(q)
	}
	return ratios, limits
}

// of tells whether a question is about the subject.
func (s subject) of(q protocol.Answer) bool {
	switch s {
	case ofRatios:
		return q.Kind == protocol.Ratio
	case ofLimits:
		return q.Limit != nil
	}
	return view.Tabled(q)
}

func (d differences) heading() (title, subtitle string) {
	a := d.a
	measured := fmt.Sprintf("%s over %s min", a.Endpoint.Name.Words(), view.Value(float64(a.Endpoint.Window)))
	switch d.about {
	case ofRatios:
		level := protocol.Percent(float64(a.WithinPersonSD.Level))
		return "Ratios of " + a.Endpoint.Name.Words(), fmt.Sprintf("First food as a multiple of the second, %s, with %s sets%s; logarithmic axis, 1 is no difference", measured, level, view.Promise(a))
	case ofLimits:
		return "Limits of " + a.Endpoint.Name.Words(), fmt.Sprintf("In %s, the %s, with one-sided bounds on both sides, each at its level; the long bar is the limit", a.Endpoint.Unit, measured)
	}
	return "Differences in " + a.Endpoint.Name.Words(), fmt.Sprintf("First food minus second, %s, over %s min, with %s intervals%s", a.Endpoint.Unit,
		view.Value(float64(a.Endpoint.Window)), protocol.Percent(float64(a.WithinPersonSD.Level)), view.Promise(a))
}

func (d differences) nothing() string {
	return map[subject]string{ofDifferences: "No question about a difference was asked.", ofRatios: "No question about a ratio was asked.", ofLimits: "No question about a limit was asked."}[d.about]
}

// unit is that of the numbers of a row; ratios have none.
func (d differences) unit() string {
	if d.about == ofRatios {
		return ""
	}
	return d.a.Endpoint.Unit
}

func (d differences) ticks() func(low, high float64, about int) ([]float64, int) {
	if d.about == ofRatios {
		return ratioTicks
	}
	return ticks
}

// none is where no difference lies; limits have none in common.
func (d differences) none() (at float64, ok bool) {
	switch d.about {
	case ofRatios:
		return 1, true
	case ofLimits:
		return 0, false
	}
	return 0, true
}

// pieces are the intervals of an answer; ends without end are infinite.
func (d differences) pieces(q protocol.Answer) [][2]float64 {
	low, high := limits(q.Low, q.High)
	if d.about != ofRatios {
		return [][2]float64{{low, high}}
	}
	switch q.Shape {
	case ratio.Bounded:
	case ratio.AtLeast:
		high = math.Inf(1)
	case ratio.AtMost:
		low = math.Inf(-1)
	case ratio.Complement: // everything but what lies between the limits
		pieces := [][2]float64{{high, math.Inf(1)}}
		if low > 0 {
			pieces = append(pieces, [2]float64{math.Inf(-1), low})
		}
		for i := range pieces {
			pieces[i] = positive(pieces[i])
		}
		return pieces
	default:
		low, high = math.Inf(-1), math.Inf(1)
	}
	if high <= 0 { // nothing of it is on the axis
		return nil
	}
	return [][2]float64{positive([2]float64{low, high})}
}

// positive is the part of an interval on a logarithmic axis, where zero lies
// infinitely far away.
func positive(x [2]float64) [2]float64 {
	if x[0] <= 0 {
		x[0] = math.Inf(-1)
	}
	return x
}

// span is the range of numbers that the picture shows.
func (d differences) span() (low, high float64) {
	var numbers []float64
	if d.about == ofDifferences {
		numbers = append(numbers, 0, d.margin, -d.margin)
	}
	for _, q := range d.asked {
		for _, piece := range d.pieces(q) {
			numbers = append(numbers, piece[0], piece[1])
		}
		if q.Estimate != nil {
			numbers = append(numbers, float64(*q.Estimate))
		}
		if q.Limit != nil {
			numbers = append(numbers, float64(*q.Limit))
		}
	}
	if d.about != ofRatios {
		return spanOf(numbers...)
	}
	logs := []float64{math.Log(0.8), math.Log(1.25)}
	for _, x := range numbers {
		if x > 0 && !math.IsInf(x, 0) {
			logs = append(logs, math.Log(x))
		}
	}
	low, high = spanOf(logs...)
	return math.Exp(low), math.Exp(high)
}

// numberOf is the number of a row, with its interval in words.
func (d differences) numberOf(q protocol.Answer) string {
	if d.about == ofRatios {
		return view.RatioWords(q)
	}
	return view.BoundWords(d.a, q)
}

// bound draws a limit as a long bar across the row.
func (s *sheet) bound(x scale, y, at float64) {
	const reach = 12
	s.Line(drawing.Paint{Stroke: drawing.Ink, Width: 3}, drawing.Point{X: x.at(at), Y: y - reach}, drawing.Point{X: x.at(at), Y: y + reach})
}

// method is that of the intervals in the picture.
func (d differences) method() string {
	shown := *d.a
	shown.Questions = d.asked
	return shown.IntervalMethod() + "."
}

// others names the questions that are in another picture.
func (d differences) others() string {
	var names []string
	for _, q := range d.a.Questions {
		if !d.about.of(q) {
			name := view.Asked(d.a, q)
			if q.Kind == protocol.Ratio {
				name += " as ratio"
			}
			names = append(names, name)
		}
	}
	if len(names) == 0 {
		return ""
	}
	kind := map[subject]string{ofDifferences: "difference", ofRatios: "ratio", ofLimits: "limit"}[d.about]
	return fmt.Sprintf("Not in this picture, as it asks about no %s: %s.", kind, strings.Join(names, "; "))
}
