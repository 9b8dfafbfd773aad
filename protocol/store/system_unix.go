//go:build !windows

package store

import (
	"errors"
	"os"
	"path"
	"syscall"
)

func replace(root *os.Root, from, to string) error { return root.Rename(from, to) }

func erase(root *os.Root, name string) error { return root.Remove(name) }

// syncFolder makes a renaming outlast a power cut. File systems that cannot sync
// a folder are let be.
func syncFolder(root *os.Root, name string) error {
	if err := fault("syncdir", name); err != nil {
		return err
	}
	folder, err := root.Open(name)
	if err != nil {
		return err
	}
	defer folder.Close()
	err = folder.Sync()
	if errors.Is(err, syscall.EINVAL) || errors.Is(err, syscall.ENOTSUP) {
		return nil
	}
	return err
}

// tryLock takes the kernel's lock on a file, which ends with the process.
func tryLock(file *os.File) (taken bool, err error) {
	for {
		err = syscall.Flock(int(file.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
		if !errors.Is(err, syscall.EINTR) {
			break
		}
	}
	if errors.Is(err, syscall.EWOULDBLOCK) {
		return false, nil
	}
	if errors.Is(err, syscall.ENOTSUP) || errors.Is(err, syscall.ENOSYS) || errors.Is(err, syscall.ENOLCK) {
		return false, errNoLocks
	}
	return err == nil, err
}

// dropLock removes the file while it is still locked, so that nobody who waits
// for it takes it for a lock.
func dropLock(root *os.Root, file *os.File) error {
	return errors.Join(remove(root, LockFile), file.Close())
}

// inFolder does something to two files of one folder, by the folder's descriptor: the
// folder is opened within root, so no name leads out of it.
func inFolder(root *os.Root, a, b string, do func(fd int, a, b string) error) error {
	if path.Dir(a) != path.Dir(b) {
		return errors.ErrUnsupported
	}
	folder, err := root.Open(path.Dir(a))
	if err != nil {
		return err
	}
	defer folder.Close()
	return do(int(folder.Fd()), path.Base(a), path.Base(b))
}
