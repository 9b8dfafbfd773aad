package cli

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/pflag"

	"mealtrial/protocol/store"
)

// output is where a picture or a page goes: a file whose name tells its kind, or
// the standard output.
type output struct {
	name      string
	overwrite bool
}

func (o *output) flags(flags *pflag.FlagSet, kinds string) {
	flags.StringVar(&o.name, "out", "", "`file` to write, "+kinds+" by its name (default: standard output)")
	flags.BoolVar(&o.overwrite, "overwrite", false, "let the file take the place of an older one")
}

// kind is the ending of the file's name, in small letters and without the dot;
// fallback where none is given. It refuses other kinds and, before anything else
// is done, a file that cannot be written or would take the place of another one.
func (o *output) kind(fallback string, kinds ...string) (string, error) {
	if o.name == "" {
		return fallback, nil
	}
	kind := strings.ToLower(strings.TrimPrefix(filepath.Ext(o.name), "."))
	if !slices.Contains(kinds, kind) {
		return "", usagef("--out: found %q, expected a name that ends in .%s", o.name, strings.Join(kinds, " or ."))
	}
	if info, err := os.Stat(filepath.Dir(o.name)); err != nil || !info.IsDir() {
		return "", usagef("--out: found no folder %s, expected one to write %s into", filepath.Dir(o.name), filepath.Base(o.name))
	}
	info, err := os.Lstat(o.name)
	switch {
	case errors.Is(err, fs.ErrNotExist):
	case err != nil:
		return "", err
	case info.IsDir():
		return "", usagef("--out: found the folder %s, expected the name of a file", o.name)
	case !o.overwrite:
		return "", usagef("--out: %s is there already, expected a new name, or --overwrite to replace it", o.name)
	}
	return kind, nil
}

// write writes the file whole, or the data to the standard output.
func (o *output) write(s Streams, data []byte) error {
	if o.name == "" {
		_, err := s.Out.Write(data)
		return err
	}
	if err := store.Write(filepath.Dir(o.name), store.File{Name: filepath.Base(o.name), Data: data}); err != nil {
		return err
	}
	say(s, "wrote %s", o.name)
	return nil
}
