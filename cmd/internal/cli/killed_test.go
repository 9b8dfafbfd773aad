package cli

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"

	"github.com/google/go-cmp/cmp"

	"mealtrial/protocol"
	"mealtrial/protocol/store"
)

// A writer is a command that writes to a study, and the study that it starts from.
type writer struct {
	name    string
	prepare []string // commands before it; fields are parted by "|"
	command string
	may     bool // run again after it broke off it may say that its work is done
}

const noodles = "{demo}"

var writers = []writer{
	{"record", nil, "record|{study}|--date|2027-03-02|--food|wheat|--value|40|--note|größer als sonst, und der Löffel war ein anderer: das Dressing kam erst nach dem zweiten Bissen dazu, müde nach der Nacht, kein Kaffee", true},
	{"first record", []string{"forget"}, "record|{study}|--date|2027-03-02|--food|wheat|--value|40", true},
	{"correct", nil, "record|{study}|--date|2027-03-01|--correct|--note|spilt", false},
	{"look", nil, "analyse|{study}", false},
	{"plan", []string{"forget"}, "plan|{study}", false},
	{"masked plan", []string{"forget"}, "plan|{study}|--masked", false},
	{"replan", []string{"lose"}, "replan|{study}|--from|2027-03-03|--why|flu", false},
	{"masked replan", []string{"forget", "plan|{study}|--masked"}, "replan|{study}|--from|2027-01-11|--why|flu", false},
	{"unmask", []string{"forget", "plan|{study}|--masked"}, "unmask|{study}", true},
	{"init", []string{"nothing"}, "init|{study}", true},
	{"rehearse", []string{"nothing"}, "rehearse|" + noodles + "|--truth|wheat=50,lupin=30,konjac-old=20,konjac-new=20,edamame=20|--dir|{study}", true},
}

// TestBreakingOffAtEveryStep ends the program at every step that it takes on the
// disk, and within every writing after 0, 1, half of, all but one and all bytes (the
// log: after every byte). After each the study has to load and to be as before or as
// after the command, and the command has to work again.
func TestBreakingOffAtEveryStep(t *testing.T) {
	inMemory(t)
	demo := t.TempDir()
	run(t, "demo", "--dir", demo)
	total := 0
	for _, w := range writers {
		t.Run(w.name, func(t *testing.T) {
			base := w.base(t, demo)
			after := copied(t, base)
			steps := w.steps(t, after, demo)
			if len(steps) < 4 {
				t.Fatalf("only %d steps", len(steps))
			}
			for _, s := range steps {
				total++
				dir := copied(t, base)
				w.interrupted(dir, demo, s, true)
				w.holds(t, dir, demo, base, after, s)
			}
		})
	}
	t.Logf("the program was ended %d times", total)
	if total < 400 {
		t.Errorf("the program was ended %d times, want at least 400", total)
	}
}

// TestFullDiskAtEveryStep lets every single step fail as on a full disk, after part
// of the bytes. What was not written has to be as before, byte for byte.
func TestFullDiskAtEveryStep(t *testing.T) {
	inMemory(t)
	demo := t.TempDir()
	run(t, "demo", "--dir", demo)
	for _, w := range writers {
		t.Run(w.name, func(t *testing.T) {
			base := w.base(t, demo)
			after := copied(t, base)
			steps := w.steps(t, after, demo)
			for _, s := range steps {
				if s.name == protocol.LogFile && s.allowed%8 != 0 {
					continue
				}
				dir := copied(t, base)
				code, errs := w.interrupted(dir, demo, s, false)
				got, before := contents(t, dir), contents(t, base)
				switch {
				case cmp.Equal(got, before) && code == exitFailure && strings.Contains(errs, "written") && strings.Contains(errs, syscall.ENOSPC.Error()):
				case code == exitFailure && strings.Contains(errs, "safe aside"), code == exitFailure && strings.Contains(errs, "was written, but"):
					w.holds(t, dir, demo, base, after, s)
				case s.step == "remove" && code == exitOK: // what is left is cleared away by the next
					w.holds(t, dir, demo, base, after, s)
				default:
					t.Errorf("%v: exit %d, %s%s", s, code, errs, cmp.Diff(before, got))
				}
			}
		})
	}
}

// inMemory puts studies into memory where it can be used as a disk: a program that
// is ended loses nothing that it wrote there, and syncing takes no time.
func inMemory(t *testing.T) {
	const memory = "/dev/shm"
	if info, err := os.Stat(memory); err == nil && info.IsDir() {
		t.Setenv("TMPDIR", memory)
	}
}

func secretSeed() uint64 { return 271828 }

// A step is the n-th thing done to the disk; of a writing only allowed bytes are done.
type step struct {
	n       int
	step    string
	name    string
	allowed int
}

// base is the study that the command starts from.
func (w writer) base(t *testing.T, demo string) string {
	dir := copied(t, demo)
	handRead(t, dir)
	for _, p := range w.prepare {
		switch p {
		case "nothing":
			dir = filepath.Join(t.TempDir(), "new")
		case "lose": // the last test
			text, err := os.ReadFile(filepath.Join(dir, protocol.LogFile))
			if err == nil {
				err = os.WriteFile(filepath.Join(dir, protocol.LogFile), text[:bytes.LastIndex(text, []byte("---"))], 0o644)
			}
			if err != nil {
				t.Fatal(err)
			}
		case "forget": // all but what was planned
			for _, name := range []string{protocol.ScheduleFile, protocol.LogFile, protocol.LedgerFile, protocol.ReadingsDir} {
				if err := os.RemoveAll(filepath.Join(dir, name)); err != nil {
					t.Fatal(err)
				}
			}
		default:
			var errs bytes.Buffer
			if code := Run(w.args(p, dir, demo), Streams{In: os.Stdin, Out: io.Discard, Err: &errs, Now: clock, Secret: secretSeed}); code != exitOK {
				t.Fatalf("%s: %s", p, errs.String())
			}
		}
	}
	return dir
}

// handRead takes the readings out of a study and writes a value for each test
// instead, so that thousands of studies can be copied and read.
func handRead(t *testing.T, dir string) {
	text, err := os.ReadFile(filepath.Join(dir, protocol.LogFile))
	if err != nil {
		t.Fatal(err)
	}
	var log strings.Builder
	for i, line := range strings.Split(string(text), "\n") {
		if entry, ok := strings.CutSuffix(line, "}"); ok {
			line = fmt.Sprintf("%s, value: %d}", entry, 20+i*i%17)
		}
		log.WriteString(line + "\n")
	}
	err = os.WriteFile(filepath.Join(dir, protocol.LogFile), []byte(strings.TrimSpace(log.String())+"\n"), 0o644)
	if err = errors.Join(err, os.RemoveAll(filepath.Join(dir, protocol.ReadingsDir))); err != nil {
		t.Fatal(err)
	}
}

func (w writer) args(command, dir, demo string) []string {
	return strings.Split(strings.NewReplacer("{study}", dir, "{demo}", demo).Replace(command), "|")
}

func (w writer) run(dir, demo string) (int, string) {
	var out, errs bytes.Buffer
	code := Run(w.args(w.command, dir, demo), Streams{In: os.Stdin, Out: &out, Err: &errs, Now: clock, Secret: secretSeed})
	return code, errs.String()
}

// steps runs the command to its end and lists where it may break off.
func (w writer) steps(t *testing.T, dir, demo string) (all []step) {
	n := 0
	store.Fault = func(s, name string, size int) (int, error) {
		cuts := []int{0}
		if s == "write" {
			cuts = []int{0, 1, size / 2, size - 1, size}
			if w.name == "rehearse" {
				cuts = []int{size / 2}
			}
			if name == protocol.LogFile {
				cuts = nil
				for i := range size + 1 {
					cuts = append(cuts, i)
				}
			}
		}
		for _, c := range slices.Compact(cuts) {
			all = append(all, step{n, s, name, c})
		}
		n++
		return 0, nil
	}
	defer func() { store.Fault = nil }()
	if code, errs := w.run(dir, demo); code != exitOK {
		t.Fatalf("exit %d: %s", code, errs)
	}
	return all
}

// interrupted runs the command up to a step: then the program ends, which is as if
// nothing more could be done to the disk, or that one step fails.
func (w writer) interrupted(dir, demo string, at step, ends bool) (int, string) {
	n, dead := 0, false
	store.Fault = func(string, string, int) (int, error) {
		n++
		switch {
		case dead:
			return 0, errors.New("ended")
		case n-1 == at.n:
			dead = ends
			return at.allowed, syscall.ENOSPC
		}
		return 0, nil
	}
	defer func() { store.Fault = nil }()
	return w.run(dir, demo)
}

// holds checks a study after a command broke off: as before or as after; and the
// command works again.
func (w writer) holds(t *testing.T, dir, demo, base, after string, s step) {
	t.Helper()
	if _, err := os.Stat(filepath.Join(base, protocol.StudyFile)); err == nil {
		f, err := protocol.Load(dir)
		if err != nil {
			t.Errorf("%v: the study does not load: %v", s, err)
			return
		}
		want, err := protocol.Load(base)
		if err != nil {
			t.Fatal(err)
		}
		if f.Log.Entries < want.Log.Entries {
			t.Errorf("%v: %d entries, %d were acknowledged", s, f.Log.Entries, want.Log.Entries)
		}
	} else if _, err := store.Settle(dir); err != nil {
		t.Errorf("%v: %v", s, err)
	}
	got, old, whole := contents(t, dir), contents(t, base), contents(t, after)
	if !cmp.Equal(got, old) && !cmp.Equal(got, whole) {
		t.Errorf("%v: neither as before nor as after:\n%s", s, cmp.Diff(old, got))
		return
	}
	if code, errs := w.run(dir, demo); code != exitOK && !(w.may && cmp.Equal(got, whole) && code == exitInput) {
		t.Errorf("%v: once more: exit %d: %s", s, code, errs)
	}
	if !w.may && w.name != "correct" && w.name != "masked replan" && w.name != "replan" {
		if got := contents(t, dir); !cmp.Equal(got, whole) {
			t.Errorf("%v: once more: %s", s, cmp.Diff(whole, got))
		}
	}
	if w.may || w.name == "look" && cmp.Equal(got, whole) { // nothing was left to write
		return
	}
	entries, _ := os.ReadDir(dir)
	for _, e := range entries {
		if strings.HasPrefix(e.Name(), ".mealtrial") {
			t.Errorf("%v: once more left %s", s, e.Name())
		}
	}
}

// copied is a copy of a study.
func copied(t *testing.T, from string) string {
	dir := filepath.Join(t.TempDir(), "study")
	if _, err := os.Stat(from); errors.Is(err, fs.ErrNotExist) {
		return dir
	}
	if err := os.CopyFS(dir, os.DirFS(from)); err != nil {
		t.Fatal(err)
	}
	return dir
}

// contents are the files of a study without what a writing leaves aside.
func contents(t *testing.T, dir string) map[string]string {
	files := map[string]string{}
	err := fs.WalkDir(os.DirFS(dir), ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || strings.HasPrefix(d.Name(), ".mealtrial") {
			if errors.Is(err, fs.ErrNotExist) {
				return nil
			}
			return err
		}
		data, err := os.ReadFile(filepath.Join(dir, name))
		files[name] = string(data)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return files
}
