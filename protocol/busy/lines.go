package busy

import (
	"strings"
	"unicode/utf8"
)

// A property is one content line (RFC 5545 section 3.1).
type property struct {
	line   int    // of its first physical line, from 1
	name   string // in capitals
	params []param
	value  string // as written, unfolded
}

// A param is a parameter of a property; of several values the first is kept,
// since none of the parameters that matter here has more.
type param struct{ name, value string }

// param returns a parameter's value; ok is false when it is absent.
func (p property) param(name string) (value string, ok bool) {
	for _, q := range p.params {
		if q.name == name {
			return q.value, true
		}
	}
	return "", false
}

// eachLine unfolds text and visits its content lines. A line break is CRLF or a
// bare LF; a byte order mark at the start and empty lines are passed over.
// Unfolding comes before the check for UTF-8, since older writers fold within
// characters (section 3.1).
func eachLine(text string, faults *faults, visit func(property)) {
	text = strings.TrimPrefix(text, "\uFEFF")
	for number := 1; text != "" && !faults.full(); {
		first := number
		var line string
		line, text = cutLine(text)
		number++
		if folded(text) {
			var b strings.Builder
			b.WriteString(line)
			for folded(text) {
				line, text = cutLine(text[1:])
				number++
				b.WriteString(line)
			}
			line = b.String()
		}
		if strings.Trim(line, " \t") == "" {
			continue
		}
		if !utf8.ValidString(line) {
			faults.lines = true
			faults.add(first, "", mistake{found: quote(line), expected: "UTF-8 text", mend: "save the file as UTF-8"})
			continue
		}
		p, m := parseLine(line)
		if m != nil {
			faults.lines = true
			faults.add(first, p.name, *m)
			continue
		}
		p.line = first
		visit(p)
	}
}

func folded(text string) bool { return text != "" && (text[0] == ' ' || text[0] == '\t') }

func cutLine(text string) (line, rest string) {
	line, rest, _ = strings.Cut(text, "\n")
	return strings.TrimRight(line, "\r"), rest
}

// parseLine splits a content line. On a mistake the property holds the name, if
// there is one.
func parseLine(line string) (property, *mistake) {
	end := nameEnd(line)
	if end == 0 || end == len(line) || line[end] != ':' && line[end] != ';' {
		return property{}, &mistake{
			found:    quote(line),
			expected: "a line such as SUMMARY:Lunch",
			mend:     "begin the line with a space if it continues the one above, or take it out",
		}
	}
	p := property{name: strings.ToUpper(line[:end])}
	rest := line[end:]
	for rest[0] == ';' {
		var q param
		var m *mistake
		if q, rest, m = parseParam(rest[1:]); m != nil {
			m.found = quote(line)
			return p, m
		}
		p.params = append(p.params, q)
	}
	p.value = rest[1:]
	return p, nil
}

// parseParam reads one parameter; rest begins with the ; or : after it.
func parseParam(text string) (q param, rest string, m *mistake) {
	end := nameEnd(text)
	if end == 0 || end == len(text) || text[end] != '=' {
		return q, "", &mistake{expected: "a parameter such as TZID=Europe/Vienna after each semicolon", mend: "write =value after its name"}
	}
	q.name = strings.ToUpper(text[:end])
	rest = text[end:]
	for first := true; first || rest[0] == ','; first = false {
		var value string
		if value, rest, m = paramValue(rest[1:]); m != nil {
			return q, "", m
		}
		if first {
			q.value = value
		}
	}
	return q, rest, nil
}

// paramValue reads one value, quoted or not; rest begins with the , ; or :
// after it.
func paramValue(text string) (value, rest string, m *mistake) {
	if strings.HasPrefix(text, `"`) {
		value, rest, ok := strings.Cut(text[1:], `"`)
		if !ok {
			return "", "", &mistake{expected: `a closing " of the parameter`, mend: `add the missing "`}
		}
		if rest == "" || !strings.ContainsRune(",;:", rune(rest[0])) {
			return "", "", &mistake{expected: "a colon and the value after the parameters", mend: "write :value at the end"}
		}
		return value, rest, nil
	}
	end := strings.IndexAny(text, ",;:")
	if end < 0 {
		return "", "", &mistake{expected: "a colon and the value after the parameters", mend: "write :value at the end"}
	}
	return text[:end], text[end:], nil
}

// nameEnd returns the length of the name that text begins with.
func nameEnd(text string) int {
	for i := 0; i < len(text); i++ {
		c := text[i]
		if (c|0x20 < 'a' || c|0x20 > 'z') && (c < '0' || c > '9') && c != '-' {
			return i
		}
	}
	return len(text)
}
