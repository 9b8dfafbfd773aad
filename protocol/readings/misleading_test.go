package readings

import (
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"
)

var update = flag.Bool("update", false, "write the messages anew; read what changed")

// The ways in which an export misleads have one invented file each in
// testdata/misleading, and beside it, in a file that ends in .error, the message
// that it must give. They are read for a study in mg/dL in Vienna.
func TestMisleadingExports(t *testing.T) {
	const dir = "testdata/misleading"
	files, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	tried := 0
	for _, f := range files {
		name := f.Name()
		if strings.HasSuffix(name, ".error") {
			if _, err := os.Stat(filepath.Join(dir, strings.TrimSuffix(name, ".error"))); err != nil {
				t.Errorf("%s belongs to no file", name)
			}
			continue
		}
		tried++
		t.Run(name, func(t *testing.T) {
			data, err := os.ReadFile(filepath.Join(dir, name))
			if err != nil {
				t.Fatal(err)
			}
			fsys := fstest.MapFS{"readings/" + name: {Data: data}}
			_, err = Read(fsys, "readings", misledBy[name], Study{Unit: MgdL, Zone: zone(t, "Europe/Vienna")})
			if err == nil {
				t.Fatal("no error")
			}
			problems(t, err)
			message := filepath.Join(dir, name+".error")
			if *update {
				if err := os.WriteFile(message, []byte(err.Error()+"\n"), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, readErr := os.ReadFile(message)
			if readErr != nil {
				t.Fatal(readErr)
			}
			checkError(t, err, strings.TrimSuffix(string(want), "\n"))
		})
	}
	if tried < 40 {
		t.Errorf("only %d files", tried)
	}
}

// misledBy are Mappings that fitted earlier exports, by file.
var misledBy = map[string]Mapping{
	"column_renamed.csv":     {Fixed: true, Delimiter: ",", TimeColumn: "Time", TimeLayout: "yyyy-MM-dd HH:mm", GlucoseColumn: "Glucose (mg/dL)"},
	"layout_changed.csv":     {Fixed: true, Delimiter: ",", TimeColumn: "Time", TimeLayout: "yyyy-MM-dd HH:mm", GlucoseColumn: "Glucose (mg/dL)"},
	"delimiter_changed.csv":  {Fixed: true, Delimiter: ",", TimeColumn: "Time", TimeLayout: "yyyy-MM-dd HH:mm", GlucoseColumn: "Glucose (mg/dL)"},
	"mapping_incomplete.csv": {Fixed: true, TimeColumn: "Time"},
	"unknown_zone.csv":       {ZoneColumn: "Zone"},
}
