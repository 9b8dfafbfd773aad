// Package view shows results to a person: tables, sentences and calendars. It
// computes no statistics and reads no files.
package view

import (
	"bytes"
	"io"

	"github.com/olekukonko/tablewriter"
	"github.com/olekukonko/tablewriter/renderer"
	"github.com/olekukonko/tablewriter/tw"

	"mealtrial/protocol/problem"
)

// A column is a header and the side to which its cells lean.
type column struct {
	header string
	align  tw.Align
}

func left(header string) column  { return column{header, tw.AlignLeft} }
func right(header string) column { return column{header, tw.AlignRight} }

// table writes rows under headers, without lines or borders, two spaces apart.
// The library is told to leave every cell as it is: trimming, wrapping and
// automatic formatting would change names and units.
func table(w io.Writer, columns []column, rows [][]string) error {
	rows = visible(rows)
	screen := screenOf(w)
	if screen.Format == FormatMarkdown {
		return markdownTable(w, columns, rows)
	}
	columns, rows = screen.fit(columns, rows)
	var aligns tw.Alignment
	var headers []string
	for _, c := range columns {
		aligns = append(aligns, c.align)
		headers = append(headers, c.header)
	}
	var out bytes.Buffer
	none := tw.CellPadding{Global: tw.PaddingNone}
	cells := tw.CellConfig{
		Formatting: tw.CellFormatting{AutoWrap: tw.WrapNone, AutoFormat: tw.Off},
		Padding:    none,
		Alignment:  tw.CellAlignment{PerColumn: aligns},
	}
	t := tablewriter.NewTable(&out,
		tablewriter.WithConfig(tablewriter.Config{Header: cells, Row: cells, Behavior: tw.Behavior{TrimSpace: tw.Off}}),
		tablewriter.WithEastAsian(tw.Off),
		tablewriter.WithRenderer(renderer.NewBlueprint(tw.Rendition{
			Borders: tw.BorderNone,
			Symbols: tw.NewSymbolCustom("plain").WithColumn("  "),
			Settings: tw.Settings{
				Lines:      tw.Lines{ShowHeaderLine: tw.Off, ShowTop: tw.Off, ShowBottom: tw.Off},
				Separators: tw.Separators{BetweenRows: tw.Off, BetweenColumns: tw.On, ShowHeader: tw.Off, ShowFooter: tw.Off},
			},
		})),
	)
	t.Header(headers)
	if err := t.Bulk(rows); err != nil {
		return err
	}
	if err := t.Render(); err != nil {
		return err
	}
	for _, line := range bytes.SplitAfter(out.Bytes(), []byte("\n")) {
		trimmed := bytes.TrimRight(line, " \n")
		if len(line) == 0 {
			continue
		}
		if _, err := w.Write(append([]byte("  "), append(trimmed, '\n')...)); err != nil {
			return err
		}
	}
	return nil
}

// visible shows characters that would steer a terminal.
func visible(rows [][]string) [][]string {
	out := make([][]string, len(rows))
	for i, row := range rows {
		for _, cell := range row {
			out[i] = append(out[i], problem.Visible(cell))
		}
	}
	return out
}
