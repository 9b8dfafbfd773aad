package busy

import (
	"strings"
	"unicode"
)

// unescape reads a TEXT value (RFC 5545 section 3.3.11) onto one line: escapes
// are undone, line breaks and tabs become spaces, and control characters are
// taken out, among them those that reverse the direction of writing, since the
// text is shown on terminals.
func unescape(value string) string {
	if plain(value) {
		return value
	}
	var b strings.Builder
	escaped := false
	for _, c := range value {
		switch {
		case escaped:
			escaped = false
			if c == 'n' || c == 'N' {
				c = ' '
			}
		case c == '\\':
			escaped = true
			continue
		}
		if unicode.IsSpace(c) {
			c = ' '
		}
		if !unicode.IsControl(c) && !unicode.Is(unicode.Bidi_Control, c) {
			b.WriteRune(c)
		}
	}
	return strings.Join(strings.Fields(b.String()), " ")
}

// plain says whether unescape has nothing to do, as for most texts.
func plain(value string) bool {
	for i := 0; i < len(value); i++ {
		c := value[i]
		if c == ' ' && (i == 0 || i == len(value)-1 || value[i-1] == ' ') || c == '\\' || c < ' ' || c > '~' {
			return false
		}
	}
	return true
}

// printable makes a name from the file safe and short enough for a message.
func printable(name string) string {
	return strings.Trim(quote(name), `"`)
}
