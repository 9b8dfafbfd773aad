package view

import (
	"fmt"
	"io"
	"strings"
	"time"

	"mealtrial/protocol"
)

// A Mark is what stands on a day of a month grid, and what that means in words.
type Mark struct{ Sign, Words string }

// DayMarks are the marks of a day, in the order in which they stand. They are told
// apart by letters and brackets, never by colour alone.
func DayMarks(study *protocol.Study, d protocol.Day) (marks []Mark) {
	add := func(sign, words string) { marks = append(marks, Mark{sign, words}) }
	number := func(food string) string {
		if i := study.Food(food); i >= 0 {
			return fmt.Sprint(i + 1)
		}
		return food // a code
	}
	switch {
	case d.Eaten != "":
		add("("+number(d.Eaten)+")", "test of "+d.Eaten+", in the log")
	case d.Planned != "" && d.RunIn:
		add("[r]", "run-in test of "+d.Planned)
	case d.Planned != "":
		add("["+number(d.Planned)+"]", "test of "+d.Planned)
	case d.Busy != "":
		add("b", "no test: "+strings.Replace(d.Busy, "on other weekdays", "not a day of the week for tests", 1))
	case d.Washout:
		add("w", "washout")
	case d.NoSensor && d.Sensor > 0:
		add("-", "the sensor has not settled, or ends too early for a test")
	case d.NoSensor:
		add("-", "no sensor")
	}
	if d.SensorSet {
		add("S", fmt.Sprintf("sensor %d is set", d.Sensor))
	}
	if d.Look {
		add("L", "a declared look after this test")
	}
	return marks
}

// MonthLegend explains the signs that occur, one each.
func MonthLegend(study *protocol.Study, days []protocol.Day) (legend []string) {
	has := map[string]bool{}
	for _, d := range days {
		has[">"] = has[">"] || d.Today
		for _, m := range DayMarks(study, d) {
			has[m.Sign[:1]] = true
		}
	}
	var foods []string
	for i, f := range study.Foods {
		foods = append(foods, fmt.Sprintf("%d %s", i+1, f.ID))
	}
	coded := false
	for _, d := range days {
		coded = coded || d.Planned != "" && study.Food(d.Planned) < 0
	}
	add := func(sign, words string) {
		if has[sign[:1]] {
			legend = append(legend, sign+" "+words)
		}
	}
	what := "of food n: " + strings.Join(foods, ", ")
	if coded {
		what = "of the food with code n"
	}
	add("[n]", "a planned test "+what+"; r is the run-in")
	add("(n)", "a test that is in the log, "+what)
	add("w", "washout")
	add("b", "no test can be held: busy, or not a day of the week for tests")
	add("-", "no sensor reads, or it has not settled")
	add("S", "a sensor is set")
	add("L", "a declared look, after that test")
	add(">", "today")
	return legend
}

// A Month is the days of one calendar month, by weeks from Monday on (ISO 8601); nil
// are days that no study day is on.
type Month struct {
	Name  string
	Weeks [][7]*protocol.Day
	First protocol.Date
}

// Months lays days out by months.
func Months(days []protocol.Day) (months []Month) {
	for i := range days {
		d := &days[i]
		year, month := yearMonth(d.Date)
		name := fmt.Sprintf("%s %d", month, year)
		if len(months) == 0 || months[len(months)-1].Name != name {
			months = append(months, Month{Name: name, First: protocol.NewDate(time.Date(year, month, 1, 0, 0, 0, 0, time.UTC))})
		}
		m := &months[len(months)-1]
		offset := (int(m.First.Weekday()) + 6) % 7 // of the 1st in its week
		at := int(d.Date-m.First) + offset
		for len(m.Weeks) <= at/7 {
			m.Weeks = append(m.Weeks, [7]*protocol.Day{})
		}
		m.Weeks[at/7][at%7] = d
	}
	return months
}

// Weekdays are the heads of a month grid.
var Weekdays = [7]string{"Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"}

const dayWidth = 9 // columns of a day on the terminal

// DayNumber is the day of the month of a date.
func DayNumber(d protocol.Date) int {
	_, _, day := time.Unix(int64(d)*86400, 0).UTC().Date()
	return day
}

// Days shows a schedule as month grids.
func Days(w io.Writer, study *protocol.Study, days []protocol.Day) error {
	p := &printer{w: w}
	for _, m := range Months(days) {
		p.line("  %s", m.Name)
		var head strings.Builder
		for _, name := range Weekdays {
			fmt.Fprintf(&head, "%-*s", dayWidth, " "+name)
		}
		p.line("  %s", strings.TrimRight(head.String(), " "))
		for _, week := range m.Weeks {
			var line strings.Builder
			empty := true
			for _, d := range week {
				cell := ""
				if d != nil {
					cell, empty = dayCell(study, *d), false
				}
				fmt.Fprintf(&line, "%-*s", dayWidth, cell)
			}
			if !empty {
				p.line("  %s", strings.TrimRight(line.String(), " "))
			}
		}
		p.line("")
	}
	for _, text := range MonthLegend(study, days) {
		p.line("  %s", text)
	}
	return p.err
}

// dayCell is a day on the terminal: > for today, its number, its marks.
func dayCell(study *protocol.Study, d protocol.Day) string {
	cell := " "
	if d.Today {
		cell = ">"
	}
	cell += fmt.Sprintf("%2d", DayNumber(d.Date))
	for _, m := range DayMarks(study, d) {
		cell += m.Sign
	}
	return cell
}
