package readings

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path"
	"slices"
	"strings"

	"mealtrial/protocol/problem"
)

type findings struct {
	tables  []string
	ignored []string
}

var endings = []string{".csv", ".txt", ".tsv"}

// find lists the files below dir in name order.
func find(fsys fs.FS, dir string) (findings, problem.List) {
	var f findings
	var problems problem.List
	info, err := fs.Stat(fsys, dir)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return f, nil
	case err != nil:
		return f, problem.List{unreadable(dir, err)}
	case !info.IsDir():
		return f, problem.List{{File: dir, Found: "a file", Expected: "a folder of sensor files", Mend: "make a folder " + dir + " and move the file into it"}}
	}
	_ = fs.WalkDir(fsys, dir, func(name string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			problems = append(problems, unreadable(name, err))
			if d != nil && d.IsDir() {
				return fs.SkipDir
			}
		case name == dir:
		case strings.HasPrefix(d.Name(), "."):
			if d.IsDir() {
				return fs.SkipDir
			}
		case d.IsDir():
		case !slices.Contains(endings, strings.ToLower(path.Ext(name))):
			f.ignored = append(f.ignored, name)
		case !d.Type().IsRegular():
			problems = append(problems, problem.Problem{File: name, Found: "a link or a device", Expected: "a file", Mend: "copy the file itself into " + dir + "/"})
		default:
			f.tables = append(f.tables, name)
		}
		return nil
	})
	return f, problems
}

// load gives the content of a file of at most limit bytes.
func load(fsys fs.FS, name string, limit int64) (string, *problem.Problem) {
	fail := func(err error) (string, *problem.Problem) {
		p := unreadable(name, err)
		return "", &p
	}
	f, err := fsys.Open(name)
	if err != nil {
		return fail(err)
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return fail(err)
	}
	size := info.Size()
	var text strings.Builder
	if size <= limit {
		text.Grow(int(max(size, 0)))
		// One byte more than allowed: the size may be untrue or growing.
		if size, err = io.Copy(&text, io.LimitReader(f, limit+1)); err != nil {
			return fail(err)
		}
	}
	if size > limit {
		return "", &problem.Problem{File: name, Found: fmt.Sprintf("a file of more than %d MB", limit>>20),
			Expected: "the export of a sensor, a few MB", Mend: "move it out of the folder, or split it"}
	}
	return text.String(), nil
}

// unreadable names the cause alone; the file's name stands before it already.
func unreadable(name string, err error) problem.Problem {
	if e, ok := errors.AsType[*fs.PathError](err); ok {
		err = e.Err
	}
	return problem.Problem{File: name, Found: fmt.Sprintf("no way to read it (%v)", err), Expected: "a readable file", Mend: "check its permissions"}
}
