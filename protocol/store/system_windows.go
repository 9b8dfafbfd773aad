package store

import (
	"errors"
	"os"
	"time"

	"golang.org/x/sys/windows"
)

func replace(root *os.Root, from, to string) error {
	return patiently(func() error { return root.Rename(from, to) })
}

func erase(root *os.Root, name string) error {
	return patiently(func() error { return root.Remove(name) })
}

// patiently does something to a file that a virus scanner or an indexer may have open
// for a moment.
func patiently(do func() error) (err error) {
	for range 40 {
		err = do()
		if !errors.Is(err, windows.ERROR_ACCESS_DENIED) && !errors.Is(err, windows.ERROR_SHARING_VIOLATION) {
			return err
		}
		time.Sleep(50 * time.Millisecond)
	}
	return err
}

// syncFolder does nothing: the system has no such step.
func syncFolder(*os.Root, string) error { return nil }

// lockAt is the byte that is locked, far beyond the text, which stays readable.
const lockAt = 1 << 30

// tryLock takes the kernel's lock on a file, which ends with the process.
func tryLock(file *os.File) (taken bool, err error) {
	at := &windows.Overlapped{Offset: lockAt}
	err = windows.LockFileEx(windows.Handle(file.Fd()), windows.LOCKFILE_EXCLUSIVE_LOCK|windows.LOCKFILE_FAIL_IMMEDIATELY, 0, 1, 0, at)
	if errors.Is(err, windows.ERROR_LOCK_VIOLATION) || errors.Is(err, windows.ERROR_IO_PENDING) {
		return false, nil
	}
	if errors.Is(err, windows.ERROR_NOT_SUPPORTED) || errors.Is(err, windows.ERROR_INVALID_FUNCTION) {
		return false, errNoLocks
	}
	return err == nil, err
}

// dropLock closes the file first, as an open one cannot be removed. Who opened it
// in between keeps it.
func dropLock(root *os.Root, file *os.File) error {
	err := file.Close()
	_ = root.Remove(LockFile)
	return err
}
