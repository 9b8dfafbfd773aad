package cli

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "rewrite the output that the README shows")

var consoleBlock = regexp.MustCompile("(?s)```console\n(.*?)```")

// Every console block of the README is run, in order, in one empty folder, and
// must print what stands there: standard error and standard output together.
func TestREADMEShowsRealOutput(t *testing.T) {
	path, err := filepath.Abs("../../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	t.Chdir(t.TempDir())
	ran := 0
	got := consoleBlock.ReplaceAllFunc(text, func(block []byte) []byte {
		var b strings.Builder
		b.WriteString("```console\n")
		for _, line := range strings.Split(string(consoleBlock.FindSubmatch(block)[1]), "\n") {
			if command, ok := strings.CutPrefix(line, "$ "); ok {
				ran++
				b.WriteString("$ " + command + "\n" + runLine(t, command))
			}
		}
		return []byte(b.String() + "```")
	})
	if ran < 5 {
		t.Errorf("the README shows %d commands, want a tour", ran)
	}
	if *update {
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if diff := cmp.Diff(string(text), string(got)); diff != "" {
		t.Errorf("the README shows other output than the program (rewrite it with -update):\n%s", diff)
	}
}

// runLine runs one command line of the README; its words may be quoted with ".
func runLine(t *testing.T, line string) string {
	args := regexp.MustCompile(`"[^"]*"|\S+`).FindAllString(line, -1)
	for i, a := range args {
		args[i] = strings.Trim(a, `"`)
	}
	if args[0] != "mealtrial" {
		t.Fatalf("the README runs %q, which is not mealtrial", line)
	}
	var out bytes.Buffer
	Run(args[1:], Streams{In: strings.NewReader(""), Out: &out, Err: &out, Now: clock})
	return out.String()
}

// The study and the log that the README shows go together.
func TestREADMEFilesCanBeAnalysed(t *testing.T) {
	text, err := os.ReadFile("../../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	for _, name := range []string{"study.yaml", "log.yaml"} {
		_, block, ok := strings.Cut(string(text), "```yaml\n# "+name)
		block, _, _ = strings.Cut(block, "```")
		if !ok {
			t.Fatalf("the README shows no %s", name)
		}
		if err := os.WriteFile(filepath.Join(dir, name), []byte("# "+block), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	var out bytes.Buffer
	if code := Run([]string{"analyse", dir}, Streams{In: strings.NewReader(""), Out: &out, Err: &out, Now: clock}); code != exitOK || !strings.Contains(out.String(), "3 tests counted in 1 block") {
		t.Errorf("exit %d\n%s", code, out.String())
	}
}
