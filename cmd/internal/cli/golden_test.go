package cli

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/clipperhouse/displaywidth"
	"github.com/google/go-cmp/cmp"
)

// What a terminal of 80 and of 110 columns shows, and what other formats hold:
// files in testdata/golden, rewritten with -update.
func TestGoldenOutput(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "study")
	run := func(width int, args ...string) string {
		t.Helper()
		var out, errs bytes.Buffer
		clock := func() time.Time { return time.Date(2027, 3, 10, 9, 0, 0, 0, time.UTC) }
		if code := Run(args, Streams{In: strings.NewReader(""), Out: &out, Err: &errs, Now: clock, Width: width}); code != exitOK {
			t.Fatalf("%v: exit %d: %s", args, code, errs.String())
		}
		return strings.ReplaceAll(out.String(), dir, "STUDY")
	}
	run(0, "demo", "--dir", dir)
	for _, c := range []struct {
		file  string
		width int
		args  []string
	}{
		{"analyse_80.txt", 80, []string{"analyse", dir}},
		{"analyse_110.txt", 110, []string{"analyse", dir}},
		{"responses_96.txt", 96, []string{"responses", dir}},
		{"retest_80.txt", 80, []string{"retest", dir}},
		{"analyse.md", 0, []string{"analyse", dir, "--format", "markdown"}},
		{"questions.csv", 0, []string{"analyse", dir, "--format", "csv"}},
		{"foods.csv", 0, []string{"analyse", dir, "--format", "csv", "--table", "foods"}},
		{"responses.csv", 0, []string{"responses", dir, "--format", "csv"}},
	} {
		got := run(c.width, c.args...)
		for _, line := range strings.Split(got, "\n") {
			if w := displaywidth.String(line); c.width > 0 && w > c.width {
				t.Errorf("%s: a line of %d columns: %s", c.file, w, line)
			}
		}
		path := filepath.Join("testdata", "golden", c.file)
		if *update {
			if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
				t.Fatal(err)
			}
			continue
		}
		want, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(strings.Split(string(want), "\n"), strings.Split(got, "\n")); d != "" {
			t.Errorf("%s (rewrite it with -update):\n%s", c.file, d)
		}
	}
}
