// Package yamldoc reads YAML that a person typed and keeps the line and field
// of everything, so that each mistake can be named where it stands.
//
// It is the only package that knows the YAML library. Mistakes are collected
// in the Reader; a value that could not be read is the zero value.
package yamldoc

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"gopkg.in/yaml.v3"

	"mealtrial/protocol/problem"
)

// A Reader collects what is wrong in one file.
type Reader struct {
	File     string
	Problems problem.List
}

// Err returns the problems found so far, or nil.
func (r *Reader) Err() error { return r.Problems.Err() }

func (r *Reader) add(line int, field, found, expected, mend string) {
	r.Problems = append(r.Problems, problem.Problem{
		File: r.File, Line: line, Field: field, Found: found, Expected: expected, Mend: mend})
}

// Clean checks the encoding of a file and takes off a byte order mark. ok is
// false, with a problem recorded, for text that is not UTF-8 or has no content.
func (r *Reader) Clean(data []byte) (text []byte, ok bool) {
	if bytes.HasPrefix(data, []byte{0xff, 0xfe}) || bytes.HasPrefix(data, []byte{0xfe, 0xff}) {
		r.add(1, "", "text in UTF-16", "UTF-8", "save the file again with the encoding UTF-8")
		return nil, false
	}
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	if !utf8.Valid(data) {
		line := 1
		for rest := data; len(rest) > 0; {
			c, size := utf8.DecodeRune(rest)
			if c == utf8.RuneError && size == 1 {
				r.add(line, "", fmt.Sprintf("the byte 0x%02x, which is not UTF-8", rest[0]), "text in UTF-8",
					"save the file again with the encoding UTF-8")
				return nil, false
			}
			if c == '\n' {
				line++
			}
			rest = rest[size:]
		}
	}
	if len(bytes.TrimSpace(data)) == 0 {
		r.add(0, "", "an empty file", "", "")
		return nil, false
	}
	return data, true
}

// A Part is one document of a stream, as text, with the line it starts on.
type Part struct {
	Text []byte
	Line int
}

var documentMark = regexp.MustCompile(`^---(\s|$)`)

// Split cuts a stream of YAML documents at its "---" lines. Parts with nothing
// but comments and blank lines are left out.
func Split(text []byte) []Part {
	var parts []Part
	current := Part{Line: 1}
	flush := func() {
		for _, line := range bytes.Split(current.Text, []byte("\n")) {
			if line = bytes.TrimSpace(line); len(line) > 0 && line[0] != '#' {
				parts = append(parts, current)
				return
			}
		}
	}
	for i, line := range bytes.SplitAfter(text, []byte("\n")) {
		if documentMark.Match(line) {
			flush()
			current = Part{Line: i + 1}
			line = append([]byte("   "), line[3:]...) // what follows the mark keeps its column
		}
		current.Text = append(current.Text, line...)
	}
	flush()
	return parts
}

var yamlLine = regexp.MustCompile(`^line (\d+): `)

// Parse reads one document. ok is false, with a problem recorded, when it is
// not well-formed YAML.
func (r *Reader) Parse(part Part) (root Node, ok bool) {
	var document, more yaml.Node
	decoder := yaml.NewDecoder(bytes.NewReader(part.Text))
	err := decoder.Decode(&document)
	if err == nil {
		// What follows a closed bracket must not be dropped without a word.
		if err = decoder.Decode(&more); errors.Is(err, io.EOF) {
			err = nil
		} else if err == nil {
			err = errors.New("more than one value in one document")
		}
	}
	if err != nil && !errors.Is(err, io.EOF) {
		text := strings.TrimPrefix(err.Error(), "yaml: ")
		line := part.Line
		if m := yamlLine.FindStringSubmatch(text); m != nil {
			n, _ := strconv.Atoi(m[1])
			line += n - 1
			text = strings.TrimPrefix(text, m[0])
			if strings.HasPrefix(text, "did not find expected") {
				line++ // the library counts the lines of its parser's errors from 0
			}
		}
		r.add(line, "", "text that is not well-formed YAML ("+text+")", "",
			"look at this line and the one before it for a missing quote, bracket, colon or indentation")
		return Node{}, false
	}
	if len(document.Content) == 0 {
		r.add(part.Line, "", "no content", "", "")
		return Node{}, false
	}
	return Node{yaml: document.Content[0], reader: r, offset: part.Line - 1}, true
}

// A Node is one value with its place. The zero Node is a value that is absent.
type Node struct {
	yaml   *yaml.Node
	reader *Reader
	offset int
	Field  string
}

// Present tells whether the value was written down; a bare "key:" or null is not.
func (n Node) Present() bool { return n.yaml != nil && n.yaml.Tag != "!!null" }

// Null tells whether the value was written down as null.
func (n Node) Null() bool { return n.yaml != nil && n.yaml.Tag == "!!null" }

// Line is the line of the value in its file.
func (n Node) Line() int {
	if n.yaml == nil {
		return 0
	}
	return n.yaml.Line + n.offset
}

// Reject records a problem with this value.
func (n Node) Reject(found, expected, mend string) {
	n.reader.add(n.Line(), n.Field, found, expected, mend)
}

// Found describes the value as it stands in the file.
func (n Node) Found() string {
	switch {
	case n.yaml == nil || n.yaml.Tag == "!!null":
		return "nothing"
	case n.yaml.Kind == yaml.MappingNode:
		return "a mapping"
	case n.yaml.Kind == yaml.SequenceNode:
		return "a list"
	case n.yaml.Kind == yaml.AliasNode:
		return "an alias (*" + n.yaml.Value + ")"
	default:
		return strconv.Quote(n.yaml.Value)
	}
}

func (n Node) child(y *yaml.Node, field string) Node {
	return Node{yaml: y, reader: n.reader, offset: n.offset, Field: field}
}

// Map returns the values of a mapping by key. Keys other than the allowed ones
// and keys that stand twice are recorded as problems.
func (n Node) Map(allowed ...string) map[string]Node {
	values := map[string]Node{}
	if !n.Present() {
		return values
	}
	if n.yaml.Kind != yaml.MappingNode {
		n.Reject(n.Found(), "a mapping with the keys "+strings.Join(allowed, ", "), "")
		return values
	}
	for i := 0; i+1 < len(n.yaml.Content); i += 2 {
		key, value := n.yaml.Content[i], n.yaml.Content[i+1]
		field := key.Value
		if n.Field != "" {
			field = n.Field + "." + key.Value
		}
		at := n.child(key, field)
		if !slices.Contains(allowed, key.Value) {
			at.Reject("the key "+strconv.Quote(key.Value), "one of "+strings.Join(allowed, ", "), DidYouMean(key.Value, allowed))
			continue
		}
		if earlier, twice := values[key.Value]; twice {
			at.Reject("the key a second time", fmt.Sprintf("it once (it stands on line %d already)", earlier.Line()), "take one of them out")
			continue
		}
		if value.Kind == yaml.AliasNode {
			at.Reject("an alias (*"+value.Value+")", "the value itself", "write the value out")
			continue
		}
		child := n.child(value, field)
		if value.Tag == "!!null" {
			child.yaml = &yaml.Node{Kind: yaml.ScalarNode, Tag: "!!null", Line: key.Line}
		}
		values[key.Value] = child
	}
	return values
}

// Value returns the value of one key of a mapping, whatever else stands in it.
func (n Node) Value(key string) Node {
	if !n.IsMap() {
		return Node{}
	}
	for i := 0; i+1 < len(n.yaml.Content); i += 2 {
		if k, value := n.yaml.Content[i], n.yaml.Content[i+1]; k.Value == key && value.Kind != yaml.AliasNode {
			return n.child(value, key)
		}
	}
	return Node{}
}

// A Pair is a key that the person chose, and its value.
type Pair struct {
	Key   string
	Line  int
	Value Node
}

// Pairs returns a mapping with free keys in the order of the file. Keys that
// stand twice are recorded as problems.
func (n Node) Pairs() []Pair {
	if !n.Present() {
		return nil
	}
	if n.yaml.Kind != yaml.MappingNode {
		n.Reject(n.Found(), "a mapping", "")
		return nil
	}
	var pairs []Pair
	for i := 0; i+1 < len(n.yaml.Content); i += 2 {
		key, value := n.yaml.Content[i], n.yaml.Content[i+1]
		at := n.child(key, n.Field+"."+key.Value)
		switch {
		case value.Kind == yaml.AliasNode || key.Kind != yaml.ScalarNode:
			at.Reject(n.child(value, "").Found(), "the value itself", "write the value out")
		case slices.ContainsFunc(pairs, func(p Pair) bool { return p.Key == key.Value }):
			at.Reject("the key a second time", "it once", "take one of them out")
		default:
			pairs = append(pairs, Pair{key.Value, at.Line(), n.child(value, at.Field)})
		}
	}
	return pairs
}

// List returns the values of a list; a single scalar counts as a list of one.
func (n Node) List() []Node {
	if !n.Present() {
		return nil
	}
	if n.yaml.Kind == yaml.ScalarNode {
		return []Node{n}
	}
	if n.yaml.Kind != yaml.SequenceNode {
		n.Reject(n.Found(), "a list", "write for example ["+"first, second]")
		return nil
	}
	var items []Node
	for i, y := range n.yaml.Content {
		item := n.child(y, fmt.Sprintf("%s[%d]", n.Field, i+1))
		if y.Kind == yaml.AliasNode {
			item.Reject(item.Found(), "the value itself", "write the value out")
			continue
		}
		items = append(items, item)
	}
	return items
}

// IsList tells whether the value is a list.
func (n Node) IsList() bool { return n.Present() && n.yaml.Kind == yaml.SequenceNode }

// IsMap tells whether the value is a mapping.
func (n Node) IsMap() bool { return n.Present() && n.yaml.Kind == yaml.MappingNode }
