package cli

import (
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// What each room may import of ours: arrows run one way, cmd → protocol →
// design → stats, and views draw what they are given.
var rooms = []struct {
	room string // the folder; the longest that fits counts
	may  []string
}{
	{"stats", []string{"stats"}},
	{"stats/tails", nil},
	{"design", []string{"design", "stats"}},
	{"protocol/problem", nil},
	{"protocol/store", []string{"protocol/problem"}},
	{"protocol/busy", []string{"protocol/problem"}},
	{"protocol/label", []string{"protocol/problem", "protocol/yamldoc", "stats"}},
	{"design/chance", nil},
	{"design/layout", []string{"design/chance", "stats"}},
	{"protocol/fhir", []string{"protocol/problem"}},
	{"protocol/readings", []string{"protocol/fhir", "protocol/problem"}},
	{"protocol/yamldoc", []string{"protocol/problem"}},
	{"protocol", []string{"protocol", "design", "stats"}},
	{"cmd/internal/ask", nil},
	{"cmd/internal/view", []string{"protocol", "stats"}},
	{"cmd/internal/view/drawing", nil},
	{"cmd/internal/view/figure", []string{"cmd/internal/view", "cmd/internal/view/drawing", "protocol", "stats"}},
	{"cmd/internal/view/card", []string{"cmd/internal/view", "cmd/internal/view/drawing"}},
	{"cmd/internal/view/page", []string{"cmd/internal/view", "cmd/internal/view/drawing", "cmd/internal/view/figure", "protocol"}},
	{"cmd/internal/cli", []string{"cmd/internal/ask", "cmd/internal/view", "protocol", "design", "stats"}},
	{"cmd/mealtrial", []string{"cmd/internal/cli"}},
}

// Libraries that only one place may know.
var onlyIn = map[string]string{
	"gopkg.in/yaml.v3":                   "protocol/yamldoc",
	"github.com/olekukonko/tablewriter":  "cmd/internal/view",
	"github.com/arran4/golang-ical":      "cmd/internal/view",
	"github.com/spf13/cobra":             "cmd/internal/cli",
	"charm.land":                         "cmd/internal/ask",
	"github.com/cheggaaa/pb":             "cmd/internal/cli",
	"gonum.org/v1/plot":                  "cmd/internal/view/drawing",
	"codeberg.org/go-pdf/fpdf":           "cmd/internal/view/drawing",
	"codeberg.org/go-fonts/liberation":   "cmd/internal/view/drawing",
	"golang.org/x/sys":                   "protocol/store",
	"gonum.org/v1/gonum/lapack/lapack64": "stats/linear",
	"github.com/rogpeppe/go-internal":    "cmd/internal/cli",
}

// What the core must not reach for: screens, clocks and files are handed in.
var neverIn = map[string][]string{
	"stats":             {"os", "io/fs", "time", "fmt"},
	"design":            {"os", "io/fs", "time"},
	"cmd/internal/view": {"os", "io/fs"},
}

func TestArrowsRunOneWay(t *testing.T) {
	const root = "../../.."
	seen := 0
	err := fs.WalkDir(os.DirFS(root), ".", func(file string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(file, ".go") || strings.HasSuffix(file, "_test.go") {
			return err
		}
		seen++
		parsed, err := parser.ParseFile(token.NewFileSet(), filepath.Join(root, file), nil, parser.ImportsOnly)
		if err != nil {
			return err
		}
		for _, spec := range parsed.Imports {
			imported, _ := strconv.Unquote(spec.Path.Value)
			checkImport(t, file, imported)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if seen < 20 {
		t.Errorf("only %d files were read", seen)
	}
}

func checkImport(t *testing.T, file, imported string) {
	folder := path.Dir(file)
	if ours, yes := strings.CutPrefix(imported, "mealtrial/"); yes && !mayImport(t, folder, ours) {
		t.Errorf("%s imports %s, against the direction of the arrows", file, imported)
	}
	for library, home := range onlyIn {
		if within(imported, library) && !within(folder, home) {
			t.Errorf("%s imports %s, which only %s may", file, imported, home)
		}
	}
	for room, never := range neverIn {
		for _, name := range never {
			if within(folder, room) && imported == name {
				t.Errorf("%s imports %s, which %s does not touch", file, imported, room)
			}
		}
	}
}

func mayImport(t *testing.T, folder, ours string) bool {
	best := -1
	for i, r := range rooms {
		if within(folder, r.room) && (best < 0 || len(r.room) > len(rooms[best].room)) {
			best = i
		}
	}
	if best < 0 {
		t.Errorf("%s is in no room", folder)
		return true
	}
	for _, may := range rooms[best].may {
		if within(ours, may) {
			return true
		}
	}
	return false
}

func within(name, parent string) bool { return name == parent || strings.HasPrefix(name, parent+"/") }
