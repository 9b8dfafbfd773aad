package drawing

import (
	"strings"
	"sync"
	"unicode"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"github.com/clipperhouse/uax29/v2/graphemes"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"golang.org/x/text/width"
)

// The letters' reach above and below the baseline, as shares of the size, those
// of the fonts that are carried along.
const (
	ascent  = 0.905
	descent = 0.212
)

// LineHeight is the distance of baselines as a share of the size.
const LineHeight = 1.25

// metrics are the widths of a font that is carried along.
type metrics struct {
	mu       sync.Mutex
	font     *sfnt.Font
	buffer   sfnt.Buffer
	advances map[rune]float64 // at size 1; −1: no such letter
}

var faces = [2]func() *metrics{
	sync.OnceValue(func() *metrics { return newMetrics(liberationsansregular.TTF) }),
	sync.OnceValue(func() *metrics { return newMetrics(liberationsansbold.TTF) }),
}

func newMetrics(ttf []byte) *metrics {
	font, err := opentype.Parse(ttf)
	if err != nil {
		panic("drawing: the font that is carried along cannot be read")
	}
	return &metrics{font: font, advances: map[rune]float64{}}
}

func face(bold bool) *metrics {
	if bold {
		return faces[1]()
	}
	return faces[0]()
}

// advance is the width of a letter at size 1; not known: the font has none.
func (m *metrics) advance(r rune) (w float64, known bool) {
	m.mu.Lock()
	defer m.mu.Unlock()
	w, ok := m.advances[r]
	if !ok {
		w = -1
		const ppem = 1000
		if i, err := m.font.GlyphIndex(&m.buffer, r); err == nil && i != 0 {
			if a, err := m.font.GlyphAdvance(&m.buffer, i, fixed.I(ppem), 0); err == nil {
				w = float64(a) / 64 / ppem
			}
		}
		m.advances[r] = w
	}
	return w, w >= 0
}

// Widths of letters that the font does not have, at size 1, on the generous
// side: of full-width ones and pictures, of others, and of marks above or below,
// which take room only where the viewer has no font either and shows boxes.
// Measured in Chromium: CJK 1, Arabic 0.44, Georgian and Armenian up to 0.68 a letter
// with DejaVu Sans and a CJK font; 0.75 for each box, marks included, with none.
// Pictures are commonly up to 1.3 wide (common practice, no source).
const (
	wideAdvance  = 1.3
	otherAdvance = 0.9
	markAdvance  = 0.45
)

// Width is how wide a line of text is, in pixels.
func Width(text string, size float64, bold bool) float64 {
	m := face(bold)
	sum := 0.0
	clusters := graphemes.FromString(text)
	for clusters.Next() {
		sum += m.cluster(clusters.Value())
	}
	return sum * size
}

// cluster is the width of what a reader takes for one letter.
func (m *metrics) cluster(text string) float64 {
	sum, unknown := 0.0, 0.0
	for _, r := range text {
		switch w, known := m.advance(r); {
		case known:
			sum += w
		case unicode.In(r, unicode.Cf, unicode.Variation_Selector):
		case unicode.In(r, unicode.Mn, unicode.Me):
			unknown += markAdvance
		case isWide(r): // all of them: a viewer may not join them into one picture
			unknown += wideAdvance
		default:
			unknown += otherAdvance
		}
	}
	return sum + unknown
}

func isWide(r rune) bool {
	switch width.LookupRune(r).Kind() {
	case width.EastAsianWide, width.EastAsianFullwidth:
		return true
	}
	return r >= 0x1f000 || unicode.Is(unicode.So, r)
}

// drawable tells whether the fonts that are carried along have every letter.
func drawable(text string, bold bool) bool {
	m := face(bold)
	for _, r := range text {
		if _, known := m.advance(r); !known {
			return false
		}
	}
	return true
}

// clean leaves out what is no letter: control characters and marks that steer
// the direction; of white space it makes single spaces.
func clean(text string) string {
	text = strings.Map(func(r rune) rune {
		switch {
		case unicode.IsSpace(r):
			return ' '
		case unicode.IsControl(r), unicode.Is(unicode.Bidi_Control, r), r == 0xfeff, r == 0xfffe, r == 0xffff:
			return -1
		}
		return r
	}, text)
	return strings.Join(strings.Fields(text), " ")
}
