package readings

import (
	"errors"
	"io/fs"
	"path"
	"slices"
	"strings"

	"mealtrial/protocol/problem"
)

type findings struct {
	files   []string
	ignored []string
}

// Endings of text tables, and of FHIR resources.
var (
	tableEndings = []string{".csv", ".txt", ".tsv"}
	fhirEndings  = []string{".json"}
)

func hasEnding(name string, endings []string) bool {
	return slices.Contains(endings, strings.ToLower(path.Ext(name)))
}

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
		case !hasEnding(name, tableEndings) && !hasEnding(name, fhirEndings):
			f.ignored = append(f.ignored, name)
		case !d.Type().IsRegular():
			problems = append(problems, problem.Problem{File: name, Found: "a link or a device", Expected: "a file", Mend: "copy the file itself into " + dir + "/"})
		default:
			f.files = append(f.files, name)
		}
		return nil
	})
	return f, problems
}
