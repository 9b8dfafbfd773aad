package readings

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"mealtrial/protocol/problem"
)

const saveUTF8 = "save it as text (CSV) in UTF-8"

// checkText gives the text of a file without its byte order mark, or says why
// it is no text.
func checkText(raw string) (string, *problem.Problem) {
	switch {
	case strings.HasPrefix(raw, "\xff\xfe"), strings.HasPrefix(raw, "\xfe\xff"):
		return "", &problem.Problem{Line: 1, Found: "text in UTF-16", Expected: "text in UTF-8", Mend: saveUTF8}
	case strings.HasPrefix(raw, "\xef\xbb\xbf"):
		raw = raw[3:]
	}
	if strings.TrimSpace(raw) == "" {
		return "", &problem.Problem{Found: "an empty file", Expected: "the export of a sensor", Mend: "export it again, or delete it"}
	}
	if i := strings.IndexByte(raw, 0); i >= 0 {
		return "", &problem.Problem{Line: lineAt(raw, i), Found: "a zero byte, as in UTF-16 or a spreadsheet's own format",
			Expected: "text in UTF-8", Mend: saveUTF8}
	}
	if i := firstInvalid(raw); i >= 0 {
		return "", &problem.Problem{Line: lineAt(raw, i), Found: fmt.Sprintf("byte 0x%02x, which is not UTF-8", raw[i]),
			Expected: "text in UTF-8", Mend: saveUTF8}
	}
	if i := longLine(raw, MaxLineBytes); i >= 0 {
		return "", &problem.Problem{Line: lineAt(raw, i), Found: fmt.Sprintf("a line of more than %d MB", MaxLineBytes>>20),
			Expected: "one reading a line", Mend: "export it again as a table"}
	}
	return raw, nil
}

// firstInvalid is the index of the first byte that is not UTF-8, or -1.
func firstInvalid(s string) int {
	if utf8.ValidString(s) {
		return -1
	}
	for i := 0; i < len(s); {
		r, n := utf8.DecodeRuneInString(s[i:])
		if r == utf8.RuneError && n == 1 {
			return i
		}
		i += n
	}
	return -1
}

// longLine is the index of the first line longer than limit, or -1.
func longLine(s string, limit int) int {
	end := newline(s)
	for from := 0; from < len(s); {
		n := strings.IndexByte(s[from:], end)
		if n < 0 {
			n = len(s) - from
		}
		if n > limit {
			return from
		}
		from += n + 1
	}
	return -1
}

// newline is the byte that ends a line: LF, with or without CR before it, or CR
// alone where there is no LF.
func newline(s string) byte {
	if strings.IndexByte(s, '\n') < 0 && strings.IndexByte(s, '\r') >= 0 {
		return '\r'
	}
	return '\n'
}

func lineAt(s string, i int) int {
	return 1 + strings.Count(s[:i], string(newline(s)))
}
