package store

import (
	"errors"
	"io/fs"
	"os"
	"path"
)

// Each function here is one step on the disk that may fail or be the last.

func makeFolder(root *os.Root, name string) error {
	if name == "." {
		return nil
	}
	if info, err := root.Stat(name); err == nil && info.IsDir() {
		return nil
	}
	if err := fault("mkdir", name); err != nil {
		return err
	}
	if err := root.MkdirAll(name, 0o755); err != nil {
		return err
	}
	return syncFolder(root, path.Dir(name))
}

// modeOf is what a file that is there may be used for; that of a new one otherwise.
func modeOf(root *os.Root, name string) fs.FileMode {
	if info, err := root.Stat(name); err == nil && info.Mode().IsRegular() {
		return info.Mode().Perm()
	}
	return 0o644
}

func writeAside(root *os.Root, name string, data []byte, mode fs.FileMode) error {
	if err := fault("create", name); err != nil {
		return err
	}
	file, err := root.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, mode)
	if err != nil {
		return err
	}
	_, err = write(file, name, data)
	if err == nil {
		err = syncFile(file, name)
	}
	return errors.Join(err, file.Close())
}

func write(file *os.File, name string, data []byte) (int, error) {
	if Fault != nil {
		if allowed, err := Fault("write", name, len(data)); err != nil {
			n, _ := file.Write(data[:allowed])
			return n, err
		}
	}
	return file.Write(data)
}

func syncFile(file *os.File, name string) error {
	if err := fault("sync", name); err != nil {
		return err
	}
	return file.Sync()
}

func cut(file *os.File, name string, size int64) error {
	if err := fault("cut", name); err != nil {
		return err
	}
	return errors.Join(file.Truncate(size), file.Sync())
}

func rename(root *os.Root, from, to string) error {
	if err := fault("rename", to); err != nil {
		return err
	}
	return replace(root, from, to)
}

func remove(root *os.Root, name string) error {
	if err := fault("remove", name); err != nil {
		return err
	}
	return erase(root, name)
}
