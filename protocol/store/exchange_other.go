//go:build !linux && !darwin

package store

import (
	"errors"
	"os"
)

// exchange is not known on this system.
func exchange(*os.Root, string, string) error { return errors.ErrUnsupported }
