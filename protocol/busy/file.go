package busy

import (
	"fmt"
	"strings"
)

// maxDepth bounds how deep components may be nested; RFC 5545 needs three.
const maxDepth = 16

// A component is the properties of a VEVENT, STANDARD or DAYLIGHT that matter.
type component struct {
	name  string
	line  int
	props []property
}

// A zoneText is a VTIMEZONE as written (RFC 5545 section 3.6.5).
type zoneText struct {
	line        int
	tzid        string
	observances []component
}

// A file is what the lines of a file hold, before any value is read.
type file struct {
	events []component
	zones  map[string]*zoneText
	notes  *notes
}

// kept names the properties that bear on when somebody is busy. Others, even
// broken ones, are not looked at.
var kept = map[string]bool{
	"DTSTART": true, "DTEND": true, "DURATION": true, "RRULE": true, "RDATE": true,
	"EXDATE": true, "EXRULE": true, "RECURRENCE-ID": true, "UID": true, "SEQUENCE": true,
	"STATUS": true, "TRANSP": true, "SUMMARY": true,
	"TZOFFSETFROM": true, "TZOFFSETTO": true,
}

// A fileReader follows the nesting of components.
type fileReader struct {
	file   file
	faults *faults
	open   []component // from the outermost inwards
	zone   *zoneText   // the VTIMEZONE being read
	seen   bool        // a VCALENDAR
	lost   bool        // the nesting is broken: what follows means nothing
}

func readFile(text string, faults *faults) file {
	r := &fileReader{faults: faults, file: file{zones: map[string]*zoneText{}, notes: &notes{}}}
	eachLine(text, faults, func(p property) {
		if !r.lost {
			r.take(p)
		}
	})
	if r.lost {
		return r.file
	}
	if n := len(r.open); n > 0 {
		r.faults.add(r.open[n-1].line, "", mistake{
			found:    "BEGIN:" + printable(r.open[n-1].name) + " without its END",
			expected: "END:" + printable(r.open[n-1].name) + " before the end of the file",
			mend:     "export the calendar again, the file seems cut off",
		})
	} else if !r.seen && !r.faults.lines {
		r.faults.add(0, "", mistake{found: "no VCALENDAR", expected: "a file that begins with BEGIN:VCALENDAR", mend: "export the calendar as iCalendar"})
	}
	return r.file
}

func (r *fileReader) take(p property) {
	switch p.name {
	case "BEGIN":
		r.begin(component{name: strings.ToUpper(strings.TrimSpace(p.value)), line: p.line})
	case "END":
		r.end(p)
	default:
		r.keep(p)
	}
}

func (r *fileReader) begin(c component) {
	inside := r.inside()
	if (c.name == "VCALENDAR") != (inside == "") {
		r.lose(c.line, mistake{found: quote("BEGIN:" + c.name), expected: "components inside one BEGIN:VCALENDAR", mend: "export the calendar again"})
		return
	}
	if len(r.open) == maxDepth {
		r.lose(c.line, mistake{found: fmt.Sprintf("more than %d components inside each other", maxDepth), expected: "END lines", mend: "export the calendar again"})
		return
	}
	r.open = append(r.open, c)
	r.seen = true
	switch {
	case c.name == "VTIMEZONE" && inside == "VCALENDAR":
		r.zone = &zoneText{line: c.line}
	case inside == "VCALENDAR" && c.name != "VEVENT":
		r.file.notes.other++
	}
}

func (r *fileReader) end(p property) {
	name := strings.ToUpper(strings.TrimSpace(p.value))
	inside := r.inside()
	if name != inside || inside == "" {
		expected := "BEGIN:VCALENDAR first"
		if inside != "" {
			expected = "END:" + printable(inside)
		}
		r.lose(p.line, mistake{found: quote("END:" + name), expected: expected, mend: "export the calendar again"})
		return
	}
	c := r.open[len(r.open)-1]
	r.open = r.open[:len(r.open)-1]
	switch outside := r.inside(); {
	case name == "VEVENT" && outside == "VCALENDAR":
		r.file.events = append(r.file.events, c)
	case name == "VTIMEZONE" && outside == "VCALENDAR":
		if _, known := r.file.zones[r.zone.tzid]; !known {
			r.file.zones[r.zone.tzid] = r.zone
		}
		r.zone = nil
	case (name == "STANDARD" || name == "DAYLIGHT") && outside == "VTIMEZONE" && r.zone != nil:
		r.zone.observances = append(r.zone.observances, c)
	}
}

func (r *fileReader) keep(p property) {
	switch inside := r.inside(); inside {
	case "":
		r.lose(p.line, mistake{found: quote(p.name), expected: "BEGIN:VCALENDAR first", mend: "export the calendar as iCalendar"})
	case "VCALENDAR":
		if p.name == "CALSCALE" && !strings.EqualFold(strings.TrimSpace(p.value), "GREGORIAN") {
			r.faults.add(p.line, p.name, mistake{found: quote(p.value), expected: "GREGORIAN", mend: "export the calendar with Gregorian dates"})
		}
	case "VTIMEZONE":
		if p.name == "TZID" && r.zone != nil {
			r.zone.tzid = p.value
			if strings.Contains(p.value, `\`) {
				r.zone.tzid = unescape(p.value) // a TEXT here, but none as a parameter
			}
		}
	case "VEVENT", "STANDARD", "DAYLIGHT":
		if kept[p.name] {
			c := &r.open[len(r.open)-1]
			if c.props == nil {
				c.props = make([]property, 0, 8) // most events have fewer
			}
			c.props = append(c.props, p)
		}
	}
}

// inside returns the name of the innermost open component.
func (r *fileReader) inside() string {
	if len(r.open) == 0 {
		return ""
	}
	return r.open[len(r.open)-1].name
}

func (r *fileReader) lose(line int, m mistake) {
	r.faults.add(line, "", m)
	r.lost = true
}
