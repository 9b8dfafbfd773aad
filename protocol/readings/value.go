package readings

import (
	"strconv"
	"strings"
	"unicode"
)

// pow10 are exact as float64, so that a whole number below 2⁵³ divided by one
// of them is correctly rounded (Clinger 1990, PLDI, section 2).
var pow10 = [...]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15}

// number reads plain decimals such as 101, -0.5 or 5,4, without exponent or
// thousands. A mark of 0 lets either '.' or ',' stand before the decimals.
func number(cell string, mark byte) (x float64, ok bool) {
	digits := cell
	if cell != "" && (cell[0] == '+' || cell[0] == '-') {
		digits = cell[1:]
	}
	if digits == "" || len(digits) > 40 {
		return 0, false
	}
	var whole uint64
	seen, decimals, point := 0, 0, -1
	for i := 0; i < len(digits); i++ {
		c := digits[i]
		switch {
		case '0' <= c && c <= '9':
			if seen++; seen <= 15 {
				whole = whole*10 + uint64(c-'0')
			}
			if point >= 0 {
				decimals++
			}
		case point < 0 && (c == mark || mark == 0 && (c == '.' || c == ',')):
			point = i
		default:
			return 0, false
		}
	}
	switch {
	case seen == 0:
		return 0, false
	case seen <= 15:
		x = float64(whole) / pow10[decimals]
	default:
		if point >= 0 {
			digits = digits[:point] + "." + digits[point+1:]
		}
		x, _ = strconv.ParseFloat(digits, 64)
	}
	if cell[0] == '-' {
		x = -x
	}
	return x, true
}

// plainText leaves out what a terminal would obey instead of showing, and what
// nobody sees: control characters and marks of format (Unicode Technical Report
// 36, section 2). A name is then as a person can type it.
func plainText(s string) string {
	plain := true
	for i := 0; i < len(s) && plain; i++ {
		plain = ' ' <= s[i] && s[i] < 0x7f
	}
	if plain {
		return s
	}
	return strings.Join(strings.Fields(strings.Map(func(c rune) rune {
		switch {
		case c == '\n' || c == '\t' || c == '\r':
			return ' '
		case unicode.IsControl(c), unicode.Is(unicode.Cf, c) && c != '\u200c' && c != '\u200d': // joiners stay, as scripts need them
			return -1
		}
		return c
	}, s)), " ")
}

// withoutUnit takes a unit off the end of a cell such as "101 mg/dL"; the unit is
// empty where there is none.
func withoutUnit(cell string) (value string, unit Unit) {
	n := len(cell)
	if n < len("1mg/dL") || cell[n-1] != 'L' && cell[n-1] != 'l' {
		return cell, ""
	}
	for _, u := range []Unit{MgdL, MmolL} {
		if m := n - len(u); m > 0 && strings.EqualFold(cell[m:], string(u)) {
			return strings.TrimSpace(cell[:m]), u
		}
	}
	return cell, ""
}

// limit reads the words and the bounds that stand for a value out of range.
func limit(cell string) Limit {
	l, _ := bound(cell)
	return l
}

// bound also gives the number of a cell such as <40; 0 for a word.
func bound(cell string) (Limit, float64) {
	switch {
	case len(cell) < 2:
		return NotLimited, 0
	case strings.EqualFold(cell, "lo"), strings.EqualFold(cell, "low"):
		return BelowRange, 0
	case strings.EqualFold(cell, "hi"), strings.EqualFold(cell, "high"):
		return AboveRange, 0
	case cell[0] != '<' && cell[0] != '>' && !strings.HasPrefix(cell, "≤") && !strings.HasPrefix(cell, "≥"):
		return NotLimited, 0
	}
	x, ok := number(strings.TrimSpace(strings.TrimLeft(cell, "<>=≤≥")), 0)
	switch {
	case !ok || !(x > 0):
		return NotLimited, 0
	case cell[0] == '<' || strings.HasPrefix(cell, "≤"):
		return BelowRange, x
	}
	return AboveRange, x
}
