package drawing

import "image/color"

// A Role is what a colour is for.
type Role int

// The roles. The data roles follow each other from Data on.
const (
	None Role = iota
	Paper
	Ink   // text and outlines
	Muted // second text
	Rule  // axes and grid
	Band  // the margin, blocks
	Data
)

// dataColours is how many data roles there are.
const dataColours = 7

// DataRole returns the i-th data colour; they start over, the shapes with another
// period, so that mark and colour together differ for 56 things.
func DataRole(i int) Role { return Data + Role(i%dataColours) }

// A tone is a role on light and on dark paper.
type tone struct {
	name        string
	light, dark uint32
}

// tones are the theme. The data colours are those of Okabe and Ito (2008, Color
// Universal Design, jfly.uni-koeln.de/color), which people with any of the usual
// kinds of colour vision can tell apart; their yellow is left out, as it
// vanishes on white, and their black is the seventh colour, light on dark paper.
var tones = map[Role]tone{
	Paper:    {"paper", 0xffffff, 0x14171a},
	Ink:      {"ink", 0x1b1f23, 0xf1f3f4},
	Muted:    {"muted", 0x4d555c, 0xb4bcc2},
	Rule:     {"rule", 0xb9c0c6, 0x525a61},
	Band:     {"band", 0xe6e9ec, 0x2a3036},
	Data:     {"data-1", 0x0072b2, 0x56a8dc}, // blue, lighter on dark paper
	Data + 1: {"data-2", 0xd55e00, 0xd55e00}, // vermilion
	Data + 2: {"data-3", 0x009e73, 0x009e73}, // bluish green
	Data + 3: {"data-4", 0xcc79a7, 0xcc79a7}, // reddish purple
	Data + 4: {"data-5", 0xe69f00, 0xe69f00}, // orange
	Data + 5: {"data-6", 0x56b4e9, 0x8fd0f5}, // sky blue, lighter on dark paper
	Data + 6: {"data-7", 0x000000, 0xf1f3f4}, // black, light on dark paper
}

func (t tone) of(dark bool) uint32 {
	if dark {
		return t.dark
	}
	return t.light
}

func rgb(role Role, dark bool, opacity float64) color.NRGBA {
	x := tones[role].of(dark)
	if opacity == 0 {
		opacity = 1
	}
	return color.NRGBA{uint8(x >> 16), uint8(x >> 8), uint8(x), uint8(255*opacity + 0.5)}
}

// Style returns the theme as custom properties of CSS, for pages that hold
// pictures written with InPage.
func Style(dark bool) string {
	out := ""
	for role := Paper; role < Data+dataColours; role++ {
		out += "--pic-" + tones[role].name + ":" + hex(tones[role].of(dark)) + ";"
	}
	return out
}
