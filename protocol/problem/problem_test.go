package problem

import "testing"

func TestVisible(t *testing.T) {
	for text, want := range map[string]string{
		"größer, 5 µg 🥣":    "größer, 5 µg 🥣",
		"\x1b[2J":           `\x1b[2J`,
		"a\nb\tc":           `a\nb\tc`,
		"\u009b31m":         `\u009b31m`,
		"evil\u202efdp.csv": `evil\u202efdp.csv`,
		"\xff":              "\ufffd",
	} {
		if got := Visible(text); got != want {
			t.Errorf("%q: %q, want %q", text, got, want)
		}
	}
	p := Problem{File: "readings/\x1b[2J.csv", Line: 3, Field: "a\x07", Found: `"x"`}
	if got, want := p.Error(), `readings/\x1b[2J.csv:3: a\a: found "x"`; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}
