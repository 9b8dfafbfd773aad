// Package store keeps the files of a study: they are written whole or not at
// all, by one writer at a time, and never outside the study's folder.
//
// One file is written aside, synced and renamed. Several files that belong
// together are written aside first; a journal then names them, and from its
// renaming on they count as written: whoever takes the lock next finishes what
// broke off. The log grows by appending; what is to be appended is noted aside first,
// and an appending that broke off is finished in the same way. All of it goes through
// os.Root, so that neither a symbolic link nor a ".." in a file leads out of the folder.
//
// An editor or a sync folder knows nothing of the lock. What one of them saved in
// between is found by comparing, and put back: a single file is exchanged with the
// one in its place, where the system can, and looked at afterwards.
//
// What stays open: several files that are written together, and single ones on
// Windows, are compared before they are renamed, and a few microseconds pass between
// the two; and a disk may lie about a sync.
package store

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strings"

	"mealtrial/protocol/problem"
)

// A File is one of the files that are written together. Name is its path inside
// the folder, with slashes. Over is the Digest of the contents that it takes the
// place of, or Absent; where something else stands there by then, nothing is
// written. Over "" takes the place of whatever there is.
type File struct {
	Name string
	Data []byte
	Over string
}

// Absent stands for the Digest of a file that is not there.
const Absent = "absent"

const (
	prefix      = ".mealtrial-" // of files aside and of the journal
	aside       = ".tmp"
	journalFile = prefix + "journal"
)

// Fault is asked before every step on the disk: its name, the path, and how many
// bytes are to be written. An error is returned in the step's place, after as many
// bytes as allowed were written. It is nil but in tests, which let a disk fill up
// or the program end at each step.
var Fault func(step, name string, bytes int) (allowed int, err error)

func fault(step, name string) error {
	if Fault == nil {
		return nil
	}
	_, err := Fault(step, name, 0)
	return err
}

// Write writes files into a folder, all of them whole or none. Folders inside it
// are made as needed. Unless a single file is written, the caller holds the lock.
// After an error every file is as it was.
func Write(dir string, files ...File) error {
	root, err := open(dir)
	if err != nil {
		return err
	}
	defer root.Close()
	var journal strings.Builder
	var tmp []string
	undo := func(err error, name string) error {
		for _, t := range tmp {
			_ = remove(root, t)
		}
		return notWritten(dir, name, err)
	}
	for i, f := range files {
		t := path.Join(path.Dir(f.Name), fmt.Sprintf("%s%d-%d-%s%s", prefix, os.Getpid(), i, path.Base(f.Name), aside))
		if err := makeFolder(root, path.Dir(f.Name)); err != nil {
			return undo(err, f.Name)
		}
		tmp = append(tmp, t)
		if err := writeAside(root, t, f.Data, modeOf(root, f.Name)); err != nil {
			return undo(err, f.Name)
		}
		fmt.Fprintf(&journal, "%s\t%s\n", t, f.Name)
	}
	if len(files) == 1 {
		if err := put(root, tmp[0], files[0]); err != nil {
			return undo(err, files[0].Name)
		}
		if err := syncFolder(root, path.Dir(files[0].Name)); err != nil {
			return fmt.Errorf("%s was written, but whether it outlasts a power cut is not known: %w", filepath.Join(dir, files[0].Name), plain(err))
		}
		return nil
	}
	j := prefix + fmt.Sprint(os.Getpid()) + "-journal" + aside
	tmp = append(tmp, j)
	err = writeAside(root, j, []byte(journal.String()), 0o644)
	for _, f := range files {
		if err == nil {
			err = syncFolder(root, path.Dir(f.Name))
		}
		if err == nil {
			err = f.stillOver(root, f.Name)
		}
	}
	if err == nil {
		err = rename(root, j, journalFile)
	}
	if err != nil {
		return undo(err, files[0].Name)
	}
	// From here on the files count as written.
	err = syncFolder(root, ".")
	if err == nil {
		err = finish(root)
	}
	if err != nil {
		return fmt.Errorf("%s: the files are safe aside, and the next command that writes puts them in place: %w", dir, err)
	}
	return nil
}

// finish puts the files of a journal in their places.
func finish(root *os.Root) error {
	text, err := ReadIn(root, journalFile, 1<<20)
	if err != nil || text == nil {
		return err
	}
	for _, line := range strings.Split(strings.TrimSpace(string(text)), "\n") {
		t, name, ok := strings.Cut(line, "\t")
		if !ok || !filepath.IsLocal(name) || !isAside(path.Base(t)) || path.Dir(t) != path.Dir(name) {
			return problem.List{{File: journalFile, Found: fmt.Sprintf("%q", line), Expected: "a file that this program wrote", Mend: "delete " + journalFile + " and restore the study from a copy"}}
		}
		if _, err := root.Lstat(t); errors.Is(err, fs.ErrNotExist) {
			continue // in its place already
		}
		if err := rename(root, t, name); err != nil {
			return err
		}
		if err := syncFolder(root, path.Dir(name)); err != nil {
			return err
		}
	}
	if err := remove(root, journalFile); err != nil {
		return err
	}
	return syncFolder(root, ".")
}

// Changed says that a file is not what it was when it was read.
func Changed(name string) error {
	return problem.List{{File: name, Found: "other contents than when it was read a moment ago", Expected: "a file that nothing else changes in between",
		Mend: "another window, an editor or a sync folder wrote to it; nothing was written here: look at it, then run the command again"}}
}

// Read reads a file of at most limit bytes in a folder; nil where it is not there.
func Read(dir, name string, limit int64) ([]byte, error) {
	root, err := os.OpenRoot(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	defer root.Close()
	return ReadIn(root, name, limit)
}

// ReadIn is Read in a folder that is open.
func ReadIn(root *os.Root, name string, limit int64) ([]byte, error) {
	refuse := func(found, expected, mend string) ([]byte, error) {
		return nil, problem.List{{File: name, Found: found, Expected: expected, Mend: mend}}
	}
	info, err := root.Stat(name)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		if link, err := root.Readlink(name); err == nil {
			return refuse("a link to "+fmt.Sprintf("%q", link)+", where there is nothing", "a file", "copy the file itself into the study folder")
		}
		return nil, nil
	case err != nil && Escapes(err):
		return refuse("a path that leads out of the study folder", "a file inside it", "copy the file itself into the study folder")
	case err != nil:
		return nil, fmt.Errorf("%s was not read: %w; check its permissions", name, plain(err))
	case info.IsDir():
		return refuse("a folder", "a file", "move the folder away")
	case !info.Mode().IsRegular():
		return refuse("a device or pipe", "a file", "copy the file itself into the study folder")
	case info.Size() > limit:
		return refuse(fmt.Sprintf("a file of %d MB", info.Size()>>20), fmt.Sprintf("at most %d MB", limit>>20), "look whether it is the right file")
	}
	file, err := root.Open(name)
	if err != nil {
		return nil, fmt.Errorf("%s was not read: %w; check its permissions", name, plain(err))
	}
	defer file.Close()
	data, err := io.ReadAll(io.LimitReader(file, limit+1))
	if err == nil && int64(len(data)) > limit {
		return refuse("a file that grows while it is read", fmt.Sprintf("at most %d MB", limit>>20), "look whether it is the right file")
	}
	if err == nil && data == nil {
		data = []byte{}
	}
	return data, err
}

// Digest is the SHA-256 of a file's contents; "" of one that is not there.
func Digest(data []byte) string {
	if data == nil {
		return ""
	}
	return fmt.Sprintf("%x", sha256.Sum256(data))
}

// Escapes tells whether an error of os.Root means a way out of it.
func Escapes(err error) bool {
	return err != nil && (strings.Contains(err.Error(), "path escapes from parent") || strings.Contains(err.Error(), "too many levels of symbolic links"))
}

func open(dir string) (*os.Root, error) {
	root, err := os.OpenRoot(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("the folder %s is not there, so nothing was written", dir)
	}
	if err != nil {
		return nil, fmt.Errorf("the folder %s cannot be opened, so nothing was written: %w", dir, plain(err))
	}
	return root, nil
}

func notWritten(dir, name string, err error) error {
	if _, ok := errors.AsType[problem.List](err); ok {
		return err
	}
	if Escapes(err) {
		return problem.List{{File: name, Found: "a path that leads out of the study folder", Expected: "a place inside it", Mend: "put the folder itself there, in the place of the link; nothing was written"}}
	}
	return fmt.Errorf("%s was not written and is as it was: %w; check the folder, its permissions and the space left", filepath.Join(dir, filepath.FromSlash(name)), plain(err))
}

// plain takes off the path, which may be that of a file aside.
func plain(err error) error {
	if e, ok := errors.AsType[*fs.PathError](err); ok {
		return e.Err
	}
	if e, ok := errors.AsType[*os.LinkError](err); ok {
		return e.Err
	}
	return err
}

func isAside(base string) bool {
	return strings.HasPrefix(base, prefix) && strings.HasSuffix(base, aside)
}
