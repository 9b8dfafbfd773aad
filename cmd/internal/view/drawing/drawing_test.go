package drawing

import (
	"bytes"
	"image/png"
	"math"
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"
)

// Advance widths of Liberation Sans, in thousandths of the size, which are those
// of the metric-compatible core fonts: the AFM files of the PDF core fonts
// (Adobe Technical Note 5004; Helvetica and Helvetica-Bold, from memory).
func TestWidths(t *testing.T) {
	for _, c := range []struct {
		text string
		bold bool
		want float64
	}{{"A", false, 667}, {"i", false, 222}, {" ", false, 278}, {"W", false, 944}, {"0", false, 556}, {"A", true, 722}, {"i", true, 278}, {"W0", true, 944 + 556}} {
		if got := Width(c.text, 1000, c.bold); math.Abs(got-c.want) > 1 {
			t.Errorf("%q, bold %v: width %g, want %g", c.text, c.bold, got, c.want)
		}
	}
}

// A text that is wrapped keeps all of its letters, or says that it did not, and
// stays within its width.
func TestWrap(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringN(0, 60, 240).Draw(t, "text")
		width := rapid.Float64Range(30, 400).Draw(t, "width")
		most := rapid.IntRange(1, 5).Draw(t, "lines")
		lines, short := Wrap(text, 13, false, width, most)
		if len(lines) > most {
			t.Fatalf("%d lines, want at most %d", len(lines), most)
		}
		letters := func(s string) string { return strings.ReplaceAll(clean(s), " ", "") }
		if kept := letters(strings.Join(lines, "")); !short && kept != letters(text) {
			t.Fatalf("%q became %q", text, lines)
		}
		for _, line := range lines {
			if Width(line, 13, false) > width && utf8.RuneCountInString(line) > 2 && len(split(line)) > 1 {
				t.Fatalf("%q is %g wide, want at most %g", line, Width(line, 13, false), width)
			}
		}
	})
}

// What is left out is left out in the middle, so that names that differ in their
// ends stay apart.
func TestAbbreviateKeepsBothEnds(t *testing.T) {
	old, short := Wrap("konjac noodles from the market (old recipe)", 13, false, 120, 2)
	fresh, _ := Wrap("konjac noodles from the market (new recipe)", 13, false, 120, 2)
	if a, b := strings.Join(old, " "), strings.Join(fresh, " "); !short || a == b || !strings.HasPrefix(a, "konjac") || !strings.HasSuffix(a, "recipe)") {
		t.Errorf("found %q and %q", a, b)
	}
}

// Unicode Standard Annex 9: in a left-to-right line Hebrew is seen from right to
// left and numbers in it from left to right.
func TestVisualOrder(t *testing.T) {
	for text, want := range map[string]string{
		"abc":              "abc",
		"אבג":              "גבא",
		"rye אבג":          "rye גבא",
		"אבג!":             "גבא!",
		"אבג rye":          "גבא rye",
		"a 漢":              "a □",
		"\u05d0 12 \u05d1": "\u05d1 12 \u05d0",
	} {
		if got := visual(text, false); got != want {
			t.Errorf("%q is seen as %q, want %q", text, got, want)
		}
	}
}

func picture() *Scene {
	s := &Scene{W: 200, H: 100, Title: `<t>&"'`, Desc: "\x00d\uffff"}
	s.Rect(10, 10, 50, 50, Paint{Fill: Data, Opacity: 0.5})
	s.Circle(120, 50, 20, Paint{Fill: Ink, Stroke: Data + 1, Width: 2})
	s.Line(Paint{Stroke: Ink, Width: 1, Dash: []float64{2, 2}}, Point{0, 90}, Point{200, 90})
	s.Text(5, 80, "漢 <b>&\"'", TextStyle{Size: 12, Role: Ink})
	for i := range Shapes {
		s.Mark(Shape(i), float64(20*i), 5, 4, Paint{Fill: DataRole(i)})
	}
	return s
}

func TestPNGIsTransparentWhereAsked(t *testing.T) {
	for _, transparent := range []bool{true, false} {
		var out bytes.Buffer
		if err := picture().WritePNG(&out, Options{Transparent: transparent, Scale: 2}); err != nil {
			t.Fatal(err)
		}
		img, err := png.Decode(&out)
		if err != nil {
			t.Fatal(err)
		}
		if b := img.Bounds(); b.Dx() != 400 || b.Dy() != 200 {
			t.Errorf("%d × %d pixels, want 400 × 200", b.Dx(), b.Dy())
		}
		if _, _, _, a := img.At(399, 1).RGBA(); (a == 0) != transparent {
			t.Errorf("transparent %v: alpha %d in the corner", transparent, a)
		}
		if _, _, _, a := img.At(240, 100).RGBA(); a != 0xffff {
			t.Errorf("transparent %v: alpha %d in the circle, want it opaque", transparent, a)
		}
	}
}

// The same picture gives the same bytes.
func TestDeterministic(t *testing.T) {
	for name, write := range map[string]func(*bytes.Buffer) error{
		"svg": func(b *bytes.Buffer) error { return picture().WriteSVG(b, Options{}) },
		"png": func(b *bytes.Buffer) error { return picture().WritePNG(b, Options{}) },
		"pdf": func(b *bytes.Buffer) error { return picture().WritePDF(b, Options{}) },
	} {
		var a, b bytes.Buffer
		if err := write(&a); err != nil {
			t.Fatal(err)
		}
		if err := write(&b); err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(a.Bytes(), b.Bytes()) {
			t.Errorf("%s differs from one time to the next", name)
		}
	}
}

func TestMissingLetters(t *testing.T) {
	if got := picture().Missing(); len(got) != 1 || got[0] != "漢" {
		t.Errorf("missing %q, want 漢", got)
	}
}

// WCAG 2.2, success criterion 1.4.3: text against paper at least 4.5 to 1, and
// 1.4.11: what carries meaning at least 3 to 1; marks have an outline in ink,
// so the data colours themselves are not held to it but the first, of lines.
func TestContrast(t *testing.T) {
	for _, dark := range []bool{false, true} {
		for role, least := range map[Role]float64{Ink: 7, Muted: 4.5, Data: 3} {
			for _, on := range []Role{Paper, Band} {
				if got := contrast(tones[role].of(dark), tones[on].of(dark)); got < least {
					t.Errorf("dark %v: %s on %s %.2f to 1, want %g", dark, tones[role].name, tones[on].name, got, least)
				}
			}
		}
	}
	if got := contrast(0xffffff, 0x000000); math.Abs(got-21) > 1e-9 { // WCAG's own example
		t.Errorf("white on black %g, want 21", got)
	}
}

// contrast is the contrast ratio of WCAG 2.2.
func contrast(a, b uint32) float64 {
	luminance := func(x uint32) float64 {
		sum := 0.0
		for i, weight := range []float64{0.0722, 0.7152, 0.2126} {
			c := float64(x>>(8*i)&0xff) / 255
			if c <= 0.04045 {
				c /= 12.92
			} else {
				c = math.Pow((c+0.055)/1.055, 2.4)
			}
			sum += weight * c
		}
		return sum
	}
	high, low := luminance(a), luminance(b)
	if low > high {
		high, low = low, high
	}
	return (high + 0.05) / (low + 0.05)
}
