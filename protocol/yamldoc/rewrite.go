package yamldoc

import (
	"bytes"

	"gopkg.in/yaml.v3"
)

// Rewrite writes a document anew with what keep lets through, and without comments.
// keep is asked for every key of every map, by its path ("foods.id"; an item of a
// list has the path of the list): it may leave the key out, or give other YAML in
// the place of its value, "" for the value as it is. ok is false for text that is no
// such document.
func Rewrite(text []byte, keep func(path string) (kept bool, other string)) (out []byte, ok bool) {
	var document yaml.Node
	if yaml.Unmarshal(text, &document) != nil || len(document.Content) != 1 || document.Content[0].Kind != yaml.MappingNode {
		return nil, false
	}
	if !rewrite(document.Content[0], "", keep) {
		return nil, false
	}
	var b bytes.Buffer
	encoder := yaml.NewEncoder(&b)
	encoder.SetIndent(2)
	if encoder.Encode(document.Content[0]) != nil || encoder.Close() != nil {
		return nil, false
	}
	return b.Bytes(), true
}

func rewrite(n *yaml.Node, path string, keep func(string) (bool, string)) bool {
	n.HeadComment, n.LineComment, n.FootComment, n.Anchor = "", "", "", ""
	switch n.Kind {
	case yaml.AliasNode:
		return false
	case yaml.SequenceNode:
		for _, item := range n.Content {
			if !rewrite(item, path, keep) {
				return false
			}
		}
	case yaml.MappingNode:
		var content []*yaml.Node
		for i := 0; i+1 < len(n.Content); i += 2 {
			key, value := n.Content[i], n.Content[i+1]
			at := key.Value
			if path != "" {
				at = path + "." + at
			}
			kept, other := keep(at)
			if !kept {
				continue
			}
			if other != "" {
				var instead yaml.Node
				if yaml.Unmarshal([]byte(other), &instead) != nil || len(instead.Content) != 1 {
					return false
				}
				value = instead.Content[0]
			} else if !rewrite(value, at, keep) {
				return false
			}
			key.HeadComment, key.LineComment, key.FootComment = "", "", ""
			content = append(content, key, value)
		}
		n.Content = content
	}
	return true
}
