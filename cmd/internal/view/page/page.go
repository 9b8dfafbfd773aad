// Package page writes the report of a study as one HTML file that needs nothing
// else: no network, no font, no script.
//
// Every number of a result stands in an element that names where it comes from,
// such as data-from="analyse:/questions/0/low": a command with --json and a JSON
// pointer (RFC 6901). A test reads both.
package page

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"strings"

	"mealtrial/cmd/internal/view"
	"mealtrial/cmd/internal/view/drawing"
	"mealtrial/cmd/internal/view/figure"
	"mealtrial/protocol"
)

// Input is what a report shows.
type Input struct {
	Folder    *protocol.Folder
	Analysis  *protocol.Analysis
	Retest    *protocol.Retest
	Responses []protocol.Response
	Today     protocol.Date
}

//go:embed page.gohtml
var pageText string

//go:embed style.css
var styleText string

var pageTemplate = template.Must(template.New("page").Funcs(template.FuncMap{"tidy": tidy}).Parse(pageText))

// tidy keeps a percentage on one line.
func tidy(text string) string { return strings.ReplaceAll(text, " %", "\u00a0%") }

// contents is what the template sees.
type contents struct {
	Title, Subtitle string
	Style           template.CSS
	Answers         []answer
	Differences     []template.HTML
	DifferenceTable Table
	Ratios, Limits  []template.HTML
	RatioTable      Table
	LimitTable      Table
	Others          []line
	Foods           []template.HTML
	FoodTable       Table
	TestTable       Table
	Curves          []template.HTML
	Order           []template.HTML
	Schedule        Table
	Amendments      []line
	Months          []month
	MonthLegend     []string
	Robustness      []Table
	Retest          Table
	RetestNotes     [][]line
	Deviations      Table
	Excluded        Table
	With            Table
	Warnings        []line
	Safety          []line
	SafetyTitle     string
	Besides         []Table
	Methods         []choice
	Declared        []string
	Items           Table
	Cautions        []view.Paragraph
	Caution         string
}

// An answer is a question with the sentence that may be said.
type answer struct {
	Asked    string
	Sentence line
	Verdict  string
	Sign     string // the verdict's mark, which is said in words as well
	Fragile  []line // the ways of answering that change the verdict
}

// A line is text from a result, or, without From, words of the page.
type line struct{ Text, From string }

// A choice is one decision of the methods, with its numbers.
type choice struct {
	What  string
	Parts []Cell
}

// Write writes the report.
func Write(w io.Writer, in Input) error {
	b := builder{in: in, a: in.Analysis, d: view.Decimals(in.Analysis), dd: view.DifferenceDecimals(in.Analysis)}
	c, err := b.contents()
	if err != nil {
		return err
	}
	var out bytes.Buffer
	if err := pageTemplate.Execute(&out, c); err != nil {
		return fmt.Errorf("page: %w", err)
	}
	_, err = w.Write(bytes.TrimSpace(out.Bytes()))
	return err
}

type builder struct {
	in    Input
	a     *protocol.Analysis
	d, dd int // decimals of values and of differences
}

func (b builder) contents() (c contents, err error) {
	c.Title = b.a.Title
	if c.Title == "" {
		c.Title = "Food tests on one person"
	}
	c.Subtitle = "Results of an experiment on one person. It is no medical advice and says nothing about anybody else."
	c.Style = template.CSS(styleText + ":root{" + drawing.Style(false) + "}@media screen and (prefers-color-scheme:dark){:root{" + drawing.Style(true) + "}}")
	c.Answers, c.Others = b.answers(), b.others()
	c.RatioTable, c.LimitTable = b.ratios(), b.limits()
	c.DifferenceTable, c.FoodTable, c.TestTable = b.differences(), b.foods(), b.tests()
	c.Schedule, c.Amendments = b.schedule()
	c.Months, c.MonthLegend = b.months()
	c.Robustness = b.robustness()
	c.Safety, c.SafetyTitle, c.Besides = b.safety(), b.safetyTitle(), b.besides()
	c.Retest, c.RetestNotes = b.retest()
	c.Deviations, c.Excluded, c.With = b.deviations(), b.excluded(), b.with()
	for i, w := range b.a.Warnings {
		c.Warnings = append(c.Warnings, line{w, fmt.Sprintf("analyse:/warnings/%d", i)})
	}
	c.Methods, c.Declared, c.Items, c.Cautions, c.Caution = b.methods(), view.StudyInWords(b.in.Folder), b.items(), view.CautionParagraphs(), protocol.ShortCaution
	return c, b.pictures(&c)
}

// Widths of the two versions of a picture: for wide screens and paper, and for
// phones.
const (
	wideWidth  = 720
	phoneWidth = 350
)

func (b builder) pictures(c *contents) error {
	run, curves := b.in.Folder.RunOrder(), b.in.Folder.Curves()
	type picture struct {
		to   *[]template.HTML
		id   string
		draw func(figure.Size) (*drawing.Scene, error)
	}
	pictures := []picture{
		{&c.Differences, "differences", func(s figure.Size) (*drawing.Scene, error) { return figure.Differences(b.a, s) }},
		{&c.Foods, "foods", func(s figure.Size) (*drawing.Scene, error) { return figure.Foods(b.a, b.in.Responses, s) }},
		{&c.Curves, "curves", func(s figure.Size) (*drawing.Scene, error) { return figure.Curves(curves, s) }},
		{&c.Order, "order", func(s figure.Size) (*drawing.Scene, error) { return figure.Order(b.a, run, s) }},
	}
	ratios, limits := figure.Asked(b.a)
	if ratios {
		pictures = append(pictures, picture{&c.Ratios, "ratios", func(s figure.Size) (*drawing.Scene, error) { return figure.Ratios(b.a, s) }})
	}
	if limits {
		pictures = append(pictures, picture{&c.Limits, "limits", func(s figure.Size) (*drawing.Scene, error) { return figure.Limits(b.a, s) }})
	}
	for _, p := range pictures {
		for i, width := range []float64{wideWidth, phoneWidth} {
			scene, err := p.draw(figure.Size{Width: width})
			if err != nil {
				return err
			}
			var svg bytes.Buffer
			if err := scene.WriteSVG(&svg, drawing.Options{InPage: true, ID: fmt.Sprintf("picture-%s-%d", p.id, i+1)}); err != nil {
				return err
			}
			*p.to = append(*p.to, template.HTML(svg.String()))
		}
	}
	return nil
}

func (b builder) answers() (out []answer) {
	fragile := map[string][]line{}
	for i, r := range b.a.Robustness {
		for j, way := range r.Fragile {
			fragile[r.Question] = append(fragile[r.Question], line{way, fmt.Sprintf("analyse:/robustness/%d/fragile/%d", i, j)})
		}
	}
	for i, q := range view.Quotes(b.a) {
		asked := b.a.Questions[i]
		x := answer{Asked: view.Asked(b.a, asked), Sentence: line{q.Short, fmt.Sprintf("quote:/%d/short", i)}, Verdict: view.Verdict(asked), Sign: sign(asked), Fragile: fragile[q.Question]}
		out = append(out, x)
	}
	return out
}

// others are the answers that are no differences.
func (b builder) others() (out []line) {
	for _, q := range b.a.Questions {
		if q.Later {
			out = append(out, line{Text: q.Question + " was asked after the data: it is in no family, and its interval is for this question alone."})
		}
	}
	return out
}

// sign is a mark of its own for each verdict.
func sign(q protocol.Answer) string {
	switch view.Verdict(q) {
	case "still open":
		return "○"
	case "no difference that matters":
		return "◆"
	case "different, but too small to matter":
		return "■"
	}
	return "●"
}
