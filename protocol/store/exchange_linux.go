package store

import (
	"errors"
	"os"

	"golang.org/x/sys/unix"
)

// exchange swaps two files in one step (renameat2 with RENAME_EXCHANGE). The error is
// errors.ErrUnsupported where the file system cannot.
func exchange(root *os.Root, a, b string) error {
	return inFolder(root, a, b, func(fd int, a, b string) error {
		err := unix.Renameat2(fd, a, fd, b, unix.RENAME_EXCHANGE)
		if errors.Is(err, unix.EINVAL) || errors.Is(err, unix.ENOSYS) {
			return errors.ErrUnsupported
		}
		return err
	})
}
