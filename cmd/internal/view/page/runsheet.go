package page

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"io"

	"mealtrial/cmd/internal/view"
	"mealtrial/cmd/internal/view/drawing"
	"mealtrial/protocol"
)

//go:embed runsheet.gohtml
var sheetText string

//go:embed runsheet.css
var sheetStyle string

var sheetTemplate = template.Must(template.New("sheet").Parse(sheetText))

// sheets is what the template of the run sheets sees.
type sheets struct {
	Title  string
	Style  template.CSS
	Helper bool
	Sheets []sheet
	Stop   view.Paragraph
	// Blank are the rows for scores, to be named by hand; Scale is the numerical
	// rating scale of eleven points (Downie et al. 1978, Ann Rheum Dis 37:378, from
	// memory).
	Blank   []string
	Scale   []int
	Caution string
}

type sheet struct {
	protocol.RunSheet
	Block, Window string
	Masked        bool
}

// WriteRunSheets writes one printed page a test. helper: the version with the
// foods of a masked schedule.
func WriteRunSheets(w io.Writer, title string, list []protocol.RunSheet, helper bool) error {
	if title == "" {
		title = "Food tests"
	}
	c := sheets{Title: title, Helper: helper, Blank: make([]string, 3), Scale: []int{0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10}, Stop: view.StopRules(), Caution: protocol.ShortCaution,
		Style: template.CSS(sheetStyle + ":root{" + drawing.Style(false) + "}@media screen and (prefers-color-scheme:dark){:root{" + drawing.Style(true) + "}}")}
	for _, s := range list {
		block := fmt.Sprintf("block %d", s.Test.Block)
		if s.Test.RunIn {
			block = "run-in, not analysed"
		}
		c.Sheets = append(c.Sheets, sheet{RunSheet: s, Block: block,
			Window: view.Value(s.Window), Masked: s.Code != ""})
	}
	var out bytes.Buffer
	if err := sheetTemplate.Execute(&out, c); err != nil {
		return fmt.Errorf("page: %w", err)
	}
	_, err := w.Write(bytes.TrimSpace(out.Bytes()))
	return err
}
