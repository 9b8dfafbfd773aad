package readings

import (
	"slices"
	"strings"
)

// A table is a text of rows and cells (RFC 4180, and what is usual beyond it:
// other delimiters, quotes inside a plain cell, blanks around a quoted one).
type table struct {
	src       *source
	delimiter byte
}

func newTable(text string, delimiter byte) table {
	return table{textSource(text), delimiter}
}

// A row is the cells of a line, or of several where a quoted cell spans them.
type row struct {
	line   int      // its first, from 1
	offset int64    // of its first byte
	raw    string   // the text of the row
	fields []string // trimmed cells; the list is valid until the next row
	open   bool     // a quote is not closed; the row then is its first line alone
}

// maxQuotedLines ends the search for a closing quote, so that a file of stray
// quotes is read in linear time.
const maxQuotedLines = 20

// rows calls yield for every row that is not blank.
func (t table) rows(yield func(row) bool) { t.rowsFrom(t.src.start, 1, yield) }

// rowsFrom begins at a row whose offset and line are known.
func (t table) rowsFrom(offset int64, line int, yield func(row) bool) {
	w := t.src.window(offset)
	defer w.close()
	var fields []string
	for w.rest != "" || w.more() {
		end, next := w.lineEnd(0)
		r := row{line: line, offset: w.offset, raw: strings.TrimRight(w.rest[:end], "\r")}
		lines := 1
		if strings.IndexByte(r.raw, '"') < 0 {
			fields = t.splitPlain(r.raw, fields[:0])
		} else {
			fields, next, lines = t.quotedRow(w, &r, next, fields[:0])
		}
		w.take(next)
		line += lines
		if r.fields = fields; trim(r.raw) != "" && !yield(r) {
			return
		}
	}
}

// quotedRow reads a row with quotes; next is where its first line ends, and is
// given back for the whole row.
func (t table) quotedRow(w *window, r *row, next int, fields []string) (cells []string, end, lines int) {
	first, plain := next, r.raw
	for lines = 1; ; lines++ {
		raw := strings.TrimRight(strings.TrimSuffix(w.rest[:next], string(t.src.newline)), "\r")
		if cells, ok := t.split(raw, fields[:0]); ok {
			r.raw = raw
			return cells, next, lines
		}
		atEnd := next == len(w.rest) && !w.more()
		if atEnd || lines == maxQuotedLines || next > MaxLineBytes {
			r.raw, r.open = plain, true
			return t.splitPlain(plain, fields[:0]), first, 1
		}
		_, next = w.lineEnd(next)
	}
}

func (t table) splitPlain(s string, fields []string) []string {
	for {
		i := strings.IndexByte(s, t.delimiter)
		if i < 0 {
			return append(fields, trim(s))
		}
		fields = append(fields, trim(s[:i]))
		s = s[i+1:]
	}
}

// trim is strings.TrimSpace, quick on what is trimmed already.
func trim(s string) string {
	plain := func(c byte) bool { return ' ' < c && c < 0x80 }
	if s == "" || plain(s[0]) && plain(s[len(s)-1]) {
		return s
	}
	return strings.TrimSpace(s)
}

// split is false when a quoted cell does not end.
func (t table) split(s string, fields []string) ([]string, bool) {
	for {
		blanks := len(s) - len(strings.TrimLeft(s, " "))
		if blanks == len(s) || s[blanks] != '"' {
			i := strings.IndexByte(s, t.delimiter)
			if i < 0 {
				return append(fields, trim(s)), true
			}
			fields = append(fields, trim(s[:i]))
			s = s[i+1:]
			continue
		}
		cell, rest, ok := t.quoted(s[blanks+1:])
		if !ok {
			return fields, false
		}
		fields = append(fields, trim(cell))
		if rest == "" {
			return fields, true
		}
		s = rest[1:]
	}
}

// quoted reads a cell after its opening quote; rest is empty or begins with the
// delimiter. A quote before other text is taken as part of the cell.
func (t table) quoted(s string) (cell, rest string, ok bool) {
	doubled := false
	for i := 0; ; i++ {
		n := strings.IndexByte(s[i:], '"')
		if n < 0 {
			return "", "", false
		}
		i += n
		if i+1 < len(s) && s[i+1] == '"' {
			doubled = true
			i++
			continue
		}
		after := strings.TrimLeft(s[i+1:], " ")
		if after == "" || after[0] == t.delimiter {
			cell = s[:i]
			if doubled {
				cell = strings.ReplaceAll(cell, `""`, `"`)
			}
			return cell, after, true
		}
	}
}

// mostCells bounds the memory for first.
const mostCells = 1 << 20

// first gives copies of the first n rows, or fewer where they are very wide.
func (t table) first(n int) []row {
	var rows []row
	cells := 0
	for r := range t.rows {
		r.fields = slices.Clone(r.fields)
		cells += len(r.fields)
		if rows = append(rows, r); len(rows) == n || cells > mostCells {
			break
		}
	}
	return rows
}

// A column is where a value stands: one cell, or two that are joined by a
// blank. Second is -1 for one.
type column struct{ first, second int }

func one(i int) column { return column{i, -1} }

// cell is empty where the row has no such cell, or not both.
func (c column) cell(fields []string) string {
	a := at(fields, c.first)
	if c.second < 0 || a == "" {
		return a
	}
	b := at(fields, c.second)
	if b == "" {
		return ""
	}
	return a + " " + b
}

func (c column) has(i int) bool { return i == c.first || i == c.second }

func at(fields []string, i int) string {
	if i < 0 || i >= len(fields) {
		return ""
	}
	return fields[i]
}
