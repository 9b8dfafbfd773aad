package store

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"
)

// appendFile holds what is being appended: a line with the file and its size before,
// and the data.
const appendFile = prefix + "append"

// Append adds data to the end of a file that is there, and syncs it. size is what
// it held when it was read. After an error it holds that again. The caller holds the
// lock.
func Append(dir, name string, size int64, data []byte) (err error) {
	root, err := open(dir)
	if err != nil {
		return err
	}
	defer root.Close()
	if err := fault("open", name); err != nil {
		return notWritten(dir, name, err)
	}
	file, err := root.OpenFile(name, os.O_RDWR|os.O_APPEND, 0)
	if err != nil {
		return notWritten(dir, name, err)
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	if info, err := file.Stat(); err != nil {
		return notWritten(dir, name, err)
	} else if info.Size() != size {
		return Changed(name)
	}
	defer func() { _ = remove(root, appendFile) }() // one that stays is seen to be done with
	err = writeAside(root, appendFile, fmt.Appendf(nil, "%s\t%d\n%s", name, size, data), 0o644)
	if err == nil {
		err = syncFolder(root, ".")
	}
	if err != nil {
		return notWritten(dir, name, err)
	}
	n, err := write(file, name, data)
	if err == nil {
		err = syncFile(file, name)
	}
	if err == nil {
		return stillThere(root, name, file)
	}
	// What others appended in between stays.
	if info, statErr := file.Stat(); statErr == nil && n > 0 && info.Size() == size+int64(n) {
		if cutErr := cut(file, name, size); cutErr != nil {
			return errors.Join(fmt.Errorf("%s was not written, and its last entry may be broken off: %w", filepath.Join(dir, name), plain(err)), plain(cutErr))
		}
	}
	return notWritten(dir, name, err)
}

// stillThere refuses a file that another one took the place of while it was appended
// to: what was appended is in neither.
func stillThere(root *os.Root, name string, file *os.File) error {
	mine, err1 := file.Stat()
	there, err2 := root.Stat(name)
	if err1 != nil || err2 != nil || !os.SameFile(mine, there) {
		return Changed(name)
	}
	return nil
}

// finishAppend completes the appending that broke off, where part of the data and
// nothing else stands behind the end that the file had; zero bytes, which some file
// systems leave after a power cut, count as nothing. In any other case the file is
// left as it is. It tells whether anything was completed.
func finishAppend(root *os.Root) (done bool, err error) {
	text, err := ReadIn(root, appendFile, 1<<20)
	if err != nil || text == nil {
		return false, err
	}
	head, data, _ := bytes.Cut(text, []byte("\n"))
	name, at, _ := strings.Cut(string(head), "\t")
	if size, err := strconv.ParseInt(at, 10, 64); err == nil && size >= 0 && filepath.IsLocal(name) {
		if done, err = complete(root, name, size, data); err != nil {
			return false, err
		}
	}
	return done, remove(root, appendFile)
}

func complete(root *os.Root, name string, size int64, data []byte) (done bool, err error) {
	if info, err := root.Lstat(name); err != nil || !info.Mode().IsRegular() || info.Size() <= size || info.Size() > size+int64(len(data)) {
		return false, nil
	}
	file, err := root.OpenFile(name, os.O_RDWR, 0)
	if err != nil {
		return false, err
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	tail, err := io.ReadAll(io.NewSectionReader(file, size, int64(len(data))))
	if err != nil {
		return false, err
	}
	if part := bytes.TrimRight(tail, "\x00"); len(part) == len(data) || !bytes.HasPrefix(data, part) {
		return false, nil
	}
	if err := fault("complete", name); err != nil {
		return false, err
	}
	if _, err := file.WriteAt(data, size); err != nil {
		return false, err
	}
	return true, syncFile(file, name)
}
