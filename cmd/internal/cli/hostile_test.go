package cli

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"errors"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"unicode"

	"mealtrial/protocol"
)

// Names that do harm where a program trusts them: formulas of spreadsheets, mark-up,
// lines of calendars.
var hostileNames = map[string]string{
	"wheat noodles":                     `=HYPERLINK("http://invalid.example","x")`,
	"lupin noodles":                     `<script>alert(1)</script>`,
	"konjac noodles (old recipe)":       `+1+1 ]]><!-- &amp; '`,
	"konjac noodles (new recipe)":       `@SUM(1) BEGIN:VEVENT;X,Y\n`,
	"edamame noodles":                   `-2 \u0027 %s %!d {{.}} ${HOME}`,
	"Noodle swaps (invented demo data)": `<b>"noodles" & 'co'</b>`,
}

const sequence = "\x1b]0;owned\x07\x1b[2J"

// hostileStudy is the demo with those names, and with characters that steer a
// terminal where they can stand: in names of files and of columns.
func hostileStudy(t *testing.T) string {
	dir := t.TempDir()
	run(t, "demo", "--dir", dir)
	path := filepath.Join(dir, protocol.StudyFile)
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for old, name := range hostileNames {
		quoted, _ := json.Marshal(name)
		if !bytes.Contains(text, []byte(old)) {
			t.Fatalf("the demo has no %q", old)
		}
		text = regexp.MustCompile(`"?`+regexp.QuoteMeta(old)+`"?`).ReplaceAllLiteral(text, quoted)
	}
	if err := os.WriteFile(path, text, 0o644); err != nil {
		t.Fatal(err)
	}
	readings := filepath.Join(dir, protocol.ReadingsDir)
	csv, err := os.ReadFile(filepath.Join(readings, "sensor-1.csv"))
	if err != nil {
		t.Fatal(err)
	}
	csv = bytes.Replace(csv, []byte("Local time"), []byte("Local time "+sequence), 1)
	if err := os.WriteFile(filepath.Join(readings, "sensor-1"+strings.ReplaceAll(sequence, "\x07", "")+".csv"), csv, 0o644); err != nil {
		t.Skip(err) // a system that does not take such a name
	}
	err = errors.Join(os.Remove(filepath.Join(readings, "sensor-1.csv")), os.WriteFile(filepath.Join(readings, "notes\x1b[2J.pdf"), []byte("x"), 0o644))
	if err != nil {
		t.Fatal(err)
	}
	return dir
}

// steers finds a control character that is not an end of line.
func steers(text string) bool {
	return strings.ContainsFunc(strings.ReplaceAll(text, "\r\n", "\n"), func(c rune) bool {
		return unicode.IsControl(c) && c != '\n' || c == '\u202e'
	})
}

func TestHostileNames(t *testing.T) {
	dir := hostileStudy(t)
	for _, command := range []string{"check", "analyse", "responses", "quote", "retest", "next", "analyse|--json", "responses|--json", "check|--json", "gap", "power"} {
		args := strings.Split(command, "|")
		var out, errs bytes.Buffer
		code := Run(append([]string{args[0], dir}, args[1:]...), Streams{In: os.Stdin, Out: &out, Err: &errs, Now: clock})
		if steers(out.String()) || steers(errs.String()) {
			t.Errorf("%s (exit %d) steers the terminal:\n%q\n%q", command, code, out.String(), errs.String())
		}
		if strings.HasSuffix(command, "--json") && code == exitOK && !json.Valid(out.Bytes()) {
			t.Errorf("%s: no JSON", command)
		}
	}
	for _, command := range []string{"figure|differences", "figure|foods", "figure|curves", "figure|order", "card|lupin vs wheat"} {
		args := strings.Split(command, "|")
		out := filepath.Join(t.TempDir(), "x.svg")
		var stdout, errs bytes.Buffer
		if code := Run(append(args, dir, "--out", out), Streams{In: os.Stdin, Out: &stdout, Err: &errs, Now: clock}); code != exitOK {
			t.Errorf("%s: exit %d: %s", command, code, errs.String())
			continue
		}
		harmlessSVG(t, command, out)
	}
}

// harmlessSVG reads a picture as XML: no element but those that draw, no attribute
// that runs anything.
func harmlessSVG(t *testing.T, command, name string) {
	file, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	for decoder := xml.NewDecoder(file); ; {
		token, err := decoder.Token()
		if err == io.EOF {
			return
		}
		if err != nil {
			t.Fatalf("%s: %v", command, err)
		}
		if e, ok := token.(xml.StartElement); ok {
			switch e.Name.Local {
			case "script", "foreignObject", "a", "image", "b":
				t.Errorf("%s: the element %s", command, e.Name.Local)
			}
			for _, a := range e.Attr {
				if strings.HasPrefix(a.Name.Local, "on") || strings.Contains(a.Value, "javascript:") {
					t.Errorf("%s: the attribute %s", command, a.Name.Local)
				}
			}
		}
	}
}

// A name ends up in a calendar as text only: RFC 5545, 3.3.11, escapes it.
func TestHostileNamesInACalendar(t *testing.T) {
	dir := hostileStudy(t)
	for _, name := range []string{protocol.LogFile, protocol.ScheduleFile} {
		if err := os.Remove(filepath.Join(dir, name)); err != nil {
			t.Fatal(err)
		}
	}
	out := filepath.Join(t.TempDir(), "x.ics")
	run(t, "plan", dir, "--ics", out)
	text, err := os.ReadFile(out)
	if err != nil || steers(string(text)) {
		t.Fatalf("%v %q", err, text)
	}
	if a, b := strings.Count(string(text), "BEGIN:VEVENT\r\n"), strings.Count(string(text), "END:VEVENT\r\n"); a != 24 || b != 24 {
		t.Errorf("%d and %d ends of events, want 24", a, b)
	}
}

// Keys and texts in the files of a study steer nothing either, and an alias, a deep
// nesting or a million mistakes end in a short answer.
func TestHostileFiles(t *testing.T) {
	bomb := "a: &a [x,x,x,x,x,x,x,x,x]\n"
	for c := 'b'; c < 'n'; c++ {
		bomb += string(c) + ": &" + string(c) + " [" + strings.Repeat("*"+string(c-1)+",", 9) + "]\n"
	}
	for name, text := range map[string]string{
		"key":      "\"\\e[2J\\a\": x\n",
		"text":     "title: \"\\e[2J\"\n",
		"override": "title: \"a\\u202eb\"\n",
		"food":     "foods: [\"\\e[31m\"]\n",
		"aliases":  bomb + "foods: *m\n",
		"deep":     "foods: " + strings.Repeat("[", 200_000) + "\n",
		"merge":    "x: &x {foods: [a]}\n<<: *x\n",
		"keys":     strings.Repeat("x: 1\n", 400_000),
		"other keys": func() string {
			var b strings.Builder
			for i := range 300_000 {
				b.WriteString("k" + string(rune('a'+i%26)) + ": 1\n")
			}
			return b.String()
		}(),
	} {
		dir := t.TempDir()
		if err := os.WriteFile(filepath.Join(dir, protocol.StudyFile), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		var out, errs bytes.Buffer
		if code := Run([]string{"check", dir}, Streams{In: os.Stdin, Out: &out, Err: &errs, Now: clock}); code != exitInput {
			t.Errorf("%s: exit %d", name, code)
		}
		if steers(out.String()) || steers(errs.String()) || errs.Len() > 100_000 {
			t.Errorf("%s: %d bytes of errors, %.200q", name, errs.Len(), errs.String())
		}
	}
}
