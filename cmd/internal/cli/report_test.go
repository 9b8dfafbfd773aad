package cli

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
)

// output runs a command and returns what it prints.
func printed(t *testing.T, args ...string) []byte {
	t.Helper()
	var out, errs bytes.Buffer
	if code := Run(args, Streams{In: os.Stdin, Out: &out, Err: &errs, Now: clock}); code != exitOK {
		t.Fatalf("mealtrial %v: exit %d\n%s", args, code, errs.String())
	}
	return out.Bytes()
}

// Every number of a result on the page is that of the command it names, rounded,
// and there is none that names no command.
func TestReportSaysWhatTheCommandsSay(t *testing.T) {
	for name, study := range reportStudies(t) {
		t.Run(name, func(t *testing.T) {
			results := map[string]any{}
			for _, command := range []string{"analyse", "responses", "quote", "retest"} {
				d := json.NewDecoder(bytes.NewReader(printed(t, command, study, "--json")))
				d.UseNumber()
				var x any
				if err := d.Decode(&x); err != nil {
					t.Fatal(err)
				}
				results[command] = x
			}
			// Looks that were taken before are of the ledger, which analyse has written.
			page := printed(t, "report", study)
			seen := 0
			for _, e := range elements(t, page) {
				if e.from == "" {
					continue
				}
				seen++
				compare(t, e, results)
			}
			if seen < 20 {
				t.Errorf("only %d numbers name where they come from", seen)
			}
		})
	}
}

// reportStudies are the demo, a study without a schedule, and one with every kind of
// question.
func reportStudies(t *testing.T) map[string]string {
	dir := t.TempDir()
	demo, plain := filepath.Join(dir, "demo"), filepath.Join(dir, "plain")
	printed(t, "demo", "--dir", demo)
	if err := os.Mkdir(plain, 0o755); err != nil {
		t.Fatal(err)
	}
	study := "title: \"<b>&\\\"' & Söhne (invented)\"\nendpoint: {name: peak_rise, unit: mmol/L}\nmargin: 0.5\n" +
		"foods: [{id: a, name: \"<script>alert(1)</script>\", role: reference}, {id: b, name: \"אבג\"}, {id: c}]\nquestions: [a vs b, b vs c as ratio, a below 3, next b below 3, a same as c]\n" +
		"outcomes: [{id: k, kind: ketones}, {id: s, kind: rating, name: \"stiffness <i>of 2 joints\"}, {id: e, kind: event}]\n"
	log := ""
	for i, v := range []float64{2.5, 1.2, 0.9, 2.9, 1.6, 0.7, 2.2, 1.1, 1.3} {
		exclude := ""
		if i == 4 {
			exclude = ", exclude: \"ran 2 km\""
		}
		log += fmt.Sprintf("---\n{date: 2027-01-%02d, food: %c, value: %g%s, outcomes: {k: %g, s: %d, e: %s}}\n", 11+i, 'a'+i%3, v, exclude, 3.1-0.3*float64(i%7), i*3%11, []string{"yes", "no", "no"}[i%3])
	}
	for name, text := range map[string]string{"study.yaml": study, "log.yaml": log} {
		if err := os.WriteFile(filepath.Join(plain, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return map[string]string{"demo": demo, "plain": plain}
}

// outcomesStudy notes an outcome of every kind; two tests lack some.
func outcomesStudy(t *testing.T, dir string) string {
	study := "title: Outcomes (invented)\nfoods: [{id: a, role: reference}, {id: b}, {id: c}]\nmargin: 8\nquestions: [b vs a, c vs a, b vs a as ratio, b below 30, next c below 60]\n" +
		"outcomes: [{id: stiff, kind: rating, name: stiffness in points from 0}, {id: again, kind: event}, {id: ketones, kind: ketones}, {id: kg, kind: weight}, {id: steps, kind: number, unit: steps, matters: 500}, {id: never, kind: rating}]\n"
	log := ""
	for i, v := range []float64{45, 22, 30, 49, 26, 37, 42, 21, 33, 51, 18, 36, 44, 25, 31} {
		outcomes := fmt.Sprintf(", outcomes: {stiff: %d, again: %s, ketones: 0.%d, kg: %g, steps: %d}", (i*7)%5+i%3, []string{"no", "yes", "yes"}[i%3], 2+i%4, 80-0.1*float64(i), 4000+900*(i%3)+37*i)
		if i == 4 || i == 9 {
			outcomes = ""
		}
		log += fmt.Sprintf("---\n{date: 2027-01-%02d, food: %c, block: %d, value: %g%s}\n", 11+i, 'a'+i%3, 1+i/3, v, outcomes)
	}
	if err := os.Mkdir(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	for name, text := range map[string]string{"study.yaml": study, "log.yaml": log} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// largeStudy is as much as a page is made for: 20 foods with hard names, 60 tests
// with readings.
func largeStudy(t *testing.T) string {
	names := []string{`<b>&"'`, "konjac noodles from the market, old recipe", "Süßlupinennudeln mit Flohsamenschalenmehl", "אטריות תורמוס עם גבינה",
		"نودلز الترمس مع الجبن القديم", "羽扇豆面条配老奶酪和新鲜香草蒜蓉酱油", "🍜🍜🍜🍜🍜🍜", "averyveryverylongwordwithoutanyspaceatall"}
	study := "title: Many foods (invented)\nzone: UTC\nendpoint: {name: peak_rise, unit: mg/dL}\nmargin: 8\nfoods:\n"
	var log, csv strings.Builder
	csv.WriteString("time,glucose mg/dL\n")
	for i := range 20 {
		study += fmt.Sprintf("  - {id: f%d, name: %q}\n", i, names[i%len(names)]+strings.Repeat(" x", i/len(names)))
	}
	study += "questions: [f1 vs f0, f2 vs f0, f3 vs f0, f19 vs f1]\n"
	day := time.Date(2027, 1, 11, 7, 30, 0, 0, time.UTC)
	for test := range 60 {
		food := (test*7 + test/20) % 20
		fmt.Fprintf(&log, "---\n{date: %s, time: \"07:30\", food: f%d, block: %d}\n", day.Format("2006-01-02"), food, 1+test/20)
		for minute := -20; minute <= 130; minute += 5 {
			rise := 0.0
			if minute > 0 {
				x := float64(minute) / 45
				rise = float64(10+3*food+test%5) * x * math.Exp(1-x)
			}
			fmt.Fprintf(&csv, "%s,%.0f\n", day.Add(time.Duration(minute)*time.Minute).Format("2006-01-02 15:04"), 90+rise)
		}
		day = day.AddDate(0, 0, 1+test%2)
	}
	dir := t.TempDir()
	for name, text := range map[string]string{"study.yaml": study, "log.yaml": log.String(), "readings/sensor.csv": csv.String()} {
		if err := os.MkdirAll(filepath.Dir(filepath.Join(dir, name)), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// An element is text of the page with what surrounds it says of it.
type element struct {
	from, value, text string
	percent           bool
}

// elements reads the page; it fails where a digit stands in the words of the page
// themselves.
func elements(t *testing.T, page []byte) (out []element) {
	d := xml.NewDecoder(bytes.NewReader(page))
	d.Strict, d.AutoClose, d.Entity = false, xml.HTMLAutoClose, xml.HTMLEntity
	type open struct {
		name string
		free bool // digits may stand here: the person's words, dates, pictures
		at   int  // of the element in out, +1
	}
	stack := []open{{}}
	for {
		token, err := d.Token()
		if err == io.EOF {
			return out
		}
		if err != nil {
			t.Fatal(err)
		}
		top := stack[len(stack)-1]
		switch x := token.(type) {
		case xml.StartElement:
			next := open{name: x.Name.Local, free: top.free, at: top.at}
			switch x.Name.Local {
			case "svg", "style", "time", "title":
				next.free = true
			}
			e := element{}
			for _, a := range x.Attr {
				switch a.Name.Local {
				case "class":
					next.free = next.free || a.Value == "given"
				case "data-from":
					e.from = a.Value
				case "value":
					e.value = a.Value
				case "data-percent":
					e.percent = true
				}
			}
			if e.from != "" {
				out = append(out, e)
				next.at, next.free = len(out), true
			}
			stack = append(stack, next)
		case xml.EndElement:
			stack = stack[:len(stack)-1]
		case xml.CharData:
			if top.at > 0 {
				out[top.at-1].text += string(x)
			}
			if !top.free && strings.ContainsAny(string(x), "0123456789") {
				t.Errorf("the page says %q, a number that names no result", strings.TrimSpace(string(x)))
			}
		}
	}
}

// compare holds an element against the result that it names.
func compare(t *testing.T, e element, results map[string]any) {
	t.Helper()
	command, pointer, _ := strings.Cut(e.from, ":")
	x, ok := at(results[command], pointer)
	if !ok {
		t.Errorf("%s: the command has no such value", e.from)
		return
	}
	text := strings.ReplaceAll(e.text, "\u00a0", " ")
	switch want := x.(type) {
	case nil:
		t.Errorf("%s is null, the page says %q", e.from, text)
	case string:
		if text != want {
			t.Errorf("%s is %q, the page says %q", e.from, want, text)
		}
	case []any:
		var parts []string
		for _, p := range want {
			parts = append(parts, fmt.Sprint(p))
		}
		if text != strings.Join(parts, "; ") {
			t.Errorf("%s is %q, the page says %q", e.from, parts, text)
		}
	case json.Number:
		if e.value != want.String() {
			t.Errorf("%s is %s, the page has %s", e.from, want, e.value)
		}
		if !rounds(text, want, e.percent) {
			t.Errorf("%s is %s, the page says %q", e.from, want, text)
		}
	default:
		t.Errorf("%s is %v", e.from, x)
	}
}

// rounds tells whether a text is a number rounded to the decimals that it has.
func rounds(text string, want json.Number, percent bool) bool {
	text = strings.ReplaceAll(text, "−", "-")
	x, err := want.Float64()
	if err != nil {
		return false
	}
	if percent {
		text, x = strings.TrimSuffix(text, " %"), 100*x
	}
	shown, err := strconv.ParseFloat(text, 64)
	if err != nil {
		return false
	}
	decimals := 0
	if _, after, ok := strings.Cut(text, "."); ok {
		decimals = len(after)
	}
	return math.Abs(shown-x) <= 0.5*math.Pow(10, -float64(decimals))*(1+1e-9)+1e-9
}

// at follows a JSON pointer (RFC 6901).
func at(x any, pointer string) (any, bool) {
	for _, step := range strings.Split(strings.TrimPrefix(pointer, "/"), "/") {
		switch node := x.(type) {
		case map[string]any:
			next, ok := node[step]
			if !ok {
				return nil, false
			}
			x = next
		case []any:
			i, err := strconv.Atoi(step)
			if err != nil || i >= len(node) {
				return nil, false
			}
			x = node[i]
		default:
			return nil, false
		}
	}
	return x, true
}

// The page needs nothing else: no script, no address that is fetched.
func TestReportIsSelfContained(t *testing.T) {
	studies := reportStudies(t)
	studies["large"] = largeStudy(t)
	for name, study := range studies {
		page := string(printed(t, "report", study))
		for _, bad := range []string{"<script", "<img", "<iframe", "@import", "url(", "src="} {
			if strings.Contains(strings.ToLower(page), bad) {
				t.Errorf("%s: the page holds %s", name, bad)
			}
		}
		t.Logf("%s: %d kB", name, len(page)/1024)
		if len(page) > 2<<20 {
			t.Errorf("%s: the page has %d bytes, want less than 2 MB", name, len(page))
		}
		for rest := page; ; {
			i := strings.Index(rest, "href=\"")
			if i < 0 {
				break
			}
			rest = rest[i+6:]
			target, _, _ := strings.Cut(rest, "\"")
			if place, inside := strings.CutPrefix(target, "#"); inside && !strings.Contains(page, " id=\""+place+"\"") || !inside && target != "data:," {
				t.Errorf("%s: a link to %q, which is not on the page", name, target)
			}
		}
	}
}

// The sections stand in the order in which they are read, and every item of CENT
// 2015 is listed, 44 with the parts of items (Vohra et al. 2015, BMJ 350:h1738; items after 5 from memory).
func TestReportOrder(t *testing.T) {
	study := reportStudies(t)["demo"]
	page := string(printed(t, "report", study))
	last := 0
	for _, id := range []string{"answers", "notes", "differences", "foods", "curves", "order", "schedule", "robustness", "retest", "deviations", "methods", "items", "cautions"} {
		i := strings.Index(page, "<section id=\""+id+"\"")
		if i < last {
			t.Errorf("section %s is missing or out of order", id)
		}
		last = max(last, i)
	}
	items := strings.Fields("1a 1b 2a.1 2a.2 2b 3a 3b 4a 4b 4c 5 6a.1 6a.2 6b 7a 7b 8a 8b 8c 9 10 11a 11b 12a 12b 12c 13a.1 13b 13c 14a 14b 15 16 17a.1 17a.2 17b 18 19 20 21 22 23 24 25")
	if len(items) != 44 {
		t.Errorf("%d items, want 44", len(items))
	}
	for _, item := range items {
		if !strings.Contains(page, "data-label=\"Item\"><span class=\"given\">"+item+"<") {
			t.Errorf("the checklist has no item %s", item)
		}
	}
}
