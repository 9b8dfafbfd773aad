// Package card draws on-screen cards for films: one value with its interval as a
// bar, the number of tests and the level. A card without them cannot be made, as
// view.OnScreen cannot.
package card

import (
	"fmt"
	"math"
	"strings"

	"mealtrial/cmd/internal/view"
	"mealtrial/cmd/internal/view/drawing"
)

// A Shape is how much of the picture a card takes.
type Shape string

// The shapes.
const (
	Full       Shape = "full"
	LowerThird Shape = "lower-third"
)

// A Format is the size of the film.
type Format struct{ Width, Height float64 }

// The formats.
var (
	Landscape = Format{1920, 1080}
	Portrait  = Format{1080, 1920}
)

// LeastText is the height of the smallest text on a card, in pixels of the film. On
// a phone held upright, 390 points wide, a landscape film is shown at 0.2 of its
// size and a portrait one at 0.36, so this is 9 and 15 points there. Common
// practice, no source.
func (f Format) LeastText() float64 {
	if f.Width > f.Height {
		return 44
	}
	return 42
}

// Draw draws a card. Span is the range that the bar shows, for cards that follow
// each other; nil: that of the card itself. panel false leaves the paper out.
func Draw(c *view.OnScreen, f Format, shape Shape, span *Span, panel bool) *drawing.Scene {
	s := &drawing.Scene{W: f.Width, H: f.Height, Title: "On-screen card: " + strings.Join(c.Heading, " "), Desc: c.Words()}
	d := drawer{c: c, f: f, small: f.LeastText(), span: SpanOf(c)}
	if span != nil {
		d.span = *span
	}
	if shape == LowerThird {
		d.lowerThird(s, panel)
	} else {
		d.full(s, panel)
	}
	return s
}

// A Span is a range of values; of their logarithms where Log.
type Span struct {
	Low, High float64
	Log       bool
}

// at is where a value lies from x on; one without end lies at the end.
func (s Span) at(value, x, width float64) float64 {
	if s.Log {
		value = math.Log(value)
	}
	return x + (min(max(value, s.Low), s.High)-s.Low)/(s.High-s.Low)*width
}

// SpanOf is the range that the bars of cards need together.
func SpanOf(cards ...*view.OnScreen) Span {
	out := Span{Low: math.Inf(1), High: math.Inf(-1)}
	logs := true // ratios, on a logarithmic bar
	for _, c := range cards {
		logs = logs && c.Log
	}
	see := func(x float64) {
		if logs {
			x = math.Log(x)
		}
		if !math.IsInf(x, 0) {
			out.Low, out.High = min(out.Low, x), max(out.High, x)
		}
	}
	for _, c := range cards {
		see(c.Estimate)
		see(c.Low)
		see(c.High)
		see(c.Against - c.Margin)
		see(c.Against + c.Margin)
	}
	room := 0.05 * (out.High - out.Low)
	if room == 0 {
		room = 1
	}
	return Span{Low: out.Low - room, High: out.High + room, Log: logs}
}

type drawer struct {
	c     *view.OnScreen
	f     Format
	small float64
	span  Span
}

// A block is a part of a card that knows its height.
type block struct {
	height float64
	draw   func(s *drawing.Scene, x, y, width float64)
}

// text is a block of wrapped text.
func (d drawer) text(words string, width float64, lines int, style drawing.TextStyle) block {
	if words == "" {
		return block{}
	}
	wrapped, _ := drawing.Wrap(words, style.Size, style.Bold, width, lines)
	return block{float64(len(wrapped)) * style.Size * drawing.LineHeight, func(s *drawing.Scene, x, y, _ float64) {
		for i, line := range wrapped {
			s.Text(x, y+style.Size*(0.95+float64(i)*drawing.LineHeight), line, style)
		}
	}}
}

func gapOf(height float64) block { return block{height: height} }

const nameLines = 3

func (d drawer) heading(width, size float64) (blocks []block) {
	blocks = append(blocks, d.text(d.c.Stage, width, 2, drawing.TextStyle{Size: d.small, Bold: true, Role: drawing.Data}))
	for _, name := range d.c.Heading {
		blocks = append(blocks, d.text(name, width, nameLines, drawing.TextStyle{Size: size, Bold: true, Role: drawing.Ink}))
	}
	return blocks
}

func (d drawer) value(width, size float64) block {
	return d.text(d.c.Lead, width, 3, drawing.TextStyle{Size: size, Bold: true, Role: drawing.Ink})
}

func (d drawer) line(words string, width, size float64, role drawing.Role) block {
	return d.text(words, width, 6, drawing.TextStyle{Size: size, Role: role})
}

// foot is what no card is without.
func (d drawer) foot(width, size float64) []block {
	return []block{
		d.line(d.c.Interval, width, size, drawing.Ink),
		d.line(d.c.Tests+" · "+d.c.Caution, width, size, drawing.Ink),
		d.line(d.c.Note, width, d.small, drawing.Muted),
	}
}

func stack(s *drawing.Scene, blocks []block, x, y, width float64) {
	for _, b := range blocks {
		if b.draw != nil {
			b.draw(s, x, y, width)
		}
		y += b.height
	}
}

func heightOf(blocks []block) (sum float64) {
	for _, b := range blocks {
		sum += b.height
	}
	return sum
}

// padding is the distance to the edge: 5 % of the short side, within the part of
// the picture that every screen shows (the action-safe area of EBU R 95, from
// memory, is 3.5 %).
func (d drawer) padding() float64 { return math.Round(0.055 * math.Min(d.f.Width, d.f.Height)) }

// full fills the frame.
func (d drawer) full(s *drawing.Scene, panel bool) {
	if panel {
		s.Rect(0, 0, d.f.Width, d.f.Height, drawing.Paint{Fill: drawing.Paper})
	}
	pad := d.padding()
	width := d.f.Width - 2*pad
	make := func(scale float64) []block {
		size := func(x float64) float64 { return max(d.small, x*scale) }
		space := d.small * 0.5 * scale
		blocks := append(d.heading(width, size(72)), d.line(d.c.About, width, d.small, drawing.Muted), gapOf(space), d.value(width, size(150)),
			d.line(d.c.Beside, width, size(58), drawing.Ink), gapOf(space), d.bar(width), gapOf(space))
		return append(blocks, d.foot(width, size(56))...)
	}
	d.place(s, make, pad, d.f.Height-2*pad, width, false)
}

// place draws the largest version that fits into the height.
func (d drawer) place(s *drawing.Scene, make func(scale float64) []block, pad, height, width float64, bottom bool) {
	blocks := make(1)
	for scale := 1.0; heightOf(blocks) > height && scale > 0.3; scale -= 0.05 {
		blocks = make(scale)
	}
	y := pad + (height-heightOf(blocks))/2
	if bottom {
		y = d.f.Height - pad - heightOf(blocks)
	}
	stack(s, blocks, pad, y, width)
}

// lowerThird takes the lower third of the frame, or as much as its words need.
func (d drawer) lowerThird(s *drawing.Scene, panel bool) {
	pad := d.padding()
	if d.f.Width < d.f.Height {
		width := d.f.Width - 2*pad
		blocks := append(d.heading(width, d.small+6), d.line(d.c.About, width, d.small, drawing.Muted), d.value(width, 2*d.small), d.line(d.c.Beside, width, d.small, drawing.Ink), gapOf(d.small*0.3), d.bar(width))
		blocks = append(blocks, d.foot(width, d.small)...)
		d.panel(s, heightOf(blocks), panel)
		stack(s, blocks, pad, d.f.Height-pad-heightOf(blocks), width)
		return
	}
	left := math.Round(0.42 * (d.f.Width - 3*pad))
	right := d.f.Width - 3*pad - left
	words := append(d.heading(left, d.small+4), d.line(d.c.About, left, d.small, drawing.Muted), d.value(left, 2*d.small), d.line(d.c.Beside, left, d.small, drawing.Ink))
	numbers := append([]block{d.bar(right)}, d.foot(right, d.small)...)
	high := max(heightOf(words), heightOf(numbers))
	d.panel(s, high, panel)
	stack(s, words, pad, d.f.Height-pad-high, left)
	stack(s, numbers, 2*pad+left, d.f.Height-pad-high, right)
}

// panel is the paper of a lower third.
func (d drawer) panel(s *drawing.Scene, height float64, panel bool) {
	if !panel {
		return
	}
	height = max(height+2*d.padding(), d.f.Height/3)
	s.Rect(0, d.f.Height-height, d.f.Width, height, drawing.Paint{Fill: drawing.Paper, Opacity: 0.94})
	s.Rect(0, d.f.Height-height, d.f.Width, 6, drawing.Paint{Fill: drawing.Data})
}

// bar is the value and its interval on a line, against what it is read.
func (d drawer) bar(width float64) block {
	c, size := d.c, d.small
	top := size * drawing.LineHeight // the words above the bar
	thick := size * 0.9
	height := top + 2.2*thick + size*drawing.LineHeight
	return block{height, func(s *drawing.Scene, x, y, width float64) {
		at := func(v float64) float64 { return d.span.at(v, x, width) }
		lane, middle := y+top, y+top+1.1*thick
		if c.Margin > 0 {
			s.Rect(at(c.Against-c.Margin), lane, at(c.Against+c.Margin)-at(c.Against-c.Margin), 2.2*thick, drawing.Paint{Fill: drawing.Band, Stroke: drawing.Rule, Width: 2})
		}
		s.Line(drawing.Paint{Stroke: drawing.Rule, Width: 4}, drawing.Point{X: x, Y: middle}, drawing.Point{X: x + width, Y: middle})
		s.Line(drawing.Paint{Stroke: drawing.Ink, Width: 5}, drawing.Point{X: at(c.Against), Y: lane}, drawing.Point{X: at(c.Against), Y: lane + 2.2*thick})
		half := drawing.Width(c.AgainstText, size, false) / 2
		s.Text(min(max(at(c.Against), x+half), x+width-half), y+size*0.95, c.AgainstText, drawing.TextStyle{Size: size, Anchor: drawing.Middle, Role: drawing.Ink})
		s.Rect(at(c.Low), middle-thick/2, at(c.High)-at(c.Low), thick, drawing.Paint{Fill: drawing.Data, Stroke: drawing.Ink, Width: 3})
		d.arrows(s, at, middle, thick)
		s.Line(drawing.Paint{Stroke: drawing.Paper, Width: 9}, drawing.Point{X: at(c.Estimate), Y: middle - thick*0.75}, drawing.Point{X: at(c.Estimate), Y: middle + thick*0.75})
		s.Line(drawing.Paint{Stroke: drawing.Ink, Width: 5}, drawing.Point{X: at(c.Estimate), Y: middle - thick*0.85}, drawing.Point{X: at(c.Estimate), Y: middle + thick*0.85})
		d.ends(s, x, width, at(c.Low), at(c.High), lane+2.2*thick+size)
	}}
}

// arrows show where the bar runs on without end.
func (d drawer) arrows(s *drawing.Scene, at func(float64) float64, middle, thick float64) {
	for i, end := range []float64{d.c.Low, d.c.High} {
		if math.IsInf(end, 0) {
			tip, way := at(end), float64(2*i-1)
			s.Polygon([]drawing.Point{{X: tip, Y: middle}, {X: tip - way*thick, Y: middle - thick}, {X: tip - way*thick, Y: middle + thick}}, drawing.Paint{Fill: drawing.Ink})
		}
	}
}

// ends writes the limits under the ends of the bar, pushed apart where they would
// touch.
func (d drawer) ends(s *drawing.Scene, x, width, low, high, y float64) {
	style := drawing.TextStyle{Size: d.small, Bold: true, Anchor: drawing.Middle, Role: drawing.Ink}
	a, b := drawing.Width(d.c.LowText, d.small, true)/2, drawing.Width(d.c.HighText, d.small, true)/2
	apart := a + b + d.small/2
	if high-low < apart {
		middle := (low + high) / 2
		low, high = middle-apart/2, middle+apart/2
	}
	low = max(low, x+a)
	high = max(high, low+apart)
	high = min(high, x+width-b)
	low = min(low, high-apart)
	s.Text(low, y, d.c.LowText, style)
	s.Text(high, y, d.c.HighText, style)
}

// Names are what the files of a sequence are called: card-1.png, card-2.png.
func Names(base, ending string, n int) (names []string) {
	for i := range n {
		names = append(names, fmt.Sprintf("%s-%d%s", base, i+1, ending))
	}
	return names
}
