package view

import (
	"bytes"
	"strings"
	"testing"

	"github.com/clipperhouse/displaywidth"
	"pgregory.net/rapid"
)

// A table that can be made narrow enough is, and loses no word.
func TestTablesFitTheScreen(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		word := rapid.StringMatching(`[a-zäöü漢字]{1,9}`)
		sentence := rapid.Custom(func(t *rapid.T) string { return strings.Join(rapid.SliceOfN(word, 1, 12).Draw(t, "words"), " ") })
		columns := []column{left("food"), right("a long header of numbers"), left("note")}
		var rows [][]string
		for range rapid.IntRange(1, 5).Draw(t, "rows") {
			rows = append(rows, []string{sentence.Draw(t, "name"), "12.3", sentence.Draw(t, "note")})
		}
		var out bytes.Buffer
		if err := table(&Screen{Writer: &out, Width: 60}, columns, rows); err != nil {
			t.Fatal(err)
		}
		for _, line := range strings.Split(out.String(), "\n") {
			if displaywidth.String(line) > 60 {
				t.Fatalf("%d columns: %s", displaywidth.String(line), line)
			}
		}
		for _, row := range rows {
			for _, cell := range row {
				for _, w := range strings.Fields(cell) {
					if !strings.Contains(out.String(), w) {
						t.Fatalf("%q is not in\n%s", w, out.String())
					}
				}
			}
		}
	})
}

func TestWrapKeepsEveryCharacter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringOf(rapid.RuneFrom([]rune("abc 漢字é👩‍👧"))).Draw(t, "text")
		width := rapid.IntRange(2, 20).Draw(t, "width")
		if got, want := strings.Join(wrap(text, width), ""), strings.Join(strings.Fields(text), ""); strings.ReplaceAll(got, " ", "") != want {
			t.Fatalf("%q became %q", want, got)
		}
	})
}

// GitHub Flavored Markdown, section 4.10: a pipe in a cell is escaped.
func TestMarkdownTable(t *testing.T) {
	var out bytes.Buffer
	screen := &Screen{Writer: &out, Format: FormatMarkdown, Width: 20}
	if err := table(screen, []column{left("a|b"), right("n")}, [][]string{{"x|y <b>", "1"}}); err != nil {
		t.Fatal(err)
	}
	const want = "\n| a\\|b | n |\n| :--- | ---: |\n| x\\|y \\<b\\> | 1 |\n\n"
	if out.String() != want {
		t.Errorf("got %q, want %q", out.String(), want)
	}
}

func TestCSV(t *testing.T) {
	type row struct {
		Food  string   `json:"food"`
		Mean  *float64 `json:"mean"`
		Inner struct {
			Low float64 `json:"low"`
		} `json:"inner"`
		Notes []string `json:"notes"`
		Deep  []struct {
			X int `json:"x"`
		} `json:"deep"`
	}
	mean := 1.25
	result := struct {
		Title string `json:"title"`
		Foods []row  `json:"foods"`
		Tests []row  `json:"tests"`
	}{Title: "t", Foods: []row{{Food: "=cmd|' /C calc'!A0", Mean: &mean, Notes: []string{"a", "b"}}, {Food: "x, \"y\""}}, Tests: []row{}}
	for i := range result.Foods {
		result.Foods[i].Deep = append(result.Foods[i].Deep, struct {
			X int `json:"x"`
		}{1})
	}
	var out bytes.Buffer
	others, err := CSV(&out, result, "foods")
	if err != nil {
		t.Fatal(err)
	}
	const want = "food,mean,inner_low,notes\n'=cmd|' /C calc'!A0,1.25,0,a; b\n\"x, \"\"y\"\"\",,0,\n"
	if out.String() != want || len(others) != 1 || others[0] != "tests" {
		t.Errorf("got %q, others %v; want %q", out.String(), others, want)
	}
	if _, err := CSV(&out, result, "none"); err == nil || err.Error() != `found the table "none", expected one of foods, tests` {
		t.Errorf("error %v", err)
	}
}

func TestBars(t *testing.T) {
	if got, want := bar(11, 5, 1, 4, 9), " ├──●────┤"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	if got, want := bar(11, 8, 0, 2, 4), "├─●─┤   ¦"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	if got, want := scale(20, 10, "−42", "12"), "−42       0       12"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}
