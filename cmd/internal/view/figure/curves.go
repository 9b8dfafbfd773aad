package figure

import (
	"fmt"
	"math"
	"strings"

	"mealtrial/cmd/internal/view"
	"mealtrial/cmd/internal/view/drawing"
	"mealtrial/protocol"
)

// Curves draws the glucose curves of each food, one line a test, laid against the
// first bite, with their mean and its band.
func Curves(c *protocol.Curves, size Size) (*drawing.Scene, error) {
	d := curves{c: c}
	numbers := []float64{0}
	for _, food := range c.Foods {
		if len(food.Tests) > 0 {
			d.shown = append(d.shown, food)
		}
		for _, t := range food.Tests {
			for _, piece := range t.Pieces {
				for _, p := range piece {
					numbers = append(numbers, p.Glucose)
				}
			}
		}
		for _, p := range food.Mean {
			if p.HasBand {
				numbers = append(numbers, p.Low, p.High)
			}
		}
	}
	d.low, d.high = spanOf(numbers...)
	return fit(size, d.draw)
}

type curves struct {
	c         *protocol.Curves
	shown     []protocol.FoodCurves
	low, high float64
}

// Sizes of a panel.
const (
	panelWidth  = 230.0 // at least
	panelHeight = 150.0
	panelGap    = 18.0
)

func (d curves) draw(s *sheet, room float64) {
	c := d.c
	s.heading("Glucose after each food", fmt.Sprintf("Rise above the baseline, %s, by minutes from the first bite", c.Unit))
	s.Desc = d.describe()
	if len(d.shown) == 0 {
		s.lines(margin, s.inner(), "No test has readings around it: values were typed.", manyLines, drawing.TextStyle{Size: textSize, Role: drawing.Ink})
		s.y += room
		return
	}
	columns := int(max(1, math.Floor((s.inner()+panelGap)/(panelWidth+panelGap))))
	columns = min(columns, len(d.shown))
	rows := (len(d.shown) + columns - 1) / columns
	width := (s.inner() - float64(columns-1)*panelGap) / float64(columns)
	height := panelHeight + room/float64(rows)
	for row := range rows {
		in := d.shown[row*columns : min(len(d.shown), (row+1)*columns)]
		names, top := 0.0, s.y
		for _, food := range in {
			names = max(names, d.nameHeight(food, width))
		}
		for i, food := range in {
			x := margin + float64(i)*(width+panelGap)
			s.y = top
			s.lines(x, width, food.Name, labelLines, drawing.TextStyle{Size: textSize, Bold: true, Role: drawing.Ink})
			s.lines(x, width, food.Text(), 2, drawing.TextStyle{Size: smallSize, Role: drawing.Muted})
			d.panel(s, food, x, top+names+4, width, height)
		}
		s.y = top + names + 4 + height + belowHeight + gap
	}
	s.keys(d.keys(s))
	s.notes(upper(c.Method)+".", onePerson)
}

func (d curves) nameHeight(food protocol.FoodCurves, width float64) float64 {
	return high(food.Name, width, labelLines, textSize, true) + high(food.Text(), width, 2, smallSize, false)
}

var (
	testLine = drawing.Paint{Stroke: drawing.Muted, Width: 1.1}
	leftLine = drawing.Paint{Stroke: drawing.Muted, Width: 1.3, Dash: []float64{5, 4}}
	meanLine = drawing.Paint{Stroke: drawing.Data, Width: 3}
	meanBand = drawing.Paint{Fill: drawing.Data + 5, Opacity: 0.28}
)

func (d curves) keys(s *sheet) []key {
	line := func(p drawing.Paint) func(x, y float64) {
		return func(x, y float64) { s.Line(p, drawing.Point{X: x - 11, Y: y}, drawing.Point{X: x + 11, Y: y}) }
	}
	keys := []key{{"a test", line(testLine)}, {"mean", line(meanLine)}}
	left := false
	for _, food := range d.shown {
		left = left || food.Counted < len(food.Tests)
	}
	keys = append(keys, key{protocol.Percent(d.c.Level) + " band of the mean", func(x, y float64) { s.Rect(x-11, y-6, 22, 12, meanBand) }})
	if left {
		keys = append(keys, key{"left out, not in the mean", line(leftLine)})
	}
	return keys
}

func (d curves) panel(s *sheet, food protocol.FoodCurves, left, top, width, height float64) {
	y := linear(d.low, d.high, top+height, top)
	left += besideWidth(d.low, d.high, height)
	x := linear(d.c.From, d.c.To, left, left+width-besideWidth(d.low, d.high, height)-2)
	s.beside(y, x.from, x.to)
	s.belowBy(minutes, x, top, top+height)
	s.Line(axisLine, drawing.Point{X: x.from, Y: y.at(0)}, drawing.Point{X: x.to, Y: y.at(0)})
	s.Line(drawing.Paint{Stroke: drawing.Ink, Width: 1, Dash: []float64{2, 3}}, drawing.Point{X: x.at(0), Y: top}, drawing.Point{X: x.at(0), Y: top + height})
	d.band(s, food, x, y)
	for _, t := range food.Tests {
		paint := testLine
		if !t.Counts {
			paint = leftLine
		}
		for _, piece := range t.Pieces {
			var line []drawing.Point
			for _, p := range piece {
				line = append(line, drawing.Point{X: x.at(p.Minute), Y: y.at(p.Glucose)})
			}
			s.Line(paint, line...)
		}
	}
	for _, run := range runs(food.Mean, false) {
		var line []drawing.Point
		for _, p := range run {
			line = append(line, drawing.Point{X: x.at(p.Minute), Y: y.at(p.Mean)})
		}
		s.Line(meanLine, line...)
	}
}

func (d curves) band(s *sheet, food protocol.FoodCurves, x, y scale) {
	for _, run := range runs(food.Mean, true) {
		var edge []drawing.Point
		for _, p := range run {
			edge = append(edge, drawing.Point{X: x.at(p.Minute), Y: y.at(p.High)})
		}
		for i := len(run) - 1; i >= 0; i-- {
			edge = append(edge, drawing.Point{X: x.at(run[i].Minute), Y: y.at(run[i].Low)})
		}
		if len(run) > 1 {
			s.Polygon(edge, meanBand)
		}
	}
}

// step is the longest distance of neighbouring points of a mean, in minutes.
const step = 5.5

// runs cuts a mean curve where points are missing, or where the band is.
func runs(points []protocol.BandPoint, band bool) (out [][]protocol.BandPoint) {
	var run []protocol.BandPoint
	for _, p := range points {
		if n := len(run); n > 0 && (p.Minute-run[n-1].Minute > step || band && !p.HasBand) {
			out, run = append(out, run), nil
		}
		if !band || p.HasBand {
			run = append(run, p)
		}
	}
	return append(out, run)
}

func (d curves) describe() string {
	var parts []string
	for _, food := range d.shown {
		if len(food.Mean) == 0 {
			parts = append(parts, fmt.Sprintf("%s: %s, no mean.", food.Name, food.Text()))
			continue
		}
		best := food.Mean[0]
		for _, p := range food.Mean {
			if p.Mean > best.Mean {
				best = p
			}
		}
		parts = append(parts, fmt.Sprintf("%s: %s; the mean is highest at %s min, %s %s above the baseline.", food.Name, food.Text(), view.Value(best.Minute), view.Fixed(best.Mean, 0+decimalsOfUnit(d.c.Unit)), d.c.Unit))
	}
	return strings.Join(append(parts, onePerson), " ")
}

// decimalsOfUnit are those that a glucose value has in its unit.
func decimalsOfUnit(unit string) int {
	if unit == "mmol/L" {
		return 1
	}
	return 0
}
