// Package drawing keeps a picture as shapes and text in pixels, measures its
// text, and writes it as SVG, PNG or PDF. It knows nothing of what is drawn.
//
// The origin is the upper left corner and y grows downwards. Colours are roles
// of a theme, so that one picture fits a light and a dark page.
package drawing

import "math"

// A Scene is a picture: what it shows in words, and its shapes from back to front.
type Scene struct {
	W, H  float64 // pixels; as SVG, user units
	Title string  // what is seen, for people who do not see it
	Desc  string  // what the picture says, with its numbers
	items []item
	texts []TextBox
}

// A Point is a place in pixels.
type Point struct{ X, Y float64 }

// A Paint says how a shape is filled and outlined. A zero role is not painted.
type Paint struct {
	Fill, Stroke Role
	Opacity      float64   // of the fill, from 0 to 1; 0: opaque
	Width        float64   // of the outline
	Dash         []float64 // lengths of line and gap; nil: a whole line
}

// An Anchor is which point of a text stands at its place.
type Anchor int

// The anchors.
const (
	Start Anchor = iota
	Middle
	End
)

// A TextStyle is how a line of text is set.
type TextStyle struct {
	Size   float64 // height of the letters from line to line is about 1.2 times as much
	Bold   bool
	Anchor Anchor
	Role   Role
	Full   string // what was abbreviated, shown where the viewer can
}

// A TextBox is where a text stands; pictures are tested for overlaps by it.
type TextBox struct {
	Text           string
	X0, Y0, X1, Y1 float64
	Size           float64
}

type kind int

const (
	pathItem kind = iota
	circleItem
	textItem
)

type item struct {
	kind   kind
	points []Point
	closed bool
	radius float64
	paint  Paint
	text   string
	style  TextStyle
}

// Rect draws a rectangle.
func (s *Scene) Rect(x, y, w, h float64, p Paint) {
	s.Polygon([]Point{{x, y}, {x + w, y}, {x + w, y + h}, {x, y + h}}, p)
}

// Polygon draws a closed shape.
func (s *Scene) Polygon(points []Point, p Paint) {
	s.items = append(s.items, item{kind: pathItem, points: points, closed: true, paint: p})
}

// Line draws an open line through points.
func (s *Scene) Line(p Paint, points ...Point) {
	if len(points) > 1 {
		p.Fill = None
		s.items = append(s.items, item{kind: pathItem, points: points, paint: p})
	}
}

// Circle draws a circle.
func (s *Scene) Circle(x, y, r float64, p Paint) {
	s.items = append(s.items, item{kind: circleItem, points: []Point{{x, y}}, radius: r, paint: p})
}

// Text draws one line of text whose baseline is at y. Control characters and
// marks that steer the direction of text are left out.
func (s *Scene) Text(x, y float64, text string, style TextStyle) {
	text = clean(text)
	if text == "" {
		return
	}
	w := Width(text, style.Size, style.Bold)
	left := x
	switch style.Anchor {
	case Middle:
		left -= w / 2
	case End:
		left -= w
	}
	s.items = append(s.items, item{kind: textItem, points: []Point{{left, y}}, text: text, style: style})
	s.texts = append(s.texts, TextBox{text, left, y - ascent*style.Size, left + w, y + descent*style.Size, style.Size})
}

// Texts returns where each text stands.
func (s *Scene) Texts() []TextBox { return s.texts }

// A Shape is the form of a mark, so that colour never carries meaning alone.
type Shape int

// Shapes is how many there are; a number beyond starts over.
const Shapes = 8

// Mark draws a mark whose area is about that of a circle of radius r.
func (s *Scene) Mark(shape Shape, x, y, r float64, p Paint) {
	regular := func(n int, r, turn float64) {
		var points []Point
		for i := range n {
			a := turn + 2*math.Pi*float64(i)/float64(n)
			points = append(points, Point{x + r*math.Sin(a), y - r*math.Cos(a)})
		}
		s.Polygon(points, p)
	}
	switch shape % Shapes {
	case 0:
		s.Circle(x, y, r, p)
	case 1:
		regular(4, 1.25*r, math.Pi/4)
	case 2:
		regular(3, 1.4*r, 0)
	case 3:
		regular(4, 1.3*r, 0)
	case 4:
		regular(3, 1.4*r, math.Pi)
	case 5:
		s.cross(x, y, r, 0, p)
	case 6:
		s.cross(x, y, r, math.Pi/4, p)
	default:
		regular(5, 1.2*r, 0)
	}
}

// cross draws a filled cross, upright or turned.
func (s *Scene) cross(x, y, r, turn float64, p Paint) {
	const thin, far = 0.38, 1.25
	var points []Point
	for _, c := range []Point{{-thin, -far}, {thin, -far}, {thin, -thin}, {far, -thin}, {far, thin}, {thin, thin},
		{thin, far}, {-thin, far}, {-thin, thin}, {-far, thin}, {-far, -thin}, {-thin, -thin}} {
		points = append(points, Point{x + r*(c.X*math.Cos(turn)-c.Y*math.Sin(turn)), y + r*(c.X*math.Sin(turn)+c.Y*math.Cos(turn))})
	}
	s.Polygon(points, p)
}
