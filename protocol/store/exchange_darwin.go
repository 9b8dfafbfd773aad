package store

import (
	"os"

	"golang.org/x/sys/unix"
)

// exchange swaps two files in one step (renameatx_np with RENAME_SWAP). The error is
// errors.ErrUnsupported where the file system cannot.
func exchange(root *os.Root, a, b string) error {
	return inFolder(root, a, b, func(fd int, a, b string) error {
		return unix.RenameatxNp(fd, a, fd, b, unix.RENAME_SWAP) // ENOTSUP is errors.ErrUnsupported
	})
}
