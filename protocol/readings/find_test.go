package readings

import (
	"errors"
	"io/fs"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"github.com/google/go-cmp/cmp"
)

func TestFindFiles(t *testing.T) {
	at := func(hour string) string { return "Time,Glucose (mg/dL)\n2027-01-31 " + hour + ":00,100\n" }
	fsys := folder("b.CSV", at("07"), "a.txt", at("08"), "old/c.tsv", at("09"), "sheet.xlsx", "x", "NOTES.md", "x", ".hidden.csv", "x", ".trash/d.csv", "x")
	fsys["other/e.csv"] = &fstest.MapFile{Data: []byte("x")}
	r, err := Read(fsys, "readings", Mapping{}, Study{Unit: MgdL, Zone: time.UTC})
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, f := range r.Files {
		names = append(names, f.File)
	}
	if diff := cmp.Diff([]string{"readings/a.txt", "readings/b.CSV", "readings/old/c.tsv"}, names); diff != "" {
		t.Error(diff)
	}
	if diff := cmp.Diff([]string{"readings/NOTES.md", "readings/sheet.xlsx"}, r.Ignored); diff != "" {
		t.Error(diff)
	}
	if want := (Reading{Time: r.Readings[0].Time, Glucose: 100, File: "readings/b.CSV", Line: 2}); r.Readings[0] != want {
		t.Errorf("got %+v, want %+v", r.Readings[0], want)
	}
}

func TestNoFiles(t *testing.T) {
	for name, fsys := range map[string]fs.FS{"missing": fstest.MapFS{}, "empty": fstest.MapFS{"readings": {Mode: fs.ModeDir}}} {
		r, err := Read(fsys, "readings", Mapping{}, Study{Unit: MgdL, Zone: time.UTC})
		if diff := cmp.Diff(Recording{}, r); diff != "" || err != nil {
			t.Errorf("%s: %v\n%s", name, err, diff)
		}
	}
}

// A bigFS has a file that says or proves to be larger than it may be.
type bigFS struct{ fstest.MapFS }

func (b bigFS) Open(name string) (fs.File, error) {
	f, err := b.MapFS.Open(name)
	if err != nil || !strings.HasSuffix(name, ".csv") {
		return f, err
	}
	return bigFile{f}, nil
}

type bigFile struct{ fs.File }

func (b bigFile) Stat() (fs.FileInfo, error) {
	info, err := b.File.Stat()
	return bigInfo{info}, err
}

type bigInfo struct{ fs.FileInfo }

func (bigInfo) Size() int64 { return MaxFileBytes + 1 }

type brokenFS struct{ fstest.MapFS }

func (b brokenFS) Open(name string) (fs.File, error) {
	if strings.HasSuffix(name, ".csv") {
		return nil, &fs.PathError{Op: "open", Path: "/somewhere/" + name, Err: fs.ErrPermission}
	}
	return b.MapFS.Open(name)
}

func TestFilesThatCannotBeRead(t *testing.T) {
	one := folder("x.csv", "a")
	for _, c := range []struct {
		name string
		fsys fs.FS
		err  string
	}{
		{"too large", bigFS{one}, "readings/x.csv: found a file of more than 1024 MB, expected the export of a sensor, a few MB; move it out of the folder, or split it"},
		{"no permission", brokenFS{one}, "readings/x.csv: found no way to read it (permission denied), expected a readable file; check its permissions"},
		{"link", fstest.MapFS{"readings/x.csv": {Mode: fs.ModeNamedPipe}}, "readings/x.csv: found a link or a device, expected a file; copy the file itself into readings/"},
		{"no folder", fstest.MapFS{"readings": {Data: []byte("x")}}, "readings: found a file, expected a folder of sensor files; make a folder readings and move the file into it"},
	} {
		_, err := Read(c.fsys, "readings", Mapping{}, Study{Unit: MgdL, Zone: time.UTC})
		checkError(t, err, c.err)
	}
	if p := unreadable("x", errors.New("torn")); p.Error() != "x: found no way to read it (torn), expected a readable file; check its permissions" {
		t.Errorf("got %v", p)
	}
}
