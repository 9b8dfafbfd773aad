package cli

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"mealtrial/protocol"
)

func sharedOutput(t *testing.T, args ...string) string {
	t.Helper()
	var out, errs bytes.Buffer
	if code := Run(args, Streams{In: os.Stdin, Out: &out, Err: &errs, Now: clock, Secret: secretSeed}); code != exitOK {
		t.Fatalf("mealtrial %v: exit %d\n%s", args, code, errs.String())
	}
	return out.String()
}

func put(t *testing.T, dir, name, text string) {
	t.Helper()
	if err := os.MkdirAll(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

// numbersOf are the results of analyse --json that do not hang on what a copy leaves
// out: names, the digest of the study file, warnings about it, reasons, and what is
// taken from the curves beside the endpoint.
func numbersOf(t *testing.T, dir string) map[string]any {
	var a map[string]any
	if err := json.Unmarshal([]byte(sharedOutput(t, "analyse", dir, "--json")), &a); err != nil {
		t.Fatal(err)
	}
	for _, key := range []string{"title", "study_sha256", "warnings", "secondary_endpoints", "outcomes", "safety", "floor"} {
		delete(a, key)
	}
	for _, f := range a["foods"].([]any) {
		delete(f.(map[string]any), "name")
	}
	excluded, _ := a["excluded"].([]any)
	for _, e := range excluded {
		delete(e.(map[string]any), "reason")
		delete(e.(map[string]any), "time")
	}
	return a
}

var private = regexp.MustCompile(`(?i)secret|dentist|vienna|bob|\b0?[6-9]:[0-5]\d\b`)

// leaks looks for what was to stay at home, the planned time of the default aside.
func leaks(t *testing.T, dir string) {
	t.Helper()
	for name, text := range contents(t, dir) {
		if strings.HasPrefix(name, protocol.ReadingsDir) || name == protocol.KeyFile {
			t.Errorf("%s was shared", name)
		}
		if found := private.FindString(strings.ReplaceAll(text, `time: "07:30"`, "")); found != "" {
			t.Errorf("%s holds %q:\n%s", name, found, text)
		}
	}
}

const sharedStudy = `# secret comment
title: Bob's secret swaps
zone: Europe/Vienna
safety: {glucose_lowering_medication: no, pregnancy: no, eating_disorder: no, ketoacidosis_before: no}
margin: 8
foods:
  - {id: bread, name: secret bread, role: reference, portion: 2 secret slices}
  - {id: rye, name: secret rye, preparation: toasted in secret}
  - {id: oats, from: 2027-01-12}
questions: [rye vs bread, oats vs bread]
plan: {start: 2027-01-11, until: 2027-03-20, repeats: 3, washout: 1, busy: [secret.ics, 2027-02-03], time: "06:45", fast: 8h, washout_after: {oats: 2}}
`

// keysWithinKeys has every mapping that may stand within another and is shared.
const keysWithinKeys = `endpoint: {name: peak_rise, window: 120m, smoothing: {median: 3}, secondary: [iauc, {name: time_above, level: 140}]}
quality: {max_gap: 20m, at_limit: bound, sensors: [arm], leave_out: [sharp_drop]}
margin: 8
foods: [{id: bread, role: reference}, {id: rye, opened: 2027-01-11, keeps: 60}, {id: oats, repeats: 4}]
questions: [{ask: rye vs bread, primary: yes}, oats vs bread, rye below 60]
looks: {after: [2, 3], shape: obrien_fleming}
outcomes: [{id: secret, kind: rating}]
plan: {start: 2027-01-11, until: 2027-03-20, repeats: 3, washout_after: {bread: 2}, sensors: [{start: 2027-01-09 18:00, days: 14, count: 5}]}
`

const secretCalendar = "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//x//x//EN\r\nBEGIN:VEVENT\r\nUID:1\r\nDTSTAMP:20270101T000000Z\r\nSUMMARY:Dentist\r\n" +
	"DTSTART:20270115T060000\r\nDTEND:20270115T120000\r\nRRULE:FREQ=WEEKLY;COUNT=4\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n"

func TestSharedCopyGivesTheSameNumbers(t *testing.T) {
	for name, make := range map[string]func(t *testing.T) string{
		"demo": func(t *testing.T) string {
			dir := t.TempDir()
			sharedOutput(t, "demo", "--dir", dir)
			return dir
		},
		"calendar, lost tests, replan, notes, two on a day": func(t *testing.T) string {
			from, dir := t.TempDir(), filepath.Join(t.TempDir(), "study")
			put(t, from, protocol.StudyFile, sharedStudy)
			put(t, from, "secret.ics", secretCalendar)
			sharedOutput(t, "plan", from)
			sharedOutput(t, "rehearse", from, "--truth", "bread=50,rye=40,oats=30", "--dir", dir)
			log, err := os.ReadFile(filepath.Join(dir, protocol.LogFile))
			if err != nil {
				t.Fatal(err)
			}
			// The last test was not eaten, and another is planned for it.
			put(t, dir, protocol.LogFile, string(log[:bytes.LastIndex(log, []byte("---"))]))
			sharedOutput(t, "replan", dir, "--from", "2027-03-01", "--why", "secret flu", "--who", "Bob")
			sharedOutput(t, "record", dir, "--date", "2027-03-18", "--time", "07:10", "--food", "rye", "--value", "33.5", "--block", "3", "--note", "secret note", "--deviation", "Bob's party")
			sharedOutput(t, "record", dir, "--date", "2027-03-18", "--time", "16:10", "--food", "bread", "--value", "44", "--block", "3", "--exclude", "secret reason")
			return dir
		},
		"unmasked": func(t *testing.T) string {
			dir := masked(t)
			sharedOutput(t, "unmask", dir)
			return dir
		},
		"keys within keys": func(t *testing.T) string {
			from, dir := t.TempDir(), filepath.Join(t.TempDir(), "study")
			put(t, from, protocol.StudyFile, keysWithinKeys)
			sharedOutput(t, "rehearse", from, "--truth", "bread=50,rye=40,oats=30", "--dir", dir)
			return dir
		},
		"study file changed after the draw": func(t *testing.T) string {
			dir := t.TempDir()
			sharedOutput(t, "demo", "--dir", dir)
			text, err := os.ReadFile(filepath.Join(dir, protocol.StudyFile))
			if err != nil {
				t.Fatal(err)
			}
			put(t, dir, protocol.StudyFile, string(text)+"# secret\n")
			return dir
		},
	} {
		t.Run(name, func(t *testing.T) {
			dir, copied := make(t), filepath.Join(t.TempDir(), "copy")
			for _, looked := range []bool{false, true} { // before anybody looked, and after
				if looked {
					copied += "-2"
				}
				before := contents(t, dir)
				sharedOutput(t, "export", dir, "--share", copied)
				if diff := cmp.Diff(before, contents(t, dir)); diff != "" {
					t.Errorf("the study changed: %s", diff)
				}
				leaks(t, copied)
				if looked {
					looks := contents(t, copied)[protocol.LedgerFile]
					if sharedOutput(t, "analyse", copied); looks == "" || contents(t, copied)[protocol.LedgerFile] != looks {
						t.Error("the copy of a study that was looked at counts another look")
					}
				}
				if diff := cmp.Diff(numbersOf(t, dir), numbersOf(t, copied)); diff != "" {
					t.Errorf("other numbers (looked: %t): %s", looked, diff)
				}
			}
		})
	}
}

// What hangs on the curves or on notes is named as left out; the names of sensors stay
// at home, and the copy of a study that smooths its curves says so as the study does.
func TestSharedCopySaysWhatItCannotGive(t *testing.T) {
	from, dir, copied := t.TempDir(), filepath.Join(t.TempDir(), "study"), filepath.Join(t.TempDir(), "copy")
	put(t, from, protocol.StudyFile, strings.NewReplacer("busy: [secret.ics, 2027-02-03], ", "", "margin: 8\n",
		"margin: 8\nquality: {max_gap: 20m, sensors: [secret-serial]}\noutcomes: [{id: secret-itch, kind: rating}, {id: ketones, kind: ketones}]\n"+
			"endpoint: {smoothing: {median: 3}, secondary: [iauc, {name: time_above, level: 140}]}\n").Replace(sharedStudy))
	sharedOutput(t, "plan", from)
	sharedOutput(t, "rehearse", from, "--truth", "bread=50,rye=40,oats=30", "--dir", dir)
	log := contents(t, dir)[protocol.LogFile]
	date := regexp.MustCompile(`\d{4}-\d{2}-\d{2}`).FindString(log)
	put(t, dir, protocol.LogFile, log+"---\n{date: "+date+", outcomes: {ketones: 3.5, secret-itch: 2}, happened: [\"08:10 eating: secret toast\"]}\n")
	sharedOutput(t, "export", dir, "--share", copied)
	leaks(t, copied)
	text := contents(t, copied)[protocol.SharedFile]
	for _, want := range []string{"the secondary outcomes and their values", "the secondary endpoints, as they are of the curves",
		"does not say that there were none", "what happened on the days of the tests"} {
		if !strings.Contains(text, want) {
			t.Errorf("%s does not say %q:\n%s", protocol.SharedFile, want, text)
		}
	}
	if diff := cmp.Diff(numbersOf(t, dir), numbersOf(t, copied)); diff != "" {
		t.Error(diff)
	}
}

// masked is a study with a masked schedule and values by codes.
func masked(t *testing.T) string {
	dir := t.TempDir()
	put(t, dir, protocol.StudyFile, strings.ReplaceAll(strings.ReplaceAll(sharedStudy, ", washout_after: {oats: 2}", ""), ", from: 2027-01-12", ""))
	put(t, dir, "secret.ics", secretCalendar)
	sharedOutput(t, "plan", dir, "--masked")
	f, err := protocol.Load(dir)
	if err != nil {
		t.Fatal(err)
	}
	for i, test := range f.Schedule.Tests {
		sharedOutput(t, "record", dir, "--date", test.Date.String(), "--time", "06:45", "--value", []string{"31", "45.5", "52", "38", "40.25", "61"}[i%6], "--note", "tastes of secret rye")
	}
	return dir
}

func TestSharedCopyOfAMaskedStudyHoldsNoKey(t *testing.T) {
	dir, copied := masked(t), filepath.Join(t.TempDir(), "copy")
	if out := sharedOutput(t, "export", dir, "--share", copied); !strings.Contains(out, "the key: the foods are still masked") {
		t.Error(out)
	}
	leaks(t, copied)
	all := contents(t, copied)
	key, err := os.ReadFile(filepath.Join(dir, protocol.KeyFile))
	if err != nil {
		t.Fatal(err)
	}
	seed := regexp.MustCompile(`(?m)^seed: (\d+)$`).FindSubmatch(key)
	for name, text := range all {
		if strings.Contains(text, string(seed[1])) {
			t.Errorf("%s holds the seed of the draw", name)
		}
		if name != protocol.StudyFile && regexp.MustCompile(`bread|rye|oats`).MatchString(text) {
			t.Errorf("%s names a food:\n%s", name, text)
		}
	}
	if !strings.Contains(all[protocol.ScheduleFile], "masked: yes") || !strings.Contains(all[protocol.LogFile], `food: "B"`) {
		t.Errorf("%s%s", all[protocol.ScheduleFile], all[protocol.LogFile])
	}
	var out, errs bytes.Buffer
	if code := Run([]string{"analyse", copied}, Streams{In: os.Stdin, Out: &out, Err: &errs, Now: clock}); code != exitInput {
		t.Errorf("the copy is analysed: %s", out.String())
	}
}

// A study of which no test counts is shared, and nothing is said of its numbers.
func TestSharedCopyWithoutATestThatCounts(t *testing.T) {
	dir := t.TempDir()
	put(t, dir, protocol.StudyFile, "foods: [rye, oats]\nplan: {start: 2027-01-11, until: 2027-03-20}\n")
	sharedOutput(t, "plan", dir)
	for _, log := range []string{"", "{date: 2027-01-11, food: rye, value: 3, exclude: fell ill}\n"} {
		put(t, dir, protocol.LogFile, log)
		if log == "" {
			_ = os.Remove(filepath.Join(dir, protocol.LogFile))
		}
		copied := filepath.Join(t.TempDir(), "copy")
		const want = "No test counts yet, so neither the study nor the copy can be analysed."
		if out := sharedOutput(t, "export", dir, "--share", copied); !strings.Contains(out, want) || !strings.Contains(contents(t, copied)[protocol.SharedFile], want) {
			t.Errorf("%q: %s", log, out)
		}
	}
}

func TestShareRefuses(t *testing.T) {
	dir := t.TempDir()
	sharedOutput(t, "demo", "--dir", dir)
	for want, args := range map[string][]string{
		"--share is missing":                   {"export", dir},
		"found a folder that is not empty":     {"export", dir, "--share", dir},
		"found no such file, expected a study": {"export", t.TempDir(), "--share", filepath.Join(t.TempDir(), "x")},
	} {
		var out, errs bytes.Buffer
		if code := Run(args, Streams{In: os.Stdin, Out: &out, Err: &errs, Now: clock}); code != exitInput || !strings.Contains(errs.String(), want) {
			t.Errorf("%v: exit %d: %s", args, code, errs.String())
		}
	}
}
