package readings

import (
	"errors"
	"io/fs"
	"strings"
	"testing"
	"testing/fstest"
	"time"
)

// A tornFS has files that fail after some bytes.
type tornFS struct {
	fstest.MapFS
	after int
}

func (t tornFS) Open(name string) (fs.File, error) {
	f, err := t.MapFS.Open(name)
	if err != nil || !strings.Contains(name, ".") {
		return f, err
	}
	return &tornFile{f, t.after}, nil
}

type tornFile struct {
	fs.File
	left int
}

func (t *tornFile) Read(p []byte) (int, error) {
	n, err := t.File.Read(p)
	if t.left -= n; t.left < 0 {
		return 0, errors.New("input/output error")
	}
	return n, err
}

func TestFilesThatTear(t *testing.T) {
	content := "Time,Glucose (mg/dL)\n" + everyFive(time.Date(2027, 1, 31, 7, 0, 0, 0, time.UTC), 20_000, "2006-01-02 15:04", ",")
	for _, name := range []string{"x.csv", "x.json"} {
		for _, after := range []int{0, 1000, 200_000} {
			_, err := Read(tornFS{folder(name, content), after}, "readings", Mapping{}, Study{})
			if name == "x.json" && after > 0 {
				content = strings.Repeat(" ", after+1)
				_, err = Read(tornFS{folder(name, content), after}, "readings", Mapping{}, Study{})
			}
			checkError(t, err, "readings/"+name+": found no way to read it (input/output error), expected a readable file; check its permissions")
		}
	}
}

// A file may grow after its size was looked at.
func TestFileThatGrows(t *testing.T) {
	for limit, want := range map[int64]error{2: errTooLarge, 3: nil} {
		f, err := folder("x.csv", "abc").Open("readings/x.csv")
		if err != nil {
			t.Fatal(err)
		}
		if _, err := (&limitedFile{f, limit}).Read(make([]byte, 8)); !errors.Is(err, want) {
			t.Errorf("limit %d: %v, want %v", limit, err, want)
		}
	}
	if p := unreadable("x", errTooLarge); !strings.Contains(p.Found, "more than 1024 MB") {
		t.Errorf("got %v", p)
	}
}

func TestChunksAreJoined(t *testing.T) {
	// Lines, runes and quoted cells that lie across chunks.
	long := strings.Repeat("é", chunkBytes/2-3)
	text := "a," + long + ",\"x\ny\"\nb,é," + strings.Repeat("z", chunkBytes) + "\n"
	var got []string
	for r := range newTable(text, ',').rows {
		got = append(got, strings.Join(r.fields, "|"))
		if !strings.HasPrefix(text[r.offset:], r.fields[0]) {
			t.Errorf("offset %d of %q", r.offset, r.fields[0])
		}
	}
	if want := "a|" + long + "|x\ny\nb|é|" + strings.Repeat("z", chunkBytes); strings.Join(got, "\n") != want {
		t.Errorf("got %d rows", len(got))
	}
	if p := textSource(text).check(); p != nil {
		t.Error(p)
	}
	bad := textSource(strings.Repeat("é", chunkBytes) + "\n\xc3")
	if p := bad.check(); p == nil || p.Line != 2 || p.Found != "byte 0xc3, which is not UTF-8" {
		t.Errorf("got %v", p)
	}
}
