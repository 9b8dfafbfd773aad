package figure

import (
	"fmt"
	"math"
	"strings"
	"time"

	"mealtrial/cmd/internal/view"
	"mealtrial/cmd/internal/view/drawing"
	"mealtrial/protocol"
)

// Order draws the responses against their dates, with the blocks and the sensors,
// so that a drift, a jump between sensors or an odd day can be seen.
func Order(a *protocol.Analysis, run *protocol.RunOrder, size Size) (*drawing.Scene, error) {
	o := order{a: a, run: run, number: map[string]int{}}
	for i, food := range a.Foods {
		o.number[food.Food] = i
	}
	return fit(size, o.draw)
}

type order struct {
	a      *protocol.Analysis
	run    *protocol.RunOrder
	number map[string]int
}

const (
	orderHeight = 240.0
	laneHeight  = smallSize + 6 // of a row of numbers
)

// days is the scale of dates.
func (o order) days(from, to float64) scale {
	first, last := math.Inf(1), math.Inf(-1)
	see := func(d protocol.Date) { first, last = min(first, float64(d)), max(last, float64(d)) }
	for _, r := range o.run.Eaten {
		see(r.Date)
	}
	for _, t := range o.run.ToCome {
		see(t.Date)
	}
	return linear(first-1, last+1, from, to)
}

func (o order) draw(s *sheet, room float64) {
	a := o.a
	s.heading("Responses in the order of the tests", fmt.Sprintf("%s, %s, by date; the number above a test is that of its food", upper(a.Endpoint.Name.Words()), a.Endpoint.Unit))
	s.Desc = o.describe()
	numbers := []float64{0}
	for _, r := range o.run.Eaten {
		if r.Value != nil {
			numbers = append(numbers, float64(*r.Value))
		}
	}
	low, high := spanOf(numbers...)
	height := orderHeight + room
	x := o.days(margin+besideWidth(low, high, height), s.W-margin)
	lanes := o.lanes(x)
	top := s.y + float64(lanes.count)*laneHeight + laneHeight
	y := linear(low, high, top+height, top)
	o.blocks(s, x, s.y, top+height)
	s.y += laneHeight
	s.beside(y, x.from, x.to)
	if y.at(0) < top+height {
		s.Line(axisLine, drawing.Point{X: x.from, Y: y.at(0)}, drawing.Point{X: x.to, Y: y.at(0)})
	}
	o.tests(s, x, y, lanes)
	o.dates(s, x, top+height)
	s.y = top + height + belowHeight
	o.sensors(s, x)
	o.legend(s)
	s.notes(o.small(), onePerson)
}

// blocks shades every second block and numbers all of them.
func (o order) blocks(s *sheet, x scale, top, bottom float64) {
	free := math.Inf(-1)
	for i, b := range o.run.Blocks {
		from, to := x.at(float64(b.First)-0.5), x.at(float64(b.Last)+0.5)
		if i%2 == 0 {
			s.Rect(from, top, to-from, bottom-top, bandFill)
		}
		words := fmt.Sprintf("block %d", b.Number)
		if drawing.Width(words, smallSize, false) > to-from-4 {
			words = fmt.Sprint(b.Number)
		}
		half := drawing.Width(words, smallSize, false) / 2
		at := min(max((from+to)/2, x.from+half), x.to-half)
		if at-half > free {
			s.Text(at, top+smallSize+1, words, drawing.TextStyle{Size: smallSize, Anchor: drawing.Middle, Role: drawing.Muted})
			free = at + half + 3
		}
	}
}

// lanes are rows of numbers above the picture, so that no two numbers touch.
type lanes struct {
	count int
	at    map[string]int // of a test, by date and time
}

func laneKey(d protocol.Date, at string) string { return d.String() + at }

func (o order) lanes(x scale) lanes {
	l := lanes{at: map[string]int{}}
	var free []float64
	place := func(d protocol.Date, at, food string) {
		half := drawing.Width(o.numberOf(food), smallSize, true)/2 + 1.5
		px := x.at(float64(d))
		k := 0
		for k < len(free) && px-half < free[k] {
			k++
		}
		if k == len(free) {
			free = append(free, 0)
		}
		free[k] = px + half
		l.at[laneKey(d, at)] = k
	}
	for _, r := range o.run.Eaten {
		place(r.Date, r.Time, r.Food)
	}
	for _, t := range o.run.ToCome {
		place(t.Date, t.At, t.Food)
	}
	l.count = len(free)
	return l
}

func (o order) numberOf(food string) string {
	i, ok := o.number[food]
	if !ok {
		return "?"
	}
	return fmt.Sprint(i + 1)
}

func (o order) tests(s *sheet, x, y scale, l lanes) {
	top := s.y
	number := func(d protocol.Date, at, food string, bold bool) float64 {
		base := top + float64(l.at[laneKey(d, at)])*laneHeight + smallSize
		role := drawing.Ink
		if !bold {
			role = drawing.Muted
		}
		s.Text(x.at(float64(d)), base, o.numberOf(food), drawing.TextStyle{Size: smallSize, Bold: bold, Anchor: drawing.Middle, Role: role, Full: food + ", " + d.String()})
		return base + 2
	}
	for _, t := range o.run.ToCome {
		number(t.Date, t.At, t.Food, false)
	}
	for _, r := range o.run.Eaten {
		base, px := number(r.Date, r.Time, r.Food, true), x.at(float64(r.Date))
		if r.Value == nil {
			continue
		}
		s.Line(drawing.Paint{Stroke: drawing.Rule, Width: 1, Dash: []float64{2, 3}}, drawing.Point{X: px, Y: base}, drawing.Point{X: px, Y: y.at(float64(*r.Value)) - markSize})
		o.mark(s, r.Food, px, y.at(float64(*r.Value)), r.Counts())
	}
}

func (o order) mark(s *sheet, food string, x, y float64, counts bool) {
	i := o.number[food]
	paint := drawing.Paint{Fill: drawing.DataRole(i), Stroke: drawing.Ink, Width: 0.8}
	if !counts {
		paint = drawing.Paint{Fill: drawing.Paper, Stroke: drawing.DataRole(i), Width: 2}
	}
	s.Mark(drawing.Shape(i), x, y, markSize, paint)
}

// dates labels Mondays, as many as fit.
func (o order) dates(s *sheet, x scale, y float64) {
	free := math.Inf(-1)
	for d := protocol.Date(math.Ceil(x.low)); float64(d) <= x.high; d++ {
		if d.Weekday() != time.Monday {
			continue
		}
		px := x.at(float64(d))
		s.Line(axisLine, drawing.Point{X: px, Y: y}, drawing.Point{X: px, Y: y + 4})
		half := drawing.Width(d.String(), smallSize, false) / 2
		if px-half > free && px-half >= 2 && px+half <= s.W-2 {
			s.Text(px, y+smallSize+4, d.String(), drawing.TextStyle{Size: smallSize, Anchor: drawing.Middle, Role: drawing.Ink})
			free = px + half + 10
		}
	}
	s.Line(axisLine, drawing.Point{X: x.from, Y: y}, drawing.Point{X: x.to, Y: y})
}

// sensors draws the lives of the sensors as bars, numbered.
func (o order) sensors(s *sheet, x scale) {
	drawn := false
	free := math.Inf(-1)
	for _, sensor := range o.run.Sensors {
		from, to := x.hold(x.at(float64(sensor.First))), x.hold(x.at(float64(sensor.Last)))
		if to-from < 1 {
			continue
		}
		drawn = true
		s.Line(drawing.Paint{Stroke: drawing.Muted, Width: 4}, drawing.Point{X: from + 1, Y: s.y + 6}, drawing.Point{X: to - 1, Y: s.y + 6})
		words := fmt.Sprintf("sensor %d", sensor.Number)
		if drawing.Width(words, smallSize, false) > to-from {
			words = fmt.Sprint(sensor.Number)
		}
		half := drawing.Width(words, smallSize, false) / 2
		at := min(max((from+to)/2, x.from+half), x.to-half)
		if at-half > free {
			s.Text(at, s.y+12+smallSize, words, drawing.TextStyle{Size: smallSize, Anchor: drawing.Middle, Role: drawing.Muted})
			free = at + half + 4
		}
	}
	if drawn {
		s.y += 18 + smallSize
	}
}

func (o order) legend(s *sheet) {
	var keys []key
	for i, food := range o.a.Foods {
		keys = append(keys, key{fmt.Sprintf("%d %s", i+1, food.Name), func(x, y float64) { o.mark(s, food.Food, x, y, true) }})
	}
	for _, r := range o.run.Eaten {
		if !r.Counts() && r.Value != nil {
			keys = append(keys, key{"open mark: left out", func(x, y float64) { o.mark(s, r.Food, x, y, false) }})
			break
		}
	}
	s.keys(keys)
}

func (o order) small() string {
	var parts []string
	without := 0
	for _, r := range o.run.Eaten {
		if r.Value == nil {
			without++
		}
	}
	if without > 0 {
		parts = append(parts, fmt.Sprintf("%s without a value: a number above and no mark.", view.Tests(without)))
	}
	if n := len(o.run.ToCome); n > 0 {
		parts = append(parts, fmt.Sprintf("%s planned and not in the log: a pale number.", view.Tests(n)))
	}
	if len(o.run.Sensors) > 0 {
		parts = append(parts, "Sensors as planned.")
	}
	return strings.Join(parts, " ")
}

func (o order) describe() string {
	var parts []string
	d := view.Decimals(o.a)
	for _, r := range o.run.Eaten {
		text := fmt.Sprintf("%s %s: %s", r.Date, r.Food, view.Cell(r.Value, d))
		if !r.Counts() {
			text += " (left out)"
		}
		parts = append(parts, text)
	}
	return fmt.Sprintf("%s in %s by date. %s. %s", upper(o.a.Endpoint.Name.Words()), o.a.Endpoint.Unit, strings.Join(parts, "; "), onePerson)
}
