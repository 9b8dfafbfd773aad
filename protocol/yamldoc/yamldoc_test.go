package yamldoc

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func parse(t *testing.T, text string) (*Reader, Node) {
	t.Helper()
	r := &Reader{File: "x.yaml"}
	clean, ok := r.Clean([]byte(text))
	if !ok {
		t.Fatal(r.Err())
	}
	parts := Split(clean)
	root, ok := r.Parse(parts[len(parts)-1])
	if !ok {
		t.Fatal(r.Err())
	}
	return r, root
}

func TestSplitKeepsLines(t *testing.T) {
	parts := Split([]byte("# head\n---\na: 1\n--- {b: 2}\n---\n# nothing\n---\nc: 3"))
	var got []string
	for _, p := range parts {
		got = append(got, strings.TrimSpace(string(p.Text)))
	}
	if diff := cmp.Diff([]string{"a: 1", "{b: 2}", "c: 3"}, got); diff != "" {
		t.Error(diff)
	}
	if parts[1].Line != 4 || parts[2].Line != 7 {
		t.Errorf("lines %d and %d, want 4 and 7", parts[1].Line, parts[2].Line)
	}
}

func TestProblemsNameLineAndField(t *testing.T) {
	r, root := parse(t, "plan:\n  repeats: -1\n  repeats: 2\n  stort: 3\nlist: [1, x]\n")
	m := root.Map("plan", "list")
	m["plan"].Map("repeats", "start")["repeats"].Whole(1, 9, 3)
	for _, item := range m["list"].List() {
		item.Number("a number")
	}
	want := []string{
		"x.yaml:3: plan.repeats: found the key a second time, expected it once (it stands on line 2 already); take one of them out",
		`x.yaml:4: plan.stort: found the key "stort", expected one of repeats, start; did you mean "start"?`,
		`x.yaml:2: plan.repeats: found "-1", expected a whole number from 1 to 9; write for example 3`,
		`x.yaml:5: list[2]: found "x", expected a number; write the number in digits, with a point for decimals`,
	}
	if diff := cmp.Diff(strings.Join(want, "\n"), r.Err().Error()); diff != "" {
		t.Error(diff)
	}
}

// Numbers are decimal and finite: what YAML would take for octal, hexadecimal,
// infinite or not a number is none.
func TestNumbersArePlain(t *testing.T) {
	for text, ok := range map[string]bool{"010": true, "1e3": true, "-2.5": true, ".nan": false, ".inf": false, "0x1F": false, "1_000": false, "4,5": false} {
		_, root := parse(t, "x: "+text)
		x, got := root.Map("x")["x"].Number("a number")
		if got != ok {
			t.Errorf("%s: %v %v", text, x, got)
		}
		if text == "010" && x != 10 {
			t.Errorf("010 is %g, want 10", x)
		}
	}
}

func TestDidYouMean(t *testing.T) {
	for word, want := range map[string]string{"lupine": `did you mean "lupin"?`, "Wheat": `did you mean "wheat"?`, "xyzzy": ""} {
		if got := DidYouMean(word, []string{"wheat", "lupin"}); got != want {
			t.Errorf("%s: %q, want %q", word, got, want)
		}
	}
}

func TestInvisibleCharactersAreRefused(t *testing.T) {
	for text, ok := range map[string]bool{"abc": true, "a\u202eb": false, "a\u200bb": false, "👨‍👩‍👧": true, "שלום": true} {
		r, root := parse(t, "x: \""+text+"\"")
		if got := root.Map("x")["x"].Text(); (got == text) != ok || (r.Err() == nil) != ok {
			t.Errorf("%q: %q, %v", text, got, r.Err())
		}
	}
}

// FuzzParse: no text may panic.
func FuzzParse(f *testing.F) {
	f.Add([]byte("---\n{a: [1, {b: c}], d: \"x\"}\n--- e\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		r := &Reader{File: "x"}
		text, ok := r.Clean(data)
		if !ok {
			return
		}
		for _, part := range Split(text) {
			if root, ok := r.Parse(part); ok {
				for _, n := range root.Map("a", "b") {
					n.Text()
					n.Number("a number")
					n.List()
				}
			}
		}
	})
}
