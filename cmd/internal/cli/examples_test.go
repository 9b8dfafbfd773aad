package cli

import (
	"bytes"
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/spf13/cobra"

	"mealtrial/cmd/internal/view"
)

// What the examples of the help need besides a study in noodles: the demo study, eaten
// to its end; a new one; or more, and then it is said why the example cannot run here.
var exampleNeeds = map[string]string{
	"init noodles":                   "nothing",
	"init noodles --starter":         "nothing",
	"plan noodles --ics noodles.ics": "new",
	"plan noodles --masked":          "new",
	"record noodles":                 "a person on a terminal",
	`record noodles --date 2027-01-11 --time 07:32 --food wheat --ate "180 g cooked"`:  "new",
	"record noodles --date 2027-01-13 --food lupin --block 1 --value 22":               "new",
	"record noodles --measured 2027-01-14 --outcome stiffness=3 --outcome ketones=0.4": "new",
	`record noodles --date 2027-01-13 --time 07:40 --correct="2027-01-13 07:04"`:       "new",
	`record noodles --date 2027-01-13 --looked-at "talked to my doctor"`:               "new",
	`record noodles --date 2027-01-13 --correct --exclude "ran for the bus"`:           "new",
	`replan noodles --from 2027-02-01 --why "flu" --who "the tester"`:                  "new",
	"spread noodles --into breads":                                                     "a second study",
	"power noodles --study last-month":                                                 "a second study",
	"runsheet noodles --helper --key /media/helper/key.yaml --out kitchen.html":        "the key of a masked study",
	"unmask noodles": "a masked study",
	"retest noodles --apply --from 2027-03-08":         "a study with an open question that a retest would settle",
	`label noodles.yaml --avoid "milk, tree nuts"`:     "a label file",
	"label noodles.yaml --against wheat.yaml":          "a label file",
	"label noodles.yaml --response 20,36 --unit mg/dL": "a label file",
	"label lupin noodles":                              "a label in the study",
}

const newNoodles = `zone: UTC
foods: [{id: wheat, role: reference}, {id: lupin}]
margin: 8
plan: {start: 2027-01-11, until: 2027-03-20, repeats: 6, washout: 1}
outcomes: [{id: stiffness, kind: rating, time: next morning}, {id: ketones, kind: ketones, time: next morning}]
`

const eatenNoodles = "---\n{date: 2027-01-13, time: \"07:04\", food: lupin, block: 1, value: 20}\n"

// Each example of the help runs as it stands.
func TestHelpExamplesRun(t *testing.T) {
	demo := t.TempDir()
	t.Chdir(demo)
	printed(t, "demo", "--dir", "noodles")
	ran := 0
	for _, c := range newRoot(Streams{Out: &view.Screen{Writer: &bytes.Buffer{}}, Now: clock}).Commands() {
		for _, line := range exampleLines(c) {
			needs := exampleNeeds[line]
			if strings.HasPrefix(needs, "a ") || strings.HasPrefix(needs, "the ") {
				continue
			}
			ran++
			t.Chdir(t.TempDir())
			switch needs {
			case "":
				if err := os.CopyFS("noodles", os.DirFS(demo+"/noodles")); err != nil {
					t.Fatal(err)
				}
			case "new":
				for name, text := range map[string]string{"study.yaml": newNoodles, "log.yaml": eatenNoodles} {
					if err := os.MkdirAll("noodles", 0o755); err != nil {
						t.Fatal(err)
					}
					if strings.HasPrefix(line, "plan") && name == "log.yaml" || strings.Contains(line, "--date 2027-01-13 --food") && name == "log.yaml" {
						continue
					}
					if err := os.WriteFile("noodles/"+name, []byte(text), 0o644); err != nil {
						t.Fatal(err)
					}
				}
				if strings.HasPrefix(line, "replan") {
					printed(t, "plan", "noodles")
				}
			}
			var out, errs bytes.Buffer
			s := Streams{In: strings.NewReader(""), Out: &out, Err: &errs, Now: clock, Secret: func() uint64 { return 1 }}
			if code := Run(words(line), s); code != exitOK {
				t.Errorf("mealtrial %s: exit %d\n%s", line, code, errs.String())
			}
		}
	}
	if ran < 30 {
		t.Errorf("only %d examples ran", ran)
	}
}

// exampleLines are the calls in the examples of a command, without the program's name.
func exampleLines(c *cobra.Command) (lines []string) {
	for _, line := range strings.Split(c.Example, "\n") {
		if call, is := strings.CutPrefix(strings.TrimSpace(line), "mealtrial "); is {
			call, _, _ = strings.Cut(call, " > ")
			lines = append(lines, strings.TrimSpace(call))
		}
	}
	return lines
}

var word = regexp.MustCompile(`(?:[^\s"]|"[^"]*")+`)

// words splits a line as a shell does that knows double quotes alone.
func words(line string) (out []string) {
	for _, w := range word.FindAllString(line, -1) {
		out = append(out, strings.ReplaceAll(w, `"`, ""))
	}
	return out
}
