// Package figure draws the pictures of a study: differences, foods, curves, run
// order and power. It draws what it is given and computes nothing.
package figure

import (
	"fmt"
	"math"

	"mealtrial/cmd/internal/view/drawing"
)

// A Size is the size that is asked for, in pixels. A zero height is as high as the
// picture needs.
type Size struct{ Width, Height float64 }

// Bounds of a width.
const (
	LeastWidth = 320
	MostSize   = 8000
)

// A SizeError says that a picture does not fit.
type SizeError struct {
	Side         string // width or height
	Found, Least float64
}

func (e *SizeError) Error() string {
	return fmt.Sprintf("found a %s of %g, expected at least %g pixels, so that no text is cut off", e.Side, e.Found, math.Ceil(e.Least))
}

// Sizes of text and distances, in pixels. Text is at least 12 pixels high.
const (
	titleSize = 18.0
	textSize  = 13.0
	smallSize = 12.0
	margin    = 20.0
	gap       = 10.0
	markSize  = 5.0
	narrow    = 640.0 // below it labels stand above, not beside
)

var (
	inkLine  = drawing.Paint{Stroke: drawing.Ink, Width: 1.5}
	axisLine = drawing.Paint{Stroke: drawing.Ink, Width: 1}
	gridLine = drawing.Paint{Stroke: drawing.Rule, Width: 1}
	bandFill = drawing.Paint{Fill: drawing.Band}
)

// A sheet is a picture that grows downwards.
type sheet struct {
	*drawing.Scene
	y float64 // where the next thing goes
}

// fit draws a picture with as much room as the asked height leaves over. draw gets
// that room and says how high the picture became.
func fit(size Size, draw func(s *sheet, room float64)) (*drawing.Scene, error) {
	if size.Width < LeastWidth {
		return nil, &SizeError{"width", size.Width, LeastWidth}
	}
	once := func(room float64) *drawing.Scene {
		s := &sheet{Scene: &drawing.Scene{W: size.Width}, y: margin}
		draw(s, room)
		s.H = math.Ceil(s.y + margin)
		return s.Scene
	}
	scene := once(0)
	switch {
	case size.Height == 0 || size.Height == scene.H:
		return scene, nil
	case size.Height < scene.H:
		return nil, &SizeError{"height", size.Height, scene.H}
	}
	scene = once(size.Height - scene.H)
	scene.H = size.Height
	return scene, nil
}

func (s *sheet) inner() float64 { return s.W - 2*margin }

// lines sets wrapped text from x and moves down.
func (s *sheet) lines(x, width float64, text string, most int, style drawing.TextStyle) {
	wrapped, short := drawing.Wrap(text, style.Size, style.Bold, width, most)
	if short && style.Full == "" {
		style.Full = text
	}
	for _, line := range wrapped {
		s.y += style.Size
		at := x
		switch style.Anchor {
		case drawing.Middle:
			at = x + width/2
		case drawing.End:
			at = x + width
		}
		s.Text(at, s.y, line, style)
		s.y += style.Size * (drawing.LineHeight - 1)
	}
}

// high is how high wrapped text becomes.
func high(text string, width float64, most int, size float64, bold bool) float64 {
	wrapped, _ := drawing.Wrap(text, size, bold, width, most)
	return float64(len(wrapped)) * size * drawing.LineHeight
}

// wide is the width that the widest line of wrapped text takes.
func wide(text string, width float64, most int, size float64, bold bool) float64 {
	wrapped, _ := drawing.Wrap(text, size, bold, width, most)
	out := 0.0
	for _, line := range wrapped {
		out = max(out, drawing.Width(line, size, bold))
	}
	return out
}

const manyLines = 20 // for text that is never abbreviated

// heading writes the title and what is seen.
func (s *sheet) heading(title, under string) {
	s.Title = title
	s.lines(margin, s.inner(), title, manyLines, drawing.TextStyle{Size: titleSize, Bold: true, Role: drawing.Ink})
	s.y += 2
	if under != "" {
		s.lines(margin, s.inner(), under, manyLines, drawing.TextStyle{Size: textSize, Role: drawing.Muted})
	}
	s.y += gap
}

// notes are the small print.
func (s *sheet) notes(notes ...string) {
	s.y += gap / 2
	for _, n := range notes {
		if n != "" {
			s.lines(margin, s.inner(), n, manyLines, drawing.TextStyle{Size: smallSize, Role: drawing.Muted})
		}
	}
}

const onePerson = "One person, not advice."

// A key says in words what a mark means.
type key struct {
	words string
	draw  func(x, y float64) // around a point, keyWidth wide
}

const keyWidth = 22

// keys sets the keys in as many lines as they need.
func (s *sheet) keys(keys []key) {
	s.y += gap / 2
	x := margin
	line := smallSize*drawing.LineHeight + 4
	for _, k := range keys {
		most := s.inner() - keyWidth - 6
		words, _ := drawing.Wrap(k.words, smallSize, false, most, manyLines)
		width := keyWidth + 6 + wide(k.words, most, manyLines, smallSize, false)
		if x > margin && x+width > margin+s.inner() {
			x = margin
			s.y += line
		}
		k.draw(x+keyWidth/2, s.y+line/2)
		for i, w := range words {
			s.Text(x+keyWidth+6, s.y+line/2+smallSize*0.35+float64(i)*smallSize*drawing.LineHeight, w, drawing.TextStyle{Size: smallSize, Role: drawing.Ink})
		}
		if len(words) > 1 {
			s.y += float64(len(words)-1) * smallSize * drawing.LineHeight
			x = margin + s.inner()
			continue
		}
		x += width + 18
	}
	s.y += line
}
