package readings

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"strings"
	"unicode/utf8"

	"mealtrial/protocol/problem"
)

// A source is a text that can be read again from any place, so that no file is
// ever held in memory whole.
type source struct {
	open    func(offset int64) (io.ReadCloser, error)
	start   int64 // of the text: beyond a byte order mark
	newline byte  // LF, with or without CR before it, or CR alone where there is no LF
	openEnd bool  // the last line has no end
	err     error // of the last reading that failed
}

// textSource is a text in memory.
func textSource(text string) *source {
	s := &source{newline: '\n', open: func(offset int64) (io.ReadCloser, error) { return io.NopCloser(strings.NewReader(text[offset:])), nil }}
	if strings.IndexByte(text, '\n') < 0 && strings.IndexByte(text, '\r') >= 0 {
		s.newline = '\r'
	}
	return s
}

// fileSource is a file of at most limit bytes.
func fileSource(fsys fs.FS, name string, limit int64) (*source, *problem.Problem) {
	f, err := fsys.Open(name)
	if err == nil {
		var info fs.FileInfo
		if info, err = f.Stat(); err == nil && info.Size() > limit {
			err = errTooLarge
		}
		_ = f.Close()
	}
	if err != nil {
		p := unreadable(name, err)
		return nil, &p
	}
	return &source{open: func(offset int64) (io.ReadCloser, error) {
		f, err := fsys.Open(name)
		if err != nil {
			return nil, err
		}
		if offset > 0 {
			if s, ok := f.(io.Seeker); ok {
				_, err = s.Seek(offset, io.SeekStart)
			} else {
				_, err = io.CopyN(io.Discard, f, offset)
			}
		}
		return &limitedFile{f, limit - offset}, err
	}}, nil
}

// A limitedFile fails where a file goes beyond its limit, as its size may be
// untrue or growing.
type limitedFile struct {
	fs.File
	left int64
}

func (f *limitedFile) Read(p []byte) (int, error) {
	n, err := f.File.Read(p)
	if f.left -= int64(n); f.left < 0 {
		return 0, errTooLarge
	}
	return n, err
}

var errTooLarge = errors.New("too large")

// unreadable names the cause alone; the file's name stands before it already.
func unreadable(name string, err error) problem.Problem {
	if errors.Is(err, errTooLarge) {
		return problem.Problem{File: name, Found: fmt.Sprintf("a file of more than %d MB", MaxFileBytes>>20),
			Expected: "the export of a sensor, a few MB", Mend: "move it out of the folder, or split it"}
	}
	if e, ok := errors.AsType[*fs.PathError](err); ok {
		err = e.Err
	}
	return problem.Problem{File: name, Found: fmt.Sprintf("no way to read it (%v)", err), Expected: "a readable file", Mend: "check its permissions"}
}

const saveUTF8 = "save it as text (CSV) in UTF-8"

// check reads the text once: it finds the byte order mark and the end of lines,
// or says why the text is none.
func (s *source) check() *problem.Problem {
	r, err := s.open(0)
	if err != nil {
		p := unreadable("", err)
		return &p
	}
	defer r.Close()
	c := checker{lines: 1}
	buffer := make([]byte, chunkBytes)
	kept := 0 // bytes of a rune that the last chunk cut
	for first := true; ; first = false {
		n, err := io.ReadFull(r, buffer[kept:])
		end := err == io.EOF || err == io.ErrUnexpectedEOF
		if err != nil && !end {
			p := unreadable("", err)
			return &p
		}
		chunk := buffer[:kept+n]
		if first {
			if bytes.HasPrefix(chunk, []byte("\xff\xfe")) || bytes.HasPrefix(chunk, []byte("\xfe\xff")) {
				return &problem.Problem{Line: 1, Found: "text in UTF-16", Expected: "text in UTF-8", Mend: saveUTF8}
			}
			if bytes.HasPrefix(chunk, []byte("\xef\xbb\xbf")) {
				s.start, chunk = 3, chunk[3:]
			}
			c.newline = '\n'
			if bytes.IndexByte(chunk, '\n') < 0 && bytes.IndexByte(chunk, '\r') >= 0 {
				c.newline = '\r'
			}
		}
		whole := len(chunk)
		if !end {
			whole = wholeRunes(chunk)
		}
		if p := c.add(chunk[:whole]); p != nil {
			return p
		}
		kept = copy(buffer, chunk[whole:])
		if end {
			break
		}
	}
	s.newline, s.openEnd = c.newline, c.length > 0
	if c.blank() {
		return &problem.Problem{Found: "an empty file", Expected: "the export of a sensor", Mend: "export it again, or delete it"}
	}
	return nil
}

// wholeRunes is the length without the bytes of a rune that is cut at the end.
func wholeRunes(b []byte) int {
	for n := 1; n < utf8.UTFMax && n <= len(b); n++ {
		if utf8.RuneStart(b[len(b)-n]) {
			if !utf8.FullRune(b[len(b)-n:]) {
				return len(b) - n
			}
			break
		}
	}
	return len(b)
}

// A checker goes through a text chunk by chunk.
type checker struct {
	newline byte
	lines   int  // lines begun
	length  int  // of the line so far
	filled  bool // something but blanks was seen
}

func (c *checker) blank() bool { return !c.filled }

func (c *checker) add(chunk []byte) *problem.Problem {
	c.filled = c.filled || len(bytes.TrimSpace(chunk)) > 0
	line := func(i int) int { return c.lines + bytes.Count(chunk[:i], []byte{c.newline}) }
	if i := bytes.IndexByte(chunk, 0); i >= 0 {
		return &problem.Problem{Line: line(i), Found: "a zero byte, as in UTF-16 or a spreadsheet's own format", Expected: "text in UTF-8", Mend: saveUTF8}
	}
	if i := firstInvalid(chunk); i >= 0 {
		return &problem.Problem{Line: line(i), Found: fmt.Sprintf("byte 0x%02x, which is not UTF-8", chunk[i]), Expected: "text in UTF-8", Mend: saveUTF8}
	}
	for rest := chunk; ; c.lines++ {
		n := bytes.IndexByte(rest, c.newline)
		if c.length += max(n, 0); n < 0 {
			c.length += len(rest)
		}
		if c.length > MaxLineBytes {
			return &problem.Problem{Line: c.lines, Found: fmt.Sprintf("a line of more than %d MB", MaxLineBytes>>20),
				Expected: "one reading a line", Mend: "export it again as a table"}
		}
		if n < 0 {
			return nil
		}
		rest, c.length = rest[n+1:], 0
	}
}

// firstInvalid is the index of the first byte that is not UTF-8, or -1.
func firstInvalid(b []byte) int {
	if utf8.Valid(b) {
		return -1
	}
	for i := 0; i < len(b); {
		r, n := utf8.DecodeRune(b[i:])
		if r == utf8.RuneError && n == 1 {
			return i
		}
		i += n
	}
	return -1
}

// chunkBytes are read at a time.
const chunkBytes = 64 << 10

// A window is the part of a source that is in memory.
type window struct {
	src    *source
	r      io.ReadCloser
	rest   string // not yet taken
	offset int64  // of rest in the source
	buffer []byte
	end    bool
}

func (s *source) window(offset int64) *window {
	w := &window{src: s, offset: offset, buffer: make([]byte, chunkBytes)}
	if w.r, s.err = s.open(offset); s.err != nil {
		w.end = true
	}
	return w
}

func (w *window) close() {
	if w.r != nil {
		_ = w.r.Close()
	}
}

// more reads on; false at the end.
func (w *window) more() bool {
	if w.end {
		return false
	}
	n, err := io.ReadFull(w.r, w.buffer)
	if err != nil {
		w.end = true
		if err != io.EOF && err != io.ErrUnexpectedEOF {
			w.src.err = err
		}
	}
	if w.rest == "" {
		w.rest = string(w.buffer[:n])
	} else {
		w.rest += string(w.buffer[:n])
	}
	return n > 0
}

// lineEnd gives the length of the line that begins at from, and where the next
// one begins, both counted from the beginning of rest.
func (w *window) lineEnd(from int) (end, next int) {
	for searched := from; ; {
		if n := strings.IndexByte(w.rest[searched:], w.src.newline); n >= 0 {
			return searched + n, searched + n + 1
		}
		searched = len(w.rest)
		if !w.more() {
			return len(w.rest), len(w.rest)
		}
	}
}

func (w *window) take(n int) {
	w.rest = w.rest[n:]
	w.offset += int64(n)
}
