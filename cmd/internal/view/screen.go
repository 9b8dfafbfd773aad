package view

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/clipperhouse/displaywidth"
)

// A Format is how results are written.
type Format string

// The formats. JSON and CSV carry full precision, one quantity a cell.
const (
	FormatTable    Format = "table"
	FormatMarkdown Format = "markdown"
	FormatCSV      Format = "csv"
	FormatJSON     Format = "json"
)

// Formats are all of them.
var Formats = []Format{FormatTable, FormatMarkdown, FormatCSV, FormatJSON}

// A Screen is a writer that knows where what is written will be seen. Views may be
// handed any writer; one that is no Screen gets plain tables without a width.
type Screen struct {
	io.Writer
	Width  int    // columns of the terminal; 0: it is none, and nothing is fitted
	Format Format // "": tables
	Table  string // of CSV, where there are several; "": the main one
}

func screenOf(w io.Writer) *Screen {
	if s, ok := w.(*Screen); ok {
		return s
	}
	return &Screen{Writer: w}
}

// narrowest is the width below which a column of text is not wrapped.
const narrowest = 12

// fit makes a table as narrow as the screen, if that can be: headers are wrapped
// between words first, and then the cells of the widest columns of text.
func (s *Screen) fit(columns []column, rows [][]string) ([]column, [][]string) {
	if s.Width == 0 || s.Format == FormatMarkdown {
		return columns, rows
	}
	widths, least := make([]int, len(columns)), make([]int, len(columns))
	total := 2 * len(columns) // what stands between and before them
	for i, c := range columns {
		for _, row := range rows {
			if i < len(row) {
				widths[i] = max(widths[i], displaywidth.String(row[i]))
			}
		}
		least[i] = widths[i]
		if c.align == left("").align {
			least[i] = min(widths[i], narrowest)
		}
		for _, word := range strings.Fields(c.header) {
			least[i] = max(least[i], displaywidth.String(word))
		}
		widths[i] = max(widths[i], displaywidth.String(c.header))
		total += widths[i]
	}
	for ; total > s.Width; total-- {
		widest := -1
		for i := range columns {
			if widths[i] > least[i] && (widest < 0 || widths[i] > widths[widest]) {
				widest = i
			}
		}
		if widest < 0 {
			break
		}
		widths[widest]--
	}
	narrow := func(text string, width int) string {
		if displaywidth.String(text) <= width {
			return text
		}
		return strings.Join(wrap(text, width), "\n")
	}
	heads, fitted := slices.Clone(columns), make([][]string, len(rows))
	for i := range heads {
		heads[i].header = narrow(heads[i].header, widths[i])
	}
	for r, row := range rows {
		for i, cell := range row {
			fitted[r] = append(fitted[r], narrow(cell, widths[i]))
		}
	}
	return heads, fitted
}

// wrap breaks text between words into lines of at most so many columns; a word
// that is longer is cut.
func wrap(text string, width int) (lines []string) {
	line := ""
	for _, word := range strings.Fields(text) {
		for displaywidth.String(word) > width {
			if line != "" {
				lines, line = append(lines, line), ""
			}
			head := cut(word, width)
			lines, word = append(lines, head), word[len(head):]
		}
		switch {
		case line == "":
			line = word
		case displaywidth.String(line)+1+displaywidth.String(word) <= width:
			line += " " + word
		default:
			lines, line = append(lines, line), word
		}
	}
	if line != "" || len(lines) == 0 {
		lines = append(lines, line)
	}
	return lines
}

// cut returns the longest beginning that fits, at least one character.
func cut(word string, width int) string {
	graphemes := displaywidth.StringGraphemes(word)
	end, used := 0, 0
	for graphemes.Next() {
		w := graphemes.Width()
		if end > 0 && used+w > width {
			break
		}
		used += w
		end += len(graphemes.Value())
	}
	return word[:end]
}

// prose wraps a line of text at the width of the screen, under its indentation.
func (s *Screen) prose(line string) string {
	const least = 40
	if s.Width < least || s.Format == FormatMarkdown || displaywidth.String(line) <= s.Width {
		return line
	}
	text := strings.TrimLeft(line, " ")
	indent := strings.Repeat(" ", len(line)-len(text))
	if strings.HasPrefix(text, "* ") {
		indent += "  "
	}
	lines := wrap(text, s.Width-len(indent))
	return line[:len(line)-len(text)] + strings.Join(lines, "\n"+indent)
}

// markdownTable writes a table as GitHub Flavored Markdown does (section 4.10).
func markdownTable(w io.Writer, columns []column, rows [][]string) error {
	line := func(cells []string) string { return "| " + strings.Join(cells, " | ") + " |\n" }
	var head, rule []string
	for _, c := range columns {
		head = append(head, markdown(c.header))
		side := ":---"
		if c.align == right("").align {
			side = "---:"
		}
		rule = append(rule, side)
	}
	out := "\n" + line(head) + line(rule)
	for _, row := range rows {
		cells := make([]string, len(columns))
		for i := range cells {
			if i < len(row) {
				cells[i] = markdown(row[i])
			}
		}
		out += line(cells)
	}
	_, err := fmt.Fprint(w, out+"\n")
	return err
}
