package readings

import (
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode/utf8"
)

// dateLetters are the fields of a pattern in Unicode Technical Standard #35,
// part 4, "Date Field Symbol Table", and what package time calls them.
var dateLetters = map[string]string{
	"y": "2006", "yyyy": "2006", "yy": "06",
	"M": "1", "MM": "01", "MMM": "Jan",
	"d": "2", "dd": "02",
	"H": "15", "HH": "15", "h": "3", "hh": "03", "a": "PM",
	"m": "4", "mm": "04", "s": "5", "ss": "05",
	"X": "Z07", "XX": "Z0700", "XXX": "Z07:00", "ZZZZZ": "Z07:00",
	"x": "-07", "xx": "-0700", "xxx": "-07:00", "Z": "-0700", "ZZ": "-0700", "ZZZ": "-0700",
}

// parsePattern translates a pattern of date letters for package time.
// Errors: an unknown run of letters, an open quote, a pattern that does not
// tell a minute of a day of a year, and literal text that package time would
// take for a field.
func parsePattern(pattern string) (timeLayout, error) {
	if !utf8.ValidString(pattern) {
		return timeLayout{}, fmt.Errorf("with bytes that are not UTF-8")
	}
	parts, letters, err := patternParts(pattern)
	if err != nil {
		return timeLayout{}, err
	}
	has := func(letter byte) bool { return strings.IndexByte(letters, letter) >= 0 }
	switch {
	case !has('y') || !has('M') || !has('d'):
		return timeLayout{}, fmt.Errorf("without a year (y), a month (M) or a day (d)")
	case has('h') != has('a') || has('h') == has('H'):
		return timeLayout{}, fmt.Errorf("without an hour (H, or h with a)")
	case !has('m'):
		return timeLayout{}, fmt.Errorf("without minutes (m)")
	}
	// Literal text may spell a field to package time, such as '15' or "_" before
	// d; then the whole does not format as its parts do.
	l := timeLayout{pattern: pattern, layout: strings.Join(parts, ""), halves: has('h')}
	if has('X') || has('x') || has('Z') {
		l.kind = withOffset
	}
	sample := time.Date(2027, 11, 23, 4, 35, 46, 789e6, time.FixedZone("", 9000))
	var apart strings.Builder
	for i, p := range parts {
		if i%2 == 0 {
			apart.WriteString(p)
		} else {
			apart.WriteString(sample.Format(p))
		}
	}
	if sample.Format(l.layout) != apart.String() {
		return timeLayout{}, fmt.Errorf("with plain text that cannot be told from a date field")
	}
	for _, t := range []time.Time{sample, sample.Add(12 * time.Hour), time.Date(2027, 1, 2, 3, 4, 5, 0, time.UTC)} {
		if got, err := time.Parse(l.layout, t.Format(l.layout)); err != nil || got.Minute() != t.Minute() || got.Day() != t.Day() {
			return timeLayout{}, fmt.Errorf("with fields that cannot be told from one another")
		}
	}
	l.fixed, _ = newFixedLayout(l.layout)
	if _, ok := l.parse(sample.Format(l.layout)); !ok {
		return timeLayout{}, fmt.Errorf("with fields that cannot be told from one another")
	}
	return l, nil
}

// patternParts gives literal text at even places and fields of package time at
// odd ones, and the letter of each field.
func patternParts(pattern string) (parts []string, letters string, err error) {
	literal := ""
	for rest := pattern; rest != ""; {
		c := rest[0]
		switch {
		case strings.HasPrefix(rest, "''"):
			literal, rest = literal+"'", rest[2:]
		case c == '\'':
			text, after, ok := quotedLiteral(rest[1:])
			if !ok {
				return nil, "", fmt.Errorf("with a single quote that is not closed")
			}
			literal, rest = literal+text, after
		case !isLetter(c):
			literal, rest = literal+rest[:1], rest[1:]
		default:
			n := len(rest) - len(strings.TrimLeft(rest, string(c)))
			field := dateLetters[rest[:n]]
			if mark := max(0, len(literal)-1); c == 'S' && strings.HasSuffix(letters, "s") && slices.Contains([]string{".", ","}, literal[mark:]) {
				field, literal = literal[mark:]+strings.Repeat("0", n), literal[:mark]
			}
			if field == "" {
				return nil, "", fmt.Errorf("with %s, which is no date field here", rest[:n])
			}
			parts, letters = append(parts, literal, field), letters+string(c)
			literal, rest = "", rest[n:]
		}
	}
	return append(parts, literal), letters, nil
}

// quotedLiteral reads up to the closing single quote; two in a row stand for
// one.
func quotedLiteral(s string) (text, rest string, ok bool) {
	for {
		i := strings.IndexByte(s, '\'')
		if i < 0 {
			return "", "", false
		}
		text += s[:i]
		if s = s[i+1:]; !strings.HasPrefix(s, "'") {
			return text, s, true
		}
		text, s = text+"'", s[1:]
	}
}

func isLetter(c byte) bool { return 'a' <= c && c <= 'z' || 'A' <= c && c <= 'Z' }
