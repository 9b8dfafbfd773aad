package view

import (
	"fmt"
	"strings"
	"time"

	"mealtrial/protocol"
)

// months shows the schedule as month grids, Monday first (ISO 8601). A test day
// bears the number of its food, explained below the grid.
func (p *printer) months(study *protocol.Study, s *protocol.Schedule) {
	on := map[protocol.Date]string{}
	masked, runIn := s.Masked && s.Unmasked == "", ""
	for _, t := range s.Tests {
		on[t.Date] = t.Food // a code, in a masked schedule
		if !masked {
			on[t.Date] = fmt.Sprint(study.Food(t.Food) + 1)
		}
		if t.RunIn {
			on[t.Date], runIn = "r", " [r] is a run-in test of the reference."
		}
	}
	first, last := s.Tests[0].Date, s.Tests[len(s.Tests)-1].Date
	year, month := yearMonth(first)
	for {
		start := protocol.NewDate(time.Date(year, month, 1, 0, 0, 0, 0, time.UTC))
		if start > last {
			break
		}
		p.month(start, on)
		month++
		if month > time.December {
			year, month = year+1, time.January
		}
	}
	if masked {
		p.line("  [x] is a test of the food with code x.%s", runIn)
		return
	}
	var legend []string
	for i, f := range study.Foods {
		legend = append(legend, fmt.Sprintf("%d %s", i+1, f.ID))
	}
	p.line("  [n] is a test of food n: %s.%s", strings.Join(legend, ", "), runIn)
}

func yearMonth(d protocol.Date) (int, time.Month) {
	t := time.Unix(int64(d)*86400, 0).UTC()
	return t.Year(), t.Month()
}

func (p *printer) month(start protocol.Date, on map[protocol.Date]string) {
	year, month := yearMonth(start)
	p.line("  %s %d", month, year)
	p.line("  Mon    Tue    Wed    Thu    Fri    Sat    Sun")
	var line strings.Builder
	line.WriteString(strings.Repeat(" ", 7*((int(start.Weekday())+6)%7)))
	for d := start; ; d++ {
		if _, m := yearMonth(d); m != month {
			break
		}
		day := fmt.Sprintf("%2d", int(d-start)+1)
		if food, ok := on[d]; ok {
			day += "[" + food + "]"
		}
		fmt.Fprintf(&line, "%-7s", day)
		if d.Weekday() == time.Sunday {
			p.line("  %s", strings.TrimRight(line.String(), " "))
			line.Reset()
		}
	}
	if line.Len() > 0 {
		p.line("  %s", strings.TrimRight(line.String(), " "))
	}
	p.line("")
}
