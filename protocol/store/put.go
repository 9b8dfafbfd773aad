package store

import (
	"errors"
	"io/fs"
	"os"
)

// stillOver refuses, with a problem.List, where a file at a place is not the one that
// f is to take the place of.
func (f File) stillOver(root *os.Root, at string) error {
	if f.Over == "" {
		return nil
	}
	data, err := ReadIn(root, at, largest)
	if err != nil {
		return err
	}
	if was := Digest(data); was != f.Over && !(was == "" && f.Over == Absent) {
		return Changed(f.Name)
	}
	return nil
}

// largest is more than any file holds that is compared.
const largest = 64 << 20

// put moves a file from aside to its place. Where the system can exchange two files,
// what stood there is looked at once it is aside, and put back if it is not what it
// was to be: so nothing that was saved there meanwhile is lost.
func put(root *os.Root, from string, f File) error {
	if err := f.stillOver(root, f.Name); err != nil {
		return err
	}
	if f.Over == "" || f.Over == Absent {
		return rename(root, from, f.Name)
	}
	if err := fault("rename", f.Name); err != nil {
		return err
	}
	err := exchange(root, from, f.Name)
	if errors.Is(err, errors.ErrUnsupported) || errors.Is(err, fs.ErrNotExist) {
		if err := f.stillOver(root, f.Name); err != nil {
			return err
		}
		return replace(root, from, f.Name)
	}
	if err != nil {
		return err
	}
	if changed := f.stillOver(root, from); changed != nil {
		if err := fault("put back", f.Name); err != nil {
			return err
		}
		return errors.Join(changed, exchange(root, from, f.Name))
	}
	_ = remove(root, from) // it is cleared away by the next one otherwise
	return nil
}
