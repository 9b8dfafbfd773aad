package drawing

import (
	"fmt"
	"image/color"
	"io"
	"math"
	"slices"
	"strings"
	"sync"
	"time"
	"unicode"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"codeberg.org/go-pdf/fpdf"
	xfont "golang.org/x/image/font"
	"golang.org/x/text/unicode/bidi"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/vgimg"
)

// replacement stands in PNG and PDF for a letter that the fonts do not have.
const replacement = "□"

// Missing names the letters of the picture that PNG and PDF replace, each once.
// SVG leaves them to the fonts of the viewer.
func (s *Scene) Missing() (letters []string) {
	for _, it := range s.items {
		if it.kind != textItem {
			continue
		}
		for _, letter := range split(it.text) {
			if !drawable(letter, it.style.Bold) && !slices.Contains(letters, letter) {
				letters = append(letters, letter)
			}
		}
	}
	return letters
}

// visual puts a text into the order in which it is seen from left to right, in a
// line that runs from left to right (Unicode Standard Annex 9), with the letters
// that are missing replaced.
func visual(text string, bold bool) string {
	var b strings.Builder
	for _, letter := range split(text) {
		if !drawable(letter, bold) {
			letter = replacement
		}
		b.WriteString(letter)
	}
	return reorder(b.String())
}

// leftToRight is the mark that makes a line run from left to right.
const leftToRight = "\u200e"

// reorder applies rule L2 of the annex. The library finds the runs but neither
// their levels nor their order: a run from left to right with digits and no letter, behind
// one from right to left, is a number within that.
func reorder(text string) string {
	var p bidi.Paragraph
	if _, err := p.SetString(leftToRight + text); err != nil {
		return text
	}
	order, err := p.Order()
	if err != nil {
		return text
	}
	var out, inner []string // inner: what goes from right to left, last run first
	for i := range order.NumRuns() {
		run := order.Run(i)
		words := strings.ReplaceAll(run.String(), leftToRight, "")
		switch {
		case run.Direction() == bidi.RightToLeft:
			inner = slices.Insert(inner, 0, bidi.ReverseString(words))
		case len(inner) > 0 && strings.ContainsFunc(words, unicode.IsDigit) && !strings.ContainsFunc(words, unicode.IsLetter):
			inner = slices.Insert(inner, 0, words)
		default:
			out, inner = append(append(out, inner...), words), nil
		}
	}
	return strings.Join(append(out, inner...), "")
}

var fonts = sync.OnceValue(func() *font.Cache {
	return font.NewCache(font.Collection{
		{Font: font.Font{Typeface: "Liberation", Variant: "Sans"}, Face: face(false).font},
		{Font: font.Font{Typeface: "Liberation", Variant: "Sans", Weight: xfont.WeightBold}, Face: face(true).font},
	})
})

// WritePNG writes the picture as PNG.
func (s *Scene) WritePNG(w io.Writer, o Options) error {
	scale := o.Scale
	if scale == 0 {
		scale = 1
	}
	background := color.Color(color.Transparent)
	if !o.Transparent {
		background = rgb(Paper, o.Dark, 1)
	}
	const dpi = 72 // a point of gonum/plot is then a pixel
	c := vgimg.NewWith(vgimg.UseWH(vg.Length(s.W), vg.Length(s.H)), vgimg.UseDPI(int(math.Round(dpi*scale))), vgimg.UseBackgroundColor(background))
	for _, it := range s.items {
		it.raster(c, s.H, o.Dark)
	}
	_, err := vgimg.PngCanvas{Canvas: c}.WriteTo(w)
	return err
}

// raster draws on a canvas of gonum/plot, whose y grows upwards.
func (it item) raster(c vg.Canvas, height float64, dark bool) {
	at := func(p Point) vg.Point { return vg.Point{X: vg.Length(p.X), Y: vg.Length(height - p.Y)} }
	if it.kind == textItem {
		f := font.Font{Typeface: "Liberation", Variant: "Sans"}
		if it.style.Bold {
			f.Weight = xfont.WeightBold
		}
		c.SetColor(rgb(it.style.Role, dark, 1))
		c.FillString(fonts().Lookup(f, vg.Length(it.style.Size)), at(it.points[0]), visual(it.text, it.style.Bold))
		return
	}
	var path vg.Path
	if it.kind == circleItem {
		centre, r := at(it.points[0]), vg.Length(it.radius)
		path.Move(vg.Point{X: centre.X + r, Y: centre.Y})
		path.Arc(centre, r, 0, 2*math.Pi)
		path.Close()
	}
	for i, p := range it.points {
		switch {
		case it.kind == circleItem:
		case i == 0:
			path.Move(at(p))
		default:
			path.Line(at(p))
		}
	}
	if it.closed {
		path.Close()
	}
	if it.paint.Fill != None {
		c.SetColor(rgb(it.paint.Fill, dark, it.paint.Opacity))
		c.Fill(path)
	}
	if it.paint.Stroke != None {
		c.SetColor(rgb(it.paint.Stroke, dark, 1))
		c.SetLineWidth(vg.Length(it.paint.Width))
		var dash []vg.Length
		for _, d := range it.paint.Dash {
			dash = append(dash, vg.Length(d))
		}
		c.SetLineDash(dash, 0)
		c.Stroke(path)
	}
}

const pointsPerPixel = 72.0 / 96 // CSS: 96 pixels an inch

// WritePDF writes the picture as PDF with text that can be selected. A PDF has no
// paper of its own, so Transparent leaves out the rectangle behind the picture.
func (s *Scene) WritePDF(w io.Writer, o Options) error {
	doc := fpdf.NewCustom(&fpdf.InitType{UnitStr: "pt", Size: fpdf.SizeType{Wd: s.W * pointsPerPixel, Ht: s.H * pointsPerPixel}})
	doc.SetCatalogSort(true)
	doc.SetCreationDate(time.Unix(0, 0).UTC()) // the same picture, the same bytes
	doc.SetModificationDate(time.Unix(0, 0).UTC())
	doc.SetTitle(s.Title, true)
	doc.SetSubject(s.Desc, true)
	doc.SetLang("en")
	doc.SetMargins(0, 0, 0)
	doc.SetAutoPageBreak(false, 0)
	doc.AddUTF8FontFromBytes("sans", "", slices.Clone(liberationsansregular.TTF))
	doc.AddUTF8FontFromBytes("sans", "B", slices.Clone(liberationsansbold.TTF))
	doc.AddPage()
	if !o.Transparent {
		paint := Paint{Fill: Paper}
		item{kind: pathItem, closed: true, points: []Point{{0, 0}, {s.W, 0}, {s.W, s.H}, {0, s.H}}, paint: paint}.pdf(doc, o.Dark)
	}
	for _, it := range s.items {
		it.pdf(doc, o.Dark)
	}
	if err := doc.Output(w); err != nil {
		return fmt.Errorf("cannot write the PDF: %w", err)
	}
	return nil
}

func (it item) pdf(doc *fpdf.Fpdf, dark bool) {
	at := func(p Point) (x, y float64) { return p.X * pointsPerPixel, p.Y * pointsPerPixel }
	if it.kind == textItem {
		weight := ""
		if it.style.Bold {
			weight = "B"
		}
		c := rgb(it.style.Role, dark, 1)
		doc.SetAlpha(1, "Normal")
		doc.SetTextColor(int(c.R), int(c.G), int(c.B))
		doc.SetFont("sans", weight, it.style.Size*pointsPerPixel)
		x, y := at(it.points[0])
		doc.Text(x, y, visual(it.text, it.style.Bold))
		return
	}
	draw := func(how string) {
		if it.kind == circleItem {
			x, y := at(it.points[0])
			doc.Circle(x, y, it.radius*pointsPerPixel, how)
			return
		}
		for i, p := range it.points {
			x, y := at(p)
			if i == 0 {
				doc.MoveTo(x, y)
			} else {
				doc.LineTo(x, y)
			}
		}
		if it.closed {
			doc.ClosePath()
		}
		doc.DrawPath(how)
	}
	if it.paint.Fill != None {
		c := rgb(it.paint.Fill, dark, it.paint.Opacity)
		doc.SetAlpha(float64(c.A)/255, "Normal")
		doc.SetFillColor(int(c.R), int(c.G), int(c.B))
		draw("F")
	}
	if it.paint.Stroke != None {
		c := rgb(it.paint.Stroke, dark, 1)
		doc.SetAlpha(1, "Normal")
		doc.SetDrawColor(int(c.R), int(c.G), int(c.B))
		doc.SetLineWidth(it.paint.Width * pointsPerPixel)
		doc.SetLineCapStyle("butt")
		doc.SetLineJoinStyle("round")
		dash := make([]float64, len(it.paint.Dash))
		for i, d := range it.paint.Dash {
			dash[i] = d * pointsPerPixel
		}
		doc.SetDashPattern(dash, 0)
		draw("D")
	}
}
