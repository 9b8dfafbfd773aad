package cli

import (
	"strings"

	"mealtrial/protocol"
)

// loadWithReadings reads a folder with its readings where they can be read, for
// commands that need them only to look for low and high glucose. Where they cannot,
// it says so.
func loadWithReadings(s Streams, dir string) (*protocol.Folder, error) {
	all, err := loadAll(s, dir)
	if err == nil {
		return all, nil
	}
	f, loadErr := protocol.Load(dir)
	if loadErr != nil {
		return nil, loadErr
	}
	first, _, _ := strings.Cut(err.Error(), "\n")
	warn(s, "the readings were not looked through for low and high glucose, as they cannot be read: %s", first)
	return f, nil
}
