package page

import (
	"mealtrial/cmd/internal/view"
	"mealtrial/protocol"
)

// A month is a month grid on the page.
type month struct {
	Name  string
	Heads [7]string
	Weeks [][]day
}

// A day is a cell of a month grid; the zero day is none.
type day struct {
	Number       int
	Signs, Words string // the same in signs and, for screen readers, in words
	Test, Today  bool
}

// months lays the schedule out by months.
func (b builder) months() (out []month, legend []string) {
	study := b.in.Folder.Study
	days := b.in.Folder.Days(b.in.Today)
	if days == nil {
		return nil, nil
	}
	for _, m := range view.Months(days) {
		grid := month{Name: m.Name, Heads: view.Weekdays}
		for _, week := range m.Weeks {
			var row []day
			empty := true
			for _, d := range week {
				cell := day{}
				if d != nil {
					cell, empty = dayOf(study, *d), false
				}
				row = append(row, cell)
			}
			if !empty {
				grid.Weeks = append(grid.Weeks, row)
			}
		}
		out = append(out, grid)
	}
	return out, view.MonthLegend(study, days)
}

func dayOf(study *protocol.Study, d protocol.Day) day {
	out := day{Number: view.DayNumber(d.Date), Test: d.Planned != "" || d.Eaten != "", Today: d.Today}
	if d.Today {
		out.Signs, out.Words = ">", "today"
	}
	for _, m := range view.DayMarks(study, d) {
		out.Signs += m.Sign
		if out.Words != "" {
			out.Words += "; "
		}
		out.Words += m.Words
	}
	return out
}
