package yamldoc

import (
	"bytes"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"gopkg.in/yaml.v3"
)

func TestInsert(t *testing.T) {
	pairs := []KeyText{{"unit", "mg/dL"}, {"name", `"a # b"`}}
	for _, c := range []struct {
		name, text string
		path       []string
		want       string
	}{
		{"new key at the end", "# head\na: 1 # why\n\n# tail\n", []string{"readings"}, "# head\na: 1 # why\n\n# tail\nreadings:\n  unit: mg/dL\n  name: \"a # b\"\n"},
		{"no end of line", "# head\na: 1", []string{"readings"}, "# head\nreadings:\n  unit: mg/dL\n  name: \"a # b\"\na: 1"},
		{"Windows", "a: 1\r\n", []string{"readings"}, "a: 1\r\nreadings:\r\n  unit: mg/dL\r\n  name: \"a # b\"\r\n"},
		{"one key a line", "readings: # mine\n    # told\n    zone: UTC # here\nb: 2\n", []string{"readings"}, "readings: # mine\n    # told\n    unit: mg/dL\n    name: \"a # b\"\n    zone: UTC # here\nb: 2\n"},
		{"in brackets", "readings: {zone: UTC} # here\n", []string{"readings"}, "readings: {unit: mg/dL, name: \"a # b\", zone: UTC} # here\n"},
		{"empty brackets", "readings: {}\n", []string{"readings"}, "readings: {unit: mg/dL, name: \"a # b\"}\n"},
		{"brackets after other letters", "\"größe\": {readings: 1}\nreadings: {\n  zone: UTC}\n", []string{"readings"}, "\"größe\": {readings: 1}\nreadings: {unit: mg/dL, name: \"a # b\", \n  zone: UTC}\n"},
		{"nothing there", "readings:\nb: 2\n", []string{"readings"}, "readings:\n  unit: mg/dL\n  name: \"a # b\"\nb: 2\n"},
		{"two steps", "a: 1\n", []string{"readings", "files"}, "a: 1\nreadings: {files: {unit: mg/dL, name: \"a # b\"}}\n"},
		{"second step new", "readings:\n  zone: UTC\n", []string{"readings", "files"}, "readings:\n  files:\n    unit: mg/dL\n    name: \"a # b\"\n  zone: UTC\n"},
		{"second step new, in brackets", "readings: {zone: UTC}\n", []string{"readings", "files"}, "readings: {files: {unit: mg/dL, name: \"a # b\"}, zone: UTC}\n"},
		{"second step there", "readings:\n  files:\n    x: {zone: UTC}\n", []string{"readings", "files"}, "readings:\n  files:\n    unit: mg/dL\n    name: \"a # b\"\n    x: {zone: UTC}\n"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := Insert([]byte(c.text), pairs, c.path...)
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(c.want, string(got)); diff != "" {
				t.Error(diff)
			}
			var v any
			if err := yaml.Unmarshal(got, &v); err != nil {
				t.Error(err)
			}
		})
	}
	for name, c := range map[string][2]string{
		"root in brackets": {"{a: 1}\n", "it is no mapping with one key a line"},
		"CR alone":         {"a: 1\rb: 2\r", "its lines end in CR alone"},
		"a list":           {"readings: [1]\n", "readings is no mapping"},
		"broken":           {"a: [\n", "yaml: line 1: did not find expected node content"},
	} {
		if _, err := Insert([]byte(c[0]), pairs, "readings"); err == nil || err.Error() != c[1] {
			t.Errorf("%s: %v, want %s", name, err, c[1])
		}
	}
	if got, err := Insert([]byte("a: 1\n"), nil, "readings"); err != nil || string(got) != "a: 1\n" {
		t.Errorf("nothing to add: %q, %v", got, err)
	}
}

func TestWithout(t *testing.T) {
	for _, c := range [][2]string{
		{"a: 1\nreadings:\n  x: 1\n\ty: 2\nb: 2\n", "a: 1\nb: 2\n"},
		{"readings: {x: 1}\n# kept\n", "# kept\n"},
		{"readings:\n  x: 1\n\nb: 2\n", "\nb: 2\n"},
		{"a:\n  readings: 1\nreadingsx: 2\n", "a:\n  readings: 1\nreadingsx: 2\n"},
		{"a: 1\n", "a: 1\n"},
	} {
		if got := string(Without([]byte(c[0]), "readings")); got != c[1] {
			t.Errorf("%q gives %q, want %q", c[0], got, c[1])
		}
	}
}

// What is inserted can be read, changes nothing else, and, where the key was
// not there before, is taken out again to the byte.
func FuzzInsert(f *testing.F) {
	for _, seed := range []string{"a: 1\n", "# x\nfoods: [a]\nreadings: {unit: mg/dL} # y\n", "readings:\n  files:\n    a: {}\n", "a: |\n  readings:\n", "readings:\n", "\ufeffa: 1\r\n", "a: 1\n---\nb: 2\n", "? x\n: y\n"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if strings.Contains(text, "insert") || strings.Contains(text, "<<") {
			return
		}
		out, err := Insert([]byte(text), []KeyText{{"insert", "1"}}, "readings")
		if err != nil {
			return
		}
		var before, after map[string]any
		if yaml.Unmarshal([]byte(text), &before) != nil {
			return
		}
		if err := yaml.Unmarshal(out, &after); err != nil {
			return // the caller reads it again and leaves the file as it was
		}
		_, had := before["readings"]
		if without := Without(out, "readings"); !had && bytes.Count([]byte(text), []byte("readings")) == 0 && !bytes.Equal(without, []byte(text)) {
			t.Fatalf("%q became %q, and without it %q", text, out, without)
		}
		delete(before, "readings")
		delete(after, "readings")
		if diff := cmp.Diff(before, after); diff != "" && !had {
			t.Fatalf("%q became %q: %s", text, out, diff)
		}
	})
}
