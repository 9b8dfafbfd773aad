package label

import (
	"errors"
	"io/fs"
	"os"

	"mealtrial/protocol/problem"
)

// largestFile bounds a label file, in bytes.
const largestFile = 1 << 20

// Load reads a label file. An error that the person can mend is a problem.List.
func Load(path string) (*Label, error) {
	info, err := os.Stat(path)
	found := ""
	switch {
	case errors.Is(err, fs.ErrNotExist):
		found = "no such file"
	case err != nil:
		return nil, err
	case info.IsDir():
		found = "a folder"
	case !info.Mode().IsRegular():
		found = "a device or pipe"
	case info.Size() > largestFile:
		found = "a file of more than a megabyte"
	}
	if found != "" {
		return nil, problem.List{{File: path, Found: found, Expected: "a label file", Mend: "name a file that holds the values of one label; mealtrial label --help shows one"}}
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	return Parse(path, data)
}
