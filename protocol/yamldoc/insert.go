package yamldoc

import (
	"bytes"
	"fmt"
	"regexp"
	"strings"

	"gopkg.in/yaml.v3"
)

// A KeyText is a key and its value, both as YAML text.
type KeyText struct{ Key, Value string }

// Insert adds keys to the mapping at a path of keys, such as "readings" or
// "readings", "files", and makes what is missing of the path. Every other byte
// stays as it is, comments too. Errors: text that is no mapping in block style,
// and a path that leads through something else than mappings.
func Insert(text []byte, pairs []KeyText, path ...string) ([]byte, error) {
	if len(pairs) == 0 {
		return text, nil
	}
	var document yaml.Node
	if err := yaml.Unmarshal(text, &document); err != nil {
		return nil, err
	}
	root := document.Content
	if len(root) == 0 || root[0].Kind != yaml.MappingNode || root[0].Style&yaml.FlowStyle != 0 || len(root[0].Content) == 0 || root[0].Content[0].Column != 1 {
		return nil, fmt.Errorf("it is no mapping with one key a line")
	}
	if bytes.Count(text, []byte("\r")) != bytes.Count(text, []byte("\r\n")) {
		return nil, fmt.Errorf("its lines end in CR alone")
	}
	e := editor{text: text, newline: "\n"}
	if bytes.Contains(text, []byte("\r\n")) {
		e.newline = "\r\n"
	}
	at := document.Content[0]
	for i, step := range path {
		key, value := childOf(at, step)
		if key == nil {
			return e.add(at, i, nest(path[i:], pairs))
		}
		if value.Tag == "!!null" && value.Kind == yaml.ScalarNode && value.Value == "" {
			indent := strings.Repeat(" ", key.Column-1+2)
			return e.insertLines(key.Line, indent, nest(path[i+1:], pairs)), nil
		}
		if value.Kind != yaml.MappingNode {
			return nil, fmt.Errorf("%s is no mapping", strings.Join(path[:i+1], "."))
		}
		at = value
	}
	return e.add(at, len(path), pairs)
}

// nest wraps pairs into flow mappings for the steps of a path.
func nest(steps []string, pairs []KeyText) []KeyText {
	for i := len(steps) - 1; i >= 0; i-- {
		if i == 0 && len(steps) == 1 {
			return []KeyText{{steps[0], block(pairs)}}
		}
		pairs = []KeyText{{steps[i], flow(pairs)}}
	}
	return pairs
}

func flow(pairs []KeyText) string {
	items := make([]string, len(pairs))
	for i, p := range pairs {
		items[i] = p.Key + ": " + p.inFlow()
	}
	return "{" + strings.Join(items, ", ") + "}"
}

// block marks a value that is written one key a line where there is room.
func block(pairs []KeyText) string {
	lines := make([]string, len(pairs))
	for i, p := range pairs {
		lines[i] = p.Key + ": " + p.Value
	}
	return "\n" + strings.Join(lines, "\n")
}

func (p KeyText) inFlow() string {
	rest, isBlock := strings.CutPrefix(p.Value, "\n")
	if !isBlock {
		return p.Value
	}
	return "{" + strings.ReplaceAll(rest, "\n", ", ") + "}"
}

func childOf(mapping *yaml.Node, key string) (k, value *yaml.Node) {
	for i := 0; i+1 < len(mapping.Content); i += 2 {
		if mapping.Content[i].Value == key {
			return mapping.Content[i], mapping.Content[i+1]
		}
	}
	return nil, nil
}

type editor struct {
	text    []byte
	newline string
}

// add puts pairs into a mapping: at its beginning, or at the end of the file for
// the outermost one.
func (e editor) add(mapping *yaml.Node, depth int, pairs []KeyText) ([]byte, error) {
	if mapping.Style&yaml.FlowStyle != 0 {
		items := make([]string, len(pairs))
		for i, p := range pairs {
			items[i] = p.Key + ": " + p.inFlow()
		}
		inside := strings.Join(items, ", ")
		if len(mapping.Content) > 0 {
			inside += ", "
		}
		place := e.place(mapping.Line, mapping.Column)
		if place < 0 || place >= len(e.text) || e.text[place] != '{' {
			return nil, fmt.Errorf("the bracket on line %d is not where it was expected", mapping.Line)
		}
		return e.splice(place+1, inside), nil
	}
	if depth == 0 {
		if !bytes.HasSuffix(e.text, []byte("\n")) {
			return e.insertLines(mapping.Content[0].Line-1, "", pairs), nil
		}
		return e.splice(len(e.text), e.lines("", pairs)), nil
	}
	first := mapping.Content[0]
	return e.insertLines(first.Line-1, strings.Repeat(" ", first.Column-1), pairs), nil
}

func (e editor) lines(indent string, pairs []KeyText) string {
	var b strings.Builder
	for _, p := range pairs {
		rest, isBlock := strings.CutPrefix(p.Value, "\n")
		if !isBlock {
			b.WriteString(indent + p.Key + ": " + p.Value + e.newline)
			continue
		}
		b.WriteString(indent + p.Key + ":" + e.newline)
		for _, line := range strings.Split(rest, "\n") {
			b.WriteString(indent + "  " + line + e.newline)
		}
	}
	return b.String()
}

// insertLines puts lines after a line, counted from 1; 0 is the beginning.
func (e editor) insertLines(after int, indent string, pairs []KeyText) []byte {
	place := e.place(after+1, 1)
	text := e.lines(indent, pairs)
	if place < 0 {
		place, text = len(e.text), e.newline+text
	}
	return e.splice(place, text)
}

// place is the offset of a line and a column in runes, both from 1; −1 when the
// file has no such line.
func (e editor) place(line, column int) int {
	offset := 0
	for ; line > 1; line-- {
		n := bytes.IndexByte(e.text[offset:], '\n')
		if n < 0 {
			return -1
		}
		offset += n + 1
	}
	if line == 1 && bytes.HasPrefix(e.text[offset:], []byte("\ufeff")) && offset == 0 {
		offset += len("\ufeff")
	}
	for _, c := range string(e.text[offset:]) {
		if column--; column == 0 {
			break
		}
		offset += len(string(c))
	}
	return offset
}

func (e editor) splice(at int, text string) []byte {
	out := make([]byte, 0, len(e.text)+len(text))
	out = append(out, e.text[:at]...)
	out = append(out, text...)
	return append(out, e.text[at:]...)
}

// Without gives the text without one key of the outermost mapping: its line and
// the indented lines below it. It looks at the lines alone, so that what Insert
// adds for a new key is taken out again to the byte.
func Without(text []byte, key string) []byte {
	begins := regexp.MustCompile(`^["']?` + regexp.QuoteMeta(key) + `["']?\s*:(\s|$)`)
	var out []byte
	if rest, marked := bytes.CutPrefix(text, []byte("\ufeff")); marked {
		out, text = append(out, "\ufeff"...), rest
	}
	inside := false
	for _, line := range bytes.SplitAfter(text, []byte("\n")) {
		switch {
		case begins.Match(line):
			inside = true
		case inside && len(line) > 0 && (line[0] == ' ' || line[0] == '\t'):
		default:
			inside = false
			out = append(out, line...)
		}
	}
	return out
}
