package page

import (
	"strconv"

	"mealtrial/cmd/internal/view"
	"mealtrial/protocol"
)

// A Table has a caption, headers and rows. On a narrow screen each row becomes a
// list of header and cell; the roles of the elements keep it a table for screen
// readers.
type Table struct {
	Caption string
	Given   bool // the caption has the person's own words
	Columns []Column
	Rows    [][]Cell
	Empty   string // what is said where there are no rows
}

// A Column has a header; numbers lean to the right.
type Column struct {
	Name   string
	Number bool
}

// A Cell is text, or a number with the place that it comes from.
type Cell struct {
	Text string
	// From names the number that Text is the rounding of; Value is that number as
	// JSON writes it, times Scale where it is a percentage.
	From, Value string
	Percent     bool
	Time        bool   // a date or a time of day
	Given       bool   // the person's own words, or words of the page
	Link        string // a place on the page
	Label       string // the header, filled in by row
	Number      bool
}

func text(s string) Cell       { return Cell{Text: s, Given: true} }
func when(s string) Cell       { return Cell{Text: s, Time: true} }
func column(s string) Column   { return Column{Name: s} }
func numbers(s string) Column  { return Column{Name: s, Number: true} }
func (t *Table) add(c ...Cell) { t.Rows = append(t.Rows, t.label(c)) }

func (t *Table) label(cells []Cell) []Cell {
	for i := range cells {
		cells[i].Label, cells[i].Number = t.Columns[i].Name, t.Columns[i].Number
	}
	return cells
}

// num is a number of a result, rounded.
func num(x *protocol.Number, decimals int, from string) Cell {
	if x == nil {
		return Cell{Text: view.Cell(nil, 0), Given: true}
	}
	return Cell{Text: view.Cell(x, decimals), From: from, Value: jsonNumber(float64(*x))}
}

// percent is a share of a result as a percentage.
func percent(x *protocol.Number, decimals int, from string) Cell {
	if x == nil {
		return Cell{Text: view.Cell(nil, 0), Given: true}
	}
	return Cell{Text: view.Fixed(100*float64(*x), decimals) + " %", From: from, Value: jsonNumber(float64(*x)), Percent: true}
}

// whole is a count of a result.
func whole(n int, from string) Cell {
	return Cell{Text: strconv.Itoa(n), From: from, Value: strconv.Itoa(n)}
}

// exact is a text of a result as it stands.
func exact(s, from string) Cell { return Cell{Text: s, From: from, Value: s} }

// optional is a text that JSON leaves out where it is empty.
func optional(s, from string) Cell {
	if s == "" {
		return text("")
	}
	return exact(s, from)
}

func jsonNumber(x float64) string {
	data, err := protocol.Number(x).MarshalJSON()
	if err != nil {
		panic("page: a number that JSON does not have")
	}
	return string(data)
}
