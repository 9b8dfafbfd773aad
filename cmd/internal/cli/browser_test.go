package cli

import (
	"encoding/json"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// browser finds Chromium, or skips the test.
func browser(t *testing.T) string {
	if name := os.Getenv("CHROMIUM"); name != "" {
		return name
	}
	for _, name := range []string{"chromium", "chromium-browser"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	t.Skip("there is no Chromium: install it, or name it in CHROMIUM; bash .ci/run tries to")
	return ""
}

// The pages in a real browser: no error and no request, no sideways scrolling and
// nothing that overlaps at 390, 768 and 1440 pixels, light and dark, on A4 and
// Letter; no violation of the rules of WCAG 2.2 A and AA that axe-core checks.
func TestPagesInABrowser(t *testing.T) {
	tools := os.Getenv("PAGE_TOOLS")
	if tools == "" {
		t.Skip("PAGE_TOOLS names no folder with node_modules/puppeteer-core and axe-core; bash .ci/run installs them")
	}
	chromium := browser(t)
	studies := reportStudies(t)
	studies["large"] = largeStudy(t)
	for name, study := range studies {
		t.Run(name, func(t *testing.T) {
			page := filepath.Join(t.TempDir(), "page.html")
			printed(t, "report", study, "--out", page)
			openPage(t, page, chromium, tools, 0)
		})
	}
}

// Run sheets print to one page a test, also with a long way of preparing it.
func TestRunSheetsInABrowser(t *testing.T) {
	tools := os.Getenv("PAGE_TOOLS")
	if tools == "" {
		t.Skip("PAGE_TOOLS names no folder with node_modules/puppeteer-core and axe-core; bash .ci/run installs them")
	}
	chromium := browser(t)
	dir := filepath.Join(t.TempDir(), "study")
	printed(t, "init", dir)
	file := filepath.Join(dir, "study.yaml")
	study, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	long := strings.Replace(string(study), "portion: 60 g dry", "portion: 60 g dry, preparation: \""+strings.Repeat("stir slowly, and wait. ", 20)+"\"", 1)
	if long == string(study) {
		t.Fatal("the starter has no portion of 60 g dry any more")
	}
	if err := os.WriteFile(file, []byte(long), 0o644); err != nil {
		t.Fatal(err)
	}
	printed(t, "plan", dir)
	page := filepath.Join(t.TempDir(), "sheets.html")
	printed(t, "runsheet", dir, "--out", page)
	openPage(t, page, chromium, tools, 9)
}

func openPage(t *testing.T, page, chromium, tools string, pages int) {
	t.Helper()
	cmd := exec.Command("node", filepath.Join("testdata", "page.mjs"), page, chromium, t.TempDir(), strconv.Itoa(pages))
	cmd.Env = append(os.Environ(), "PAGE_TOOLS="+tools)
	out, err := cmd.Output()
	if err != nil {
		var exit *exec.ExitError
		if errors.As(err, &exit) {
			t.Fatalf("%v\n%s", err, exit.Stderr)
		}
		t.Fatal(err)
	}
	var wrong []string
	if err := json.Unmarshal(out, &wrong); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	for _, w := range wrong {
		t.Error(w)
	}
}
