package figure

import (
	"fmt"
	"strings"

	"mealtrial/cmd/internal/view"
	"mealtrial/cmd/internal/view/drawing"
	"mealtrial/protocol"
	"mealtrial/stats"
)

// Power draws how wide the interval is and how likely each verdict, against the
// number of repeats and of test days.
func Power(p *protocol.Power, size Size) (*drawing.Scene, error) { return fit(size, power{p}.draw) }

type power struct{ p *protocol.Power }

const powerHeight = 190.0

func (w power) draw(s *sheet, room float64) {
	p := w.p
	s.heading("What the study can show: "+p.Question, fmt.Sprintf("By the number of tests of each food; under it the days of testing that this takes. Spread of single tests: SD %s %s, %s", view.Value(float64(p.Spread.SD)), p.Unit, p.Spread.From))
	s.Desc = w.describe()
	panels := 1 + len(p.Sizes)
	columns := min(panels, int(max(1, (s.inner()+panelGap)/(250+panelGap))))
	rows := (panels + columns - 1) / columns
	if columns > 1 {
		columns = (panels + rows - 1) / rows
	}
	width := (s.inner() - float64(columns-1)*panelGap) / float64(columns)
	height := powerHeight + room/float64(rows)
	for row := range rows {
		top, names := s.y, 0.0
		first, last := row*columns, min(panels, (row+1)*columns)
		for i := first; i < last; i++ {
			names = max(names, high(w.title(i), width, manyLines, textSize, true))
		}
		for i := first; i < last; i++ {
			x := margin + float64(i-first)*(width+panelGap)
			s.y = top
			s.lines(x, width, w.title(i), manyLines, drawing.TextStyle{Size: textSize, Bold: true, Role: drawing.Ink})
			w.panel(s, i, x, top+names+gap+2, width, height)
		}
		s.y = top + names + 6 + height + 2*belowHeight + gap
	}
	var keys []key
	for i := range verdicts {
		keys = append(keys, key{verdicts[i].words, func(x, y float64) {
			s.Line(drawing.Paint{Stroke: verdicts[i].role, Width: 2}, drawing.Point{X: x - 11, Y: y}, drawing.Point{X: x + 11, Y: y})
			w.mark(s, i, x, y)
		}})
	}
	s.keys(keys)
	s.notes(append([]string{"Method: " + p.Method + "."}, append(p.Warnings, onePerson)...)...)
}

// verdicts have a colour, a shape and words each.
var verdicts = []struct {
	words string
	role  drawing.Role
	shape drawing.Shape
	of    func(protocol.ChanceRow) protocol.Number
}{
	{stats.Different.Words(), drawing.Data, 0, func(c protocol.ChanceRow) protocol.Number { return c.Different }},
	{stats.TooSmallToMatter.Words(), drawing.Data + 4, 1, func(c protocol.ChanceRow) protocol.Number { return c.TooSmall }},
	{stats.NoDifferenceThatMatters.Words(), drawing.Data + 2, 3, func(c protocol.ChanceRow) protocol.Number { return c.NoDifference }},
	{stats.Open.Words(), drawing.Muted, 6, func(c protocol.ChanceRow) protocol.Number { return c.Open }},
}

func (w power) mark(s *sheet, verdict int, x, y float64) {
	v := verdicts[verdict]
	s.Mark(v.shape, x, y, markSize-1, drawing.Paint{Fill: v.role, Stroke: drawing.Ink, Width: 0.6})
}

func (w power) title(panel int) string {
	if panel == 0 {
		return fmt.Sprintf("Half width of the %s interval, %s", protocol.Percent(float64(w.p.Level)), w.p.Unit)
	}
	return fmt.Sprintf("Chance of each verdict, %%, if the true difference is %s %s", view.Declared(float64(w.p.Sizes[panel-1])), w.p.Unit)
}

func (w power) panel(s *sheet, panel int, left, top, width, height float64) {
	low, high := 0.0, 100.0
	if panel == 0 {
		numbers := []float64{0}
		for _, r := range w.p.Rows {
			if r.Width != nil {
				numbers = append(numbers, float64(*r.Width))
			}
		}
		if w.p.Margin != nil {
			numbers = append(numbers, float64(*w.p.Margin))
		}
		_, high = spanOf(numbers...)
	}
	axis := besideWidth(low, high, height)
	y := linear(low, high, top+height, top)
	x := linear(float64(w.p.Rows[0].Repeats)-0.4, float64(w.p.Rows[len(w.p.Rows)-1].Repeats)+0.4, left+axis, left+width)
	s.beside(y, x.from, x.to)
	s.Line(axisLine, drawing.Point{X: x.from, Y: y.from}, drawing.Point{X: x.to, Y: y.from})
	w.counts(s, x, top+height)
	if panel == 0 {
		w.widths(s, x, y)
		return
	}
	for i := range verdicts {
		var line []drawing.Point
		for _, r := range w.p.Rows {
			if panel-1 < len(r.Chances) {
				line = append(line, drawing.Point{X: x.at(float64(r.Repeats)), Y: y.at(100 * float64(verdicts[i].of(r.Chances[panel-1])))})
			}
		}
		s.Line(drawing.Paint{Stroke: verdicts[i].role, Width: 2}, line...)
		for _, p := range line {
			w.mark(s, i, p.X, p.Y)
		}
	}
}

// counts labels the axis with repeats and, under them, with test days.
func (w power) counts(s *sheet, x scale, y float64) {
	free := x.from - 12
	for _, r := range w.p.Rows {
		px := x.at(float64(r.Repeats))
		tests, days := fmt.Sprint(r.Repeats), fmt.Sprintf("%d d", r.TestDays)
		half := max(drawing.Width(tests, smallSize, false), drawing.Width(days, smallSize, false)) / 2
		if px-half < free {
			continue
		}
		free = px + half + 6
		s.Text(px, y+smallSize+3, tests, drawing.TextStyle{Size: smallSize, Anchor: drawing.Middle, Role: drawing.Ink})
		s.Text(px, y+2*smallSize+8, days, drawing.TextStyle{Size: smallSize, Anchor: drawing.Middle, Role: drawing.Muted})
	}
}

func (w power) widths(s *sheet, x, y scale) {
	if w.p.Margin != nil {
		at := y.at(float64(*w.p.Margin))
		s.Line(drawing.Paint{Stroke: drawing.Ink, Width: 1.2, Dash: []float64{6, 4}}, drawing.Point{X: x.from, Y: at}, drawing.Point{X: x.to, Y: at})
		words := "margin " + view.Declared(float64(*w.p.Margin))
		s.Text(x.from+4, at-4, words, drawing.TextStyle{Size: smallSize, Role: drawing.Ink})
	}
	var line []drawing.Point
	for _, r := range w.p.Rows {
		if r.Width != nil {
			line = append(line, drawing.Point{X: x.at(float64(r.Repeats)), Y: y.at(float64(*r.Width))})
		}
	}
	s.Line(drawing.Paint{Stroke: drawing.Data, Width: 2}, line...)
	for _, p := range line {
		s.Mark(0, p.X, p.Y, markSize-1, drawing.Paint{Fill: drawing.Data, Stroke: drawing.Ink, Width: 0.6})
	}
}

func (w power) describe() string {
	var parts []string
	for _, r := range w.p.Rows {
		text := fmt.Sprintf("%d tests of each, %d test days: ", r.Repeats, r.TestDays)
		if r.Width == nil {
			parts = append(parts, text+"no interval.")
			continue
		}
		text += fmt.Sprintf("interval ± %s %s", view.Value(float64(*r.Width)), w.p.Unit)
		for i, c := range r.Chances {
			text += fmt.Sprintf("; with a true difference of %s:", view.Declared(float64(w.p.Sizes[i])))
			for _, v := range verdicts {
				text += fmt.Sprintf(" %s %s,", v.words, view.Chance(float64(v.of(c))))
			}
			text = strings.TrimSuffix(text, ",")
		}
		parts = append(parts, text+".")
	}
	return strings.Join(append(parts, onePerson), " ")
}
