package figure

import (
	"fmt"
	"strings"

	"mealtrial/cmd/internal/view"
	"mealtrial/cmd/internal/view/drawing"
	"mealtrial/protocol"
	"mealtrial/stats"
)

// Differences draws each question about a difference as an interval against zero
// and the band of differences that are too small to matter.
func Differences(a *protocol.Analysis, size Size) (*drawing.Scene, error) {
	return questions(a, size, ofDifferences)
}

// A subject is what the questions of a picture are about.
type subject int

const (
	ofDifferences subject = iota
	ofRatios
	ofLimits
)

func questions(a *protocol.Analysis, size Size, about subject) (*drawing.Scene, error) {
	d := differences{a: a, about: about, decimals: view.DifferenceDecimals(a)}
	for _, q := range a.Questions {
		if about.of(q) {
			d.asked = append(d.asked, q)
			if about == ofDifferences && q.Margin != nil {
				d.margin = float64(*q.Margin)
			}
		}
	}
	return fit(size, d.draw)
}

type differences struct {
	a        *protocol.Analysis
	about    subject
	asked    []protocol.Answer
	margin   float64
	decimals int
}

func (d differences) draw(s *sheet, room float64) {
	a := d.a
	s.heading(d.heading())
	s.Desc = d.describe()
	if len(d.asked) == 0 {
		s.lines(margin, s.inner(), d.nothing(), manyLines, drawing.TextStyle{Size: textSize, Role: drawing.Ink})
		s.y += room
		return
	}
	x := d.columns(s)
	top := s.y
	rows := make([]float64, len(d.asked))
	for i, q := range d.asked {
		rows[i] = d.rowHeight(s, q) + room/float64(len(d.asked))
	}
	bottom := top
	for _, h := range rows {
		bottom += h
	}
	if s.W >= narrow {
		d.ground(s, x, top, bottom)
	}
	for i, q := range d.asked {
		d.row(s, x, q, rows[i], i > 0)
	}
	if s.W < narrow {
		s.belowBy(d.ticks(), x, bottom, bottom)
	}
	s.y = bottom + belowHeight
	d.axisWords(s, x)
	if d.margin > 0 {
		s.keys([]key{{fmt.Sprintf("differences of up to %s %s, too small to matter as declared", view.Declared(d.margin), a.Endpoint.Unit),
			func(x, y float64) {
				s.Rect(x-11, y-6, 22, 12, drawing.Paint{Fill: drawing.Band, Stroke: drawing.Rule, Width: 1})
			}}})
	}
	s.notes(d.others(), d.method(), fmt.Sprintf("%s counted. %s", view.Tests(a.Tests), onePerson))
}

// Columns of a row: the question, the picture, the answer in words.
func (d differences) labelWidth(s *sheet) float64 {
	w := 0.0
	for _, q := range d.asked {
		for _, side := range d.sides(q) {
			w = max(w, wide(side, 0.3*s.W, labelLines, textSize, false))
		}
	}
	return w
}

const (
	labelLines = 4
	stripe     = 26.0 // height of a bar with its mark
)

func (d differences) answerWidth(s *sheet) float64 {
	w := 0.0
	for _, q := range d.asked {
		number, verdict := d.words(q)
		w = max(w, wide(number, 0.3*s.W, manyLines, textSize, true), wide(verdict, 0.24*s.W, manyLines, smallSize, false))
	}
	return w
}

func (d differences) columns(s *sheet) scale {
	low, high := d.span()
	x := scale{low: low, high: high, from: margin + 8, to: s.W - margin - 8, log: d.about == ofRatios}
	if s.W >= narrow {
		x.from, x.to = margin+d.labelWidth(s)+2*gap, s.W-margin-d.answerWidth(s)-2*gap
	}
	return x
}

// sides are the two foods of a question, each on its own lines.
func (d differences) sides(q protocol.Answer) []string {
	if q.Kind == protocol.Contrast {
		return []string{q.Question}
	}
	if d.about == ofLimits {
		return []string{view.Asked(d.a, q)}
	}
	return []string{view.FoodName(d.a, q.A), "vs " + view.FoodName(d.a, q.B)}
}

// words are the number and the verdict of a row.
func (d differences) words(q protocol.Answer) (number, verdict string) {
	switch {
	case q.Estimate == nil:
		number = "no estimate"
	case d.about != ofDifferences:
		number = d.numberOf(q)
	case q.Low == nil || q.High == nil:
		number = view.Cell(q.Estimate, d.decimals) + ", interval without end"
	default:
		number = fmt.Sprintf("%s (%s to %s)", view.Cell(q.Estimate, d.decimals), view.Cell(q.Low, d.decimals), view.Cell(q.High, d.decimals))
	}
	verdict = view.Verdict(q)
	if q.Missing != "" {
		verdict += ": " + q.Missing
	}
	if q.Later {
		verdict += "; asked after the data"
	}
	if d.about == ofLimits {
		return number, fmt.Sprintf("%s; tests: %d", verdict, q.Tests)
	}
	return number, fmt.Sprintf("%s; tests: %d, %d", verdict, q.TestsA, q.TestsB)
}

func (d differences) rowHeight(s *sheet, q protocol.Answer) float64 {
	number, verdict := d.words(q)
	if s.W < narrow {
		return d.labelHeight(q, s.inner()) + stripe + high(number+" — "+verdict, s.inner(), manyLines, smallSize, false) + 2*gap
	}
	answer := high(number, d.answerWidth(s)+1, manyLines, textSize, true) + high(verdict, d.answerWidth(s)+1, manyLines, smallSize, false)
	return max(d.labelHeight(q, d.labelWidth(s)+1), answer, stripe) + 1.5*gap
}

func (d differences) labelHeight(q protocol.Answer, width float64) (h float64) {
	for _, side := range d.sides(q) {
		h += high(side, width, labelLines, textSize, false)
	}
	return h
}

// ground is what lies behind the bars.
func (d differences) ground(s *sheet, x scale, top, bottom float64) {
	if d.margin > 0 {
		s.Rect(x.at(-d.margin), top, x.at(d.margin)-x.at(-d.margin), bottom-top, bandFill)
	}
	if s.W >= narrow {
		s.belowBy(d.ticks(), x, top, bottom)
	}
	if none, ok := d.none(); ok {
		s.Line(inkLine, drawing.Point{X: x.at(none), Y: top}, drawing.Point{X: x.at(none), Y: bottom})
	}
}

// verdictLook gives every verdict its own mark besides its words.
func verdictLook(v stats.Verdict) (shape drawing.Shape, role drawing.Role, filled bool) {
	switch v {
	case stats.Different, stats.ShownBelow:
		return 0, drawing.Data, true
	case stats.ShownAbove:
		return 1, drawing.Data + 1, true
	case stats.TooSmallToMatter:
		return 1, drawing.Data + 2, true
	case stats.NoDifferenceThatMatters:
		return 3, drawing.Data + 2, true
	}
	return 0, drawing.Muted, false
}

func (d differences) row(s *sheet, x scale, q protocol.Answer, height float64, line bool) {
	top := s.y
	if line {
		s.Line(gridLine, drawing.Point{X: margin, Y: top}, drawing.Point{X: s.W - margin, Y: top})
	}
	number, verdict := d.words(q)
	label := func(width float64) {
		for _, side := range d.sides(q) {
			s.lines(margin, width, side, labelLines, drawing.TextStyle{Size: textSize, Role: drawing.Ink})
		}
	}
	var middle float64
	if s.W < narrow {
		s.y = top + gap
		label(s.inner())
		words := high(number+" — "+verdict, s.inner(), manyLines, smallSize, false)
		middle = (s.y + top + height - gap - words) / 2
		d.ground(s, x, middle-stripe/2, middle+stripe/2)
		s.y = top + height - gap - words
		s.lines(margin, s.inner(), number+" — "+verdict, manyLines, drawing.TextStyle{Size: smallSize, Role: drawing.Ink})
	} else {
		width := d.labelWidth(s) + 1
		middle = top + height/2
		s.y = middle - d.labelHeight(q, width)/2
		label(width)
		width = d.answerWidth(s) + 1
		s.y = middle - (high(number, width, manyLines, textSize, true)+high(verdict, width, manyLines, smallSize, false))/2
		s.lines(x.to+2*gap, width, number, manyLines, drawing.TextStyle{Size: textSize, Bold: true, Role: drawing.Ink})
		s.lines(x.to+2*gap, width, verdict, manyLines, drawing.TextStyle{Size: smallSize, Role: drawing.Muted})
	}
	if q.Estimate != nil {
		shape, role, filled := verdictLook(q.Verdict)
		if q.Limit != nil {
			s.bound(x, middle, float64(*q.Limit))
		}
		for _, piece := range d.pieces(q) {
			s.interval(x, middle, piece[0], piece[1], 3, role)
		}
		paint := drawing.Paint{Fill: drawing.Paper, Stroke: role, Width: 2}
		if filled {
			paint = drawing.Paint{Fill: role, Stroke: drawing.Ink, Width: 1}
		}
		if estimate := float64(*q.Estimate); estimate > 0 || !x.log {
			s.Mark(shape, x.hold(x.at(estimate)), middle, markSize+1, paint)
		}
	}
	s.y = top + height
}

// axisWords say which way is which.
func (d differences) axisWords(s *sheet, x scale) {
	none, ok := d.none()
	if !ok {
		return
	}
	left, right := "← lower after the first", "higher after the first →"
	style := drawing.TextStyle{Size: smallSize, Role: drawing.Muted}
	zero := x.at(none)
	s.y += smallSize
	if drawing.Width(left, smallSize, false) < zero-margin-4 {
		style.Anchor = drawing.End
		s.Text(zero-8, s.y, left, style)
	}
	if drawing.Width(right, smallSize, false) < s.W-margin-zero-4 {
		style.Anchor = drawing.Start
		s.Text(zero+8, s.y, right, style)
	}
	s.y += smallSize * 0.5
}

func (d differences) describe() string {
	var parts []string
	for _, q := range d.asked {
		number, verdict := d.words(q)
		parts = append(parts, fmt.Sprintf("%s: %s; %s.", strings.Join(d.sides(q), " "), strings.TrimSpace(number+" "+d.unit()), verdict))
	}
	if d.margin > 0 {
		parts = append(parts, fmt.Sprintf("The smallest difference that matters is %s %s.", view.Declared(d.margin), d.a.Endpoint.Unit))
	}
	return strings.Join(append(parts, onePerson), " ")
}
