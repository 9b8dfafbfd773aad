package drawing

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"strconv"
)

// Options say how a picture is written.
type Options struct {
	Transparent bool // no paper behind the picture
	Dark        bool // for dark paper
	// InPage is for SVG inside a page that has the custom properties of Style: it
	// takes the page's colours and its width. ID keeps its parts apart from those of
	// other pictures of the page.
	InPage bool
	ID     string
	Scale  float64 // PNG: pixels per pixel of the scene; 0: 1
}

// WriteSVG writes the picture as SVG 1.1 with its title and description, the
// widths of lines of text fixed to those that were measured where the measure is
// exact.
func (s *Scene) WriteSVG(w io.Writer, o Options) error {
	var b bytes.Buffer
	id := o.ID
	if id == "" {
		id = "picture"
	}
	size := fmt.Sprintf(` width="%s" height="%s"`, num(s.W), num(s.H))
	if o.InPage {
		size = ""
	}
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" role="img" aria-labelledby="%[1]s-title %[1]s-desc"%[2]s viewBox="0 0 %[3]s %[4]s" font-family="Liberation Sans, Arimo, sans-serif">`+"\n",
		id, size, num(s.W), num(s.H))
	fmt.Fprintf(&b, "<title id=\"%s-title\">%s</title>\n<desc id=\"%s-desc\">%s</desc>\n", id, escape(s.Title), id, escape(s.Desc))
	if !o.Transparent {
		fmt.Fprintf(&b, `<rect width="%s" height="%s" fill="%s"/>`+"\n", num(s.W), num(s.H), o.colour(Paper))
	}
	for _, it := range s.items {
		it.svg(&b, o)
	}
	b.WriteString("</svg>\n")
	_, err := w.Write(b.Bytes())
	return err
}

func (o Options) colour(role Role) string {
	t := tones[role]
	if o.InPage {
		return "var(--pic-" + t.name + ")"
	}
	return hex(t.of(o.Dark))
}

func hex(x uint32) string { return fmt.Sprintf("#%06x", x) }

func (it item) svg(b *bytes.Buffer, o Options) {
	switch it.kind {
	case circleItem:
		fmt.Fprintf(b, `<circle cx="%s" cy="%s" r="%s"%s/>`+"\n", num(it.points[0].X), num(it.points[0].Y), num(it.radius), it.paint.svg(o))
	case pathItem:
		b.WriteString(`<path d="`)
		for i, p := range it.points {
			b.WriteString(map[bool]string{true: "M", false: "L"}[i == 0] + num(p.X) + " " + num(p.Y))
		}
		if it.closed {
			b.WriteByte('Z')
		}
		fmt.Fprintf(b, `"%s/>`+"\n", it.paint.svg(o))
	case textItem:
		it.svgText(b, o)
	}
}

func (it item) svgText(b *bytes.Buffer, o Options) {
	fmt.Fprintf(b, `<text x="%s" y="%s" font-size="%s" fill="%s"`, num(it.points[0].X), num(it.points[0].Y), num(it.style.Size), o.colour(it.style.Role))
	if it.style.Bold {
		b.WriteString(` font-weight="700"`)
	}
	if drawable(it.text, it.style.Bold) { // else the viewer's own font and width
		fmt.Fprintf(b, ` textLength="%s" lengthAdjust="spacingAndGlyphs"`, num(Width(it.text, it.style.Size, it.style.Bold)))
	}
	b.WriteByte('>')
	if it.style.Full != "" {
		b.WriteString("<title>" + escape(it.style.Full) + "</title>")
	}
	b.WriteString(escape(it.text) + "</text>\n")
}

func (p Paint) svg(o Options) string {
	out := ` fill="none"`
	if p.Fill != None {
		out = ` fill="` + o.colour(p.Fill) + `"`
		if p.Opacity > 0 && p.Opacity < 1 {
			out += ` fill-opacity="` + num(p.Opacity) + `"`
		}
	}
	if p.Stroke != None {
		out += ` stroke="` + o.colour(p.Stroke) + `" stroke-width="` + num(p.Width) + `" stroke-linejoin="round"`
		for i, d := range p.Dash {
			out += map[bool]string{true: ` stroke-dasharray="`, false: " "}[i == 0] + num(d)
		}
		if len(p.Dash) > 0 {
			out += `"`
		}
	}
	return out
}

// num rounds to hundredths of a pixel, so that a picture is the same on every
// processor.
func num(x float64) string {
	text := strconv.FormatFloat(x, 'f', 2, 64)
	for text[len(text)-1] == '0' {
		text = text[:len(text)-1]
	}
	if text[len(text)-1] == '.' {
		text = text[:len(text)-1]
	}
	if text == "-0" {
		return "0"
	}
	return text
}

// escape writes text so that it is neither markup nor an invalid character.
func escape(text string) string {
	var b bytes.Buffer
	_ = xml.EscapeText(&b, []byte(text))
	return b.String()
}
