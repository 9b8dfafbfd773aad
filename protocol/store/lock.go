package store

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"

	"mealtrial/protocol/problem"
)

// LockFile stands in a folder while it is written to, and says by whom.
const LockFile = ".mealtrial.lock"

// patience is how long another window is waited for; a writing takes milliseconds.
var patience = 5 * time.Second

const (
	pause = 20 * time.Millisecond
	// lapse is when the mark of another computer, which a sync folder brought here,
	// is taken for left behind.
	lapse = 5 * time.Minute
)

var errNoLocks = errors.New("no locks")

// Held is the lock of a folder. Note says what was put right when it was taken,
// "" where nothing was.
type Held struct {
	Note string

	root     *os.Root
	file     *os.File
	lockless bool // the file system knows no locks
}

// Lock takes the lock of a folder for one command, and finishes or clears away
// what an earlier one left. It waits a few seconds for another window. The lock is
// the kernel's, so it ends with its process and cannot be left behind; the text in
// its file serves people, and computers that share the folder by a sync service.
// The error is a problem.List where somebody else is writing.
func Lock(dir, doing string) (*Held, error) {
	root, err := open(dir)
	if err != nil {
		return nil, err
	}
	h := &Held{root: root}
	if err := h.take(dir, doing); err != nil {
		_ = root.Close()
		return nil, err
	}
	return h, nil
}

func (h *Held) take(dir, doing string) error {
	for waited := time.Duration(0); ; waited += pause {
		file, taken, err := h.try(dir)
		switch {
		case errors.Is(err, errNoLocks):
			h.lockless = true
			h.Note = "this file system has no locks: let only one window write to " + dir + " at a time"
		case err != nil:
			return err
		case !taken && waited < patience:
			time.Sleep(pause)
			continue
		case !taken:
			found := "another window that is writing to this study"
			if by, err := readHolder(h.root); err == nil && by.process > 0 {
				found = fmt.Sprintf("another window that is writing to this study (mealtrial %s, process %d)", by.doing, by.process)
			}
			return problem.List{{File: LockFile, Found: found, Expected: "one at a time", Mend: "let it finish or close it, then run the command again; nothing was written"}}
		}
		h.file = file
		if err := h.settle(dir); err != nil {
			_ = file.Close() // the mark stays, as it is somebody else's
			return err
		}
		return h.mark(doing)
	}
}

// try opens the file of the lock and takes it, unless it was removed in between.
func (h *Held) try(dir string) (*os.File, bool, error) {
	if err := fault("lock", LockFile); err != nil {
		return nil, false, notWritten(dir, ".", err)
	}
	file, err := h.root.OpenFile(LockFile, os.O_RDWR|os.O_CREATE, 0o644)
	if err != nil {
		return nil, false, fmt.Errorf("%s cannot be written to: %w; nothing was written: check the folder, its permissions and the space left", dir, plain(err))
	}
	taken, err := tryLock(file)
	if err != nil && !errors.Is(err, errNoLocks) || err == nil && !taken {
		_ = file.Close()
		return nil, false, err
	}
	if err == nil {
		mine, err1 := file.Stat()
		there, err2 := h.root.Stat(LockFile)
		if err1 != nil || err2 != nil || !os.SameFile(mine, there) {
			_ = file.Close()
			return nil, false, nil
		}
	}
	return file, true, err
}

// settle looks at who had the lock before, and puts right what was left.
func (h *Held) settle(dir string) error {
	by, err := readHolder(h.root)
	if err != nil {
		return err
	}
	if by.host != "" && by.host != host() {
		age, err := h.age()
		if err != nil {
			return notWritten(dir, ".", err)
		}
		if age < lapse {
			return problem.List{{File: LockFile, Found: fmt.Sprintf("the mark of the computer %q, which began to write to this study %s ago (mealtrial %s)", by.host, age.Round(time.Second), by.doing),
				Expected: "one writer at a time", Mend: fmt.Sprintf("wait until it has finished and the folder is in step again; a mark that was left behind lapses after %.0f min, or delete the file where that computer is off", lapse.Minutes())}}
		}
		h.Note = fmt.Sprintf("the mark of the computer %q that had begun to write here was left behind, and was cleared after %s", by.host, age.Round(time.Second))
	}
	pending, err := h.root.Lstat(journalFile)
	if err == nil && pending != nil {
		if err := finish(h.root); err != nil {
			return err
		}
	}
	if h.lockless { // another window may be at work
		return nil
	}
	appended, err := finishAppend(h.root)
	if err != nil {
		return notWritten(dir, ".", err)
	}
	cleared := h.clear()
	if h.Note == "" && by.process > 0 {
		h.Note = fmt.Sprintf("an earlier mealtrial %s (process %d) broke off while it was writing: ", by.doing, by.process)
		switch {
		case pending != nil, appended:
			h.Note += "what it had begun is finished now"
		case cleared > 0:
			h.Note += "what it had not finished is cleared away, and all files are as they were before it"
		default:
			h.Note += "all files are whole"
		}
	}
	return nil
}

// clear removes files aside: nobody writes them while the lock is held.
func (h *Held) clear() (n int) {
	for _, dir := range []string{".", "readings"} {
		entries, _ := fs.ReadDir(h.root.FS(), dir)
		for _, e := range entries {
			if isAside(e.Name()) && remove(h.root, path.Join(dir, e.Name())) == nil {
				n++
			}
		}
	}
	return n
}

// age is that of the lock's file by the clock of its file system: it is set
// against a file made now.
func (h *Held) age() (time.Duration, error) {
	before, err := h.root.Stat(LockFile)
	if err != nil {
		return 0, err
	}
	name := prefix + "clock" + aside
	if err := writeAside(h.root, name, []byte("now"), 0o644); err != nil {
		return 0, err
	}
	now, err := h.root.Stat(name)
	_ = remove(h.root, name)
	if err != nil {
		return 0, err
	}
	return max(0, now.ModTime().Sub(before.ModTime())), nil
}

// mark writes who holds the lock.
func (h *Held) mark(doing string) error {
	text := fmt.Sprintf("# mealtrial is writing to this study; the file goes away by itself.\nhost: %s\nprocess: %d\ndoing: %s\n", host(), os.Getpid(), doing)
	err := fault("mark", LockFile)
	if err == nil {
		err = h.file.Truncate(0)
	}
	if err == nil {
		_, err = h.file.WriteAt([]byte(text), 0)
	}
	if err != nil {
		_ = h.Release()
		return fmt.Errorf("the folder cannot be written to: %w; nothing was written: check its permissions and the space left", plain(err))
	}
	return nil
}

// Release gives the lock up.
func (h *Held) Release() error {
	defer h.root.Close()
	return dropLock(h.root, h.file)
}

// Settle finishes what a command that broke off had begun, where there is
// anything to finish; note says so. Without that, nothing is touched. Where only an
// appending broke off and the folder cannot be written to, it is left as it is.
func Settle(dir string) (note string, err error) {
	_, journal := os.Lstat(path.Join(dir, journalFile))
	_, appending := os.Lstat(path.Join(dir, appendFile))
	if journal != nil && appending != nil {
		return "", nil
	}
	held, err := Lock(dir, "reading")
	if err != nil && journal != nil {
		return "", nil
	}
	if err != nil {
		return "", err
	}
	return held.Note, held.Release()
}

// Empty tells whether a folder is not there or has nothing in it. What a command
// left that broke off before anything was written does not count.
func Empty(dir string) (bool, error) {
	if _, err := Settle(dir); err != nil {
		return false, err
	}
	entries, err := os.ReadDir(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return true, nil
	}
	for _, e := range entries {
		if e.Name() == LockFile || isAside(e.Name()) {
			continue
		}
		left := func(i fs.DirEntry) bool { return isAside(i.Name()) }
		inside, err := os.ReadDir(filepath.Join(dir, e.Name()))
		if err == nil && !slices.ContainsFunc(inside, func(i fs.DirEntry) bool { return !left(i) }) {
			continue
		}
		return false, nil
	}
	return true, err
}

// holder is who has, or had, the lock.
type holder struct {
	host, doing string
	process     int
}

func readHolder(root *os.Root) (by holder, err error) {
	file, err := root.Open(LockFile)
	if err != nil {
		return by, fmt.Errorf("%s was not read: %w", LockFile, plain(err))
	}
	defer file.Close()
	text, err := io.ReadAll(io.LimitReader(file, 4096))
	for _, line := range strings.Split(string(text), "\n") {
		key, value, _ := strings.Cut(strings.TrimSpace(line), ": ")
		value = strings.Map(func(c rune) rune {
			if unicode.IsPrint(c) {
				return c
			}
			return '?'
		}, value)
		switch key {
		case "host":
			by.host = value
		case "doing":
			by.doing = value
		case "process":
			by.process, _ = strconv.Atoi(value)
		}
	}
	return by, err
}

// host names this computer in one word.
func host() string {
	name, err := os.Hostname()
	if err != nil || name == "" {
		return "unknown"
	}
	return strings.Join(strings.Fields(name), "-")
}
