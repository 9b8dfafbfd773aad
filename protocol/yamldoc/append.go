package yamldoc

import (
	"bytes"
	"strings"

	"gopkg.in/yaml.v3"
)

// AppendItem puts one more item, a value written on one line, at the end of the
// list under a key of a document whose root is a map, and leaves all else as it
// was typed, comments too. The key is added at the end where it is not there. ok
// is false for text that is not such a document, and for a list in brackets.
func AppendItem(text []byte, key, item string) (out []byte, ok bool) {
	var document yaml.Node
	if yaml.Unmarshal(text, &document) != nil || len(document.Content) != 1 || document.Content[0].Kind != yaml.MappingNode ||
		document.Content[0].Style&yaml.FlowStyle != 0 {
		return nil, false
	}
	root := document.Content[0]
	for i := 0; i < len(root.Content); i += 2 {
		if root.Content[i].Value != key {
			continue
		}
		list := root.Content[i+1]
		if list.Kind != yaml.SequenceNode || list.Style&yaml.FlowStyle != 0 || len(list.Content) == 0 {
			return nil, false
		}
		indent := strings.Repeat(" ", list.Column-1)
		return insert(text, lastLine(list), indent+"- "+item), true
	}
	if len(text) > 0 && !bytes.HasSuffix(text, []byte("\n")) {
		text = append(bytes.Clone(text), '\n')
	}
	return append(bytes.Clone(text), key+":\n  - "+item+"\n"...), true
}

// lastLine returns the last line of a value, from 1.
func lastLine(n *yaml.Node) int {
	last := n.Line + strings.Count(strings.TrimRight(n.Value, "\n"), "\n")
	for _, c := range n.Content {
		last = max(last, lastLine(c))
	}
	return last
}

// insert puts a line behind the n-th.
func insert(text []byte, n int, line string) []byte {
	lines := bytes.SplitAfter(text, []byte("\n"))
	var out []byte
	for i, l := range lines {
		out = append(out, l...)
		if i == n-1 {
			if !bytes.HasSuffix(l, []byte("\n")) {
				out = append(out, '\n')
			}
			out = append(out, line+"\n"...)
		}
	}
	return out
}
