package store

import (
	"errors"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"testing"

	"mealtrial/protocol/problem"
)

// during does something once, at a step on the disk.
func during(t *testing.T, step, name string, do func()) {
	t.Helper()
	Fault = func(s, n string, _ int) (int, error) {
		if s == step && n == name && do != nil {
			do()
			do = nil
		}
		return 0, nil
	}
	t.Cleanup(func() { Fault = nil })
}

func pid() string { return strconv.Itoa(os.Getpid()) }

// aside1 is where the first file of a writing lies until it is renamed.
func aside1(name string) string { return prefix + pid() + "-0-" + name + aside }

// editorSaves writes a file as editors do: in place, or aside and renamed.
var editorSaves = map[string]func(t *testing.T, dir, name, text string){
	"in place": mustWrite,
	"renamed": func(t *testing.T, dir, name, text string) {
		mustWrite(t, dir, "aside~", text)
		if err := os.Rename(filepath.Join(dir, "aside~"), filepath.Join(dir, name)); err != nil {
			t.Fatal(err)
		}
	},
}

// An editor that saves at the very last moment keeps what it saved.
func TestEditorSavesWhileWritten(t *testing.T) {
	for how, saves := range editorSaves {
		for _, step := range []string{"create", "sync", "rename"} {
			if step == "rename" && runtime.GOOS != "linux" && runtime.GOOS != "darwin" {
				continue // compared before only
			}
			dir := t.TempDir()
			mustWrite(t, dir, "study", "old")
			at := "study"
			if step != "rename" {
				at = aside1("study")
			}
			during(t, step, at, func() { saves(t, dir, "study", "from the editor") })
			var list problem.List
			if err := Write(dir, File{Name: "study", Data: []byte("new"), Over: Digest([]byte("old"))}); !errors.As(err, &list) || !strings.HasPrefix(err.Error(), "study: found other contents") {
				t.Errorf("%s at %s: %v", how, step, err)
			}
			Fault = nil
			if data, _ := Read(dir, "study", 100); string(data) != "from the editor" {
				t.Errorf("%s at %s: %q", how, step, data)
			}
			if got := names(t, dir); !slices.Equal(got, []string{"study"}) {
				t.Errorf("%s at %s left %q", how, step, got)
			}
		}
	}
}

func TestEditorSavesWhileSeveralAreWritten(t *testing.T) {
	dir := t.TempDir()
	mustWrite(t, dir, "schedule", "old")
	during(t, "sync", prefix+pid()+"-journal"+aside, func() { mustWrite(t, dir, "schedule", "from the editor") })
	if err := Write(dir, File{Name: "schedule", Data: []byte("new"), Over: Digest([]byte("old"))}, File{Name: "key", Data: []byte("k"), Over: Absent}); err == nil {
		t.Error("written over")
	}
	if data, _ := Read(dir, "schedule", 100); string(data) != "from the editor" || !slices.Equal(names(t, dir), []string{"schedule"}) {
		t.Errorf("%q, %q", data, names(t, dir))
	}
}

func TestWriteOverWhatWasRead(t *testing.T) {
	dir := t.TempDir()
	for _, c := range []struct{ there, over, want string }{
		{"", Absent, "new"}, {"old", Absent, "old"}, {"old", Digest([]byte("other")), "old"}, {"old", Digest([]byte("old")), "new"}, {"old", "", "new"}, {"", Digest([]byte("old")), ""},
	} {
		_ = os.Remove(filepath.Join(dir, "a"))
		if c.there != "" {
			mustWrite(t, dir, "a", c.there)
		}
		err := Write(dir, File{Name: "a", Data: []byte("new"), Over: c.over})
		if data, _ := Read(dir, "a", 100); string(data) != c.want || (err == nil) != (c.want == "new") {
			t.Errorf("%+v: %q, %v", c, data, err)
		}
	}
}

// A sync folder that puts another log in the place of the one that is appended to
// makes the appending fail: the entry is in neither.
func TestLogIsReplacedWhileAppended(t *testing.T) {
	dir := t.TempDir()
	mustWrite(t, dir, "log", "one\n")
	during(t, "write", "log", func() { editorSaves["renamed"](t, dir, "log", "one\nfrom the phone\n") })
	if err := Append(dir, "log", 4, []byte("two\n")); err == nil || !strings.HasPrefix(err.Error(), "log: found other contents") {
		t.Errorf("%v", err)
	}
	if data, _ := Read(dir, "log", 100); string(data) != "one\nfrom the phone\n" || !slices.Equal(names(t, dir), []string{"log"}) {
		t.Errorf("%q, %q", data, names(t, dir))
	}
}

// An appending that broke off is finished by the next command, and by nothing else
// than what was to be appended.
func TestAppendingThatBrokeOff(t *testing.T) {
	const entry = "log\t4\ntwo, and three\n"
	for _, c := range []struct{ log, note, want string }{
		{"one\ntwo, a", entry, "one\ntwo, and three\n"},
		{"one\ntwo\x00\x00\x00", entry, "one\ntwo, and three\n"},
		{"one\n", entry, "one\n"}, // nothing of it was written
		{"one\ntwo, and three\n", entry, "one\ntwo, and three\n"},
		{"one\ntyped by hand", entry, "one\ntyped by hand"},
		{"one\ntwo, and three\nfour\n", entry, "one\ntwo, and three\nfour\n"},
		{"on", entry, "on"},
		{"one\ntwo, a", "log\t4\ntwo", "one\ntwo, a"}, // the note itself broke off
		{"one\ntwo, a", "log", "one\ntwo, a"},
		{"one\ntwo, a", "../log\t4\ntwo, and three\n", "one\ntwo, a"},
		{"one\ntwo, a", "log\t-4\ntwo, and three\n", "one\ntwo, a"},
	} {
		dir := t.TempDir()
		mustWrite(t, dir, "log", c.log)
		mustWrite(t, dir, appendFile, c.note)
		if _, err := Settle(dir); err != nil {
			t.Errorf("%+v: %v", c, err)
		}
		if data, _ := Read(dir, "log", 100); string(data) != c.want || !slices.Equal(names(t, dir), []string{"log"}) {
			t.Errorf("%+v: %q, %q", c, data, names(t, dir))
		}
	}
}
