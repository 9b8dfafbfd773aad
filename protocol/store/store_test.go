package store

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"mealtrial/protocol/problem"
)

func mustWrite(t *testing.T, dir, name, text string) {
	t.Helper()
	if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

func names(t *testing.T, dir string) (all []string) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		all = append(all, e.Name())
	}
	return all
}

func TestWriteKeepsModeAndLeavesNothingAside(t *testing.T) {
	dir := t.TempDir()
	mustWrite(t, dir, "a", "old")
	if err := os.Chmod(filepath.Join(dir, "a"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := Write(dir, File{Name: "a", Data: []byte("new")}, File{Name: "sub/b", Data: []byte("b")}); err != nil {
		t.Fatal(err)
	}
	info, err := os.Stat(filepath.Join(dir, "a"))
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("mode %v, %v", info.Mode(), err)
	}
	if got := append(names(t, dir), names(t, filepath.Join(dir, "sub"))...); !slices.Equal(got, []string{"a", "sub", "b"}) {
		t.Errorf("%q", got)
	}
}

func TestNothingLeadsOut(t *testing.T) {
	outside, dir := t.TempDir(), t.TempDir()
	mustWrite(t, outside, "secret", "x")
	if err := os.Symlink(outside, filepath.Join(dir, "readings")); err != nil {
		t.Skip(err)
	}
	if err := os.Symlink(filepath.Join(outside, "secret"), filepath.Join(dir, "log")); err != nil {
		t.Fatal(err)
	}
	var list problem.List
	for _, name := range []string{"readings/secret", "log", "../" + filepath.Base(outside) + "/secret"} {
		if data, err := Read(dir, name, 100); !errors.As(err, &list) || data != nil {
			t.Errorf("read %s: %q, %v", name, data, err)
		}
	}
	if err := Write(dir, File{Name: "readings/new", Data: []byte("x")}); !errors.As(err, &list) {
		t.Errorf("%v", err)
	}
	if err := Append(dir, "log", 1, []byte("x")); !errors.As(err, &list) {
		t.Errorf("%v", err)
	}
	if got := names(t, outside); !slices.Equal(got, []string{"secret"}) {
		t.Errorf("outside: %q", got)
	}
	// A journal from elsewhere does not lead out either.
	mustWrite(t, dir, journalFile, prefix+"x"+aside+"\t../"+filepath.Base(outside)+"/secret\n")
	if _, err := Settle(dir); !errors.As(err, &list) || !strings.Contains(err.Error(), "expected a file that this program wrote") {
		t.Errorf("%v", err)
	}
}

func TestReadLimits(t *testing.T) {
	dir := t.TempDir()
	f, err := os.Create(filepath.Join(dir, "big"))
	if err == nil {
		err = errors.Join(f.Truncate(1<<30), f.Close()) // sparse: a gigabyte of nothing
	}
	if err != nil {
		t.Fatal(err)
	}
	if _, err := Read(dir, "big", 4<<20); err == nil || err.Error() != "big: found a file of 1024 MB, expected at most 4 MB; look whether it is the right file" {
		t.Errorf("%v", err)
	}
	if data, err := Read(dir, "none", 10); data != nil || err != nil {
		t.Errorf("%v, %v", data, err)
	}
}

func TestAppendSeesOthers(t *testing.T) {
	dir := t.TempDir()
	mustWrite(t, dir, "log", "one\n")
	var list problem.List
	if err := Append(dir, "log", 3, []byte("two\n")); !errors.As(err, &list) {
		t.Errorf("%v", err)
	}
	if err := Append(dir, "log", 4, []byte("two\n")); err != nil {
		t.Error(err)
	}
	if data, _ := Read(dir, "log", 100); string(data) != "one\ntwo\n" {
		t.Errorf("%q", data)
	}
}

// Several windows at once: nothing interleaves.
func TestOneWriterAtATime(t *testing.T) {
	dir := t.TempDir()
	mustWrite(t, dir, "log", "")
	var wg sync.WaitGroup
	for i := range 8 {
		wg.Go(func() {
			for j := range 10 {
				h, err := Lock(dir, "test")
				if err != nil {
					t.Error(err)
					return
				}
				old, err := Read(dir, "log", 1<<20)
				if err == nil {
					err = Append(dir, "log", int64(len(old)), fmt.Appendf(nil, "%d %d\n", i, j))
				}
				if err = errors.Join(err, h.Release()); err != nil {
					t.Error(err)
				}
			}
		})
	}
	wg.Wait()
	data, _ := Read(dir, "log", 1<<20)
	if n := strings.Count(string(data), "\n"); n != 80 {
		t.Errorf("%d lines", n)
	}
	if got := names(t, dir); !slices.Equal(got, []string{"log"}) {
		t.Errorf("%q", got)
	}
}

func TestLockIsExplained(t *testing.T) {
	defer func(old time.Duration) { patience = old }(patience)
	patience = 60 * time.Millisecond
	dir := t.TempDir()
	lock := filepath.Join(dir, LockFile)

	h, err := Lock(dir, "record")
	if err != nil {
		t.Fatal(err)
	}
	want := fmt.Sprintf(".mealtrial.lock: found another window that is writing to this study (mealtrial record, process %d), expected one at a time; let it finish or close it, then run the command again; nothing was written", os.Getpid())
	if _, err := Lock(dir, "plan"); err == nil || err.Error() != want {
		t.Errorf("%v", err)
	}
	if err := h.Release(); err != nil {
		t.Fatal(err)
	}

	// One that was left by a process that is gone.
	mustWrite(t, dir, LockFile, "host: "+host()+"\nprocess: 4242\ndoing: record\n")
	mustWrite(t, dir, prefix+"1-0-log"+aside, "half")
	h, err = Lock(dir, "plan")
	if err != nil || h.Note != "an earlier mealtrial record (process 4242) broke off while it was writing: what it had not finished is cleared away, and all files are as they were before it" {
		t.Errorf("%v, %q", err, h.Note)
	}
	if err := h.Release(); err != nil || len(names(t, dir)) > 0 {
		t.Errorf("%v, %q", err, names(t, dir))
	}

	// That of another computer, fresh and old.
	mustWrite(t, dir, LockFile, "host: kitchen\nprocess: 7\ndoing: \x1b[2Jrecord\n")
	fresh := regexp.MustCompile(`^\.mealtrial\.lock: found the mark of the computer "kitchen", which began to write to this study \d+s ago \(mealtrial \?\[2Jrecord\), expected one writer at a time; wait`)
	if _, err := Lock(dir, "plan"); err == nil || !fresh.MatchString(err.Error()) {
		t.Errorf("%v", err)
	}
	hour := time.Now().Add(-time.Hour)
	if err := os.Chtimes(lock, hour, hour); err != nil {
		t.Fatal(err)
	}
	h, err = Lock(dir, "plan")
	if err != nil || !strings.HasPrefix(h.Note, `the mark of the computer "kitchen" that had begun to write here was left behind, and was cleared after 1h0m`) {
		t.Fatalf("%v", err)
	}
	if err := h.Release(); err != nil {
		t.Error(err)
	}
}

func TestFolderThatIsGone(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "gone")
	if _, err := Lock(dir, "plan"); err == nil || err.Error() != "the folder "+dir+" is not there, so nothing was written" {
		t.Errorf("%v", err)
	}
	if err := Write(dir, File{Name: "a", Data: nil}); err == nil || !strings.Contains(err.Error(), "nothing was written") {
		t.Errorf("%v", err)
	}
}
