package readings

import (
	"math"
	"strings"
	"sync"
	"time"
)

type layoutKind int8

const (
	wallClock  layoutKind = iota // needs a zone
	withOffset                   // tells an instant
	rfc3339                      // tells an instant, in one of four forms
	epoch                        // seconds since 1970-01-01T00:00:00Z
)

// A timeLayout is one way to write a time.
type timeLayout struct {
	pattern string // as in Mapping.TimeLayout
	layout  string // of package time; for wallClock and withOffset
	kind    layoutKind
	halves  bool   // hours 1 to 12 with AM or PM
	rival   string // the pattern with day and month exchanged, where both may be meant
	mark    byte   // that follows the first digits; 0: not known
}

// newLayout reads a Mapping.TimeLayout.
func newLayout(pattern string) (timeLayout, error) {
	switch strings.ToLower(pattern) {
	case "rfc3339":
		return timeLayout{pattern: "rfc3339", kind: rfc3339}, nil
	case "epoch":
		return timeLayout{pattern: "epoch", kind: epoch}, nil
	}
	return parsePattern(pattern)
}

// guessable are the layouts that are tried where none is told; of two that read
// a file equally well the earlier is reported.
var guessable = sync.OnceValue(func() []timeLayout {
	// Each date with its rival, if any.
	dates := [][2]string{
		{"yyyy-MM-dd"}, {"yyyy/MM/dd"}, {"yyyy.MM.dd"}, {"yyyyMMdd"}, {"dd.MM.yyyy"}, {"d.M.yyyy"},
		{"dd/MM/yyyy", "MM/dd/yyyy"}, {"MM/dd/yyyy", "dd/MM/yyyy"}, {"d/M/yyyy", "M/d/yyyy"}, {"M/d/yyyy", "d/M/yyyy"},
		{"dd-MM-yyyy", "MM-dd-yyyy"}, {"MM-dd-yyyy", "dd-MM-yyyy"}, {"d-M-yyyy", "M-d-yyyy"}, {"M-d-yyyy", "d-M-yyyy"},
		{"yyyy/M/d"}, {"dd-MMM-yyyy"}, {"dd MMM yyyy"},
	}
	clocks := []string{"HH:mm:ss", "HH:mm", "hh:mm:ss a", "hh:mm a", "h:mm:ss a", "h:mm a", "h:mm:ssa", "h:mma"}
	patterns := [][2]string{{"rfc3339"}, {"yyyy-MM-dd HH:mm:ssXX"}, {"yyyy-MM-dd'T'HH:mm:ssXX"}, {"yyyy-MM-dd HH:mm:ss XXX"}, {"yyyy-MM-dd HH:mm:ss XX"}}
	for _, between := range []string{" ", "'T'", ", "} {
		for _, date := range dates {
			for _, clock := range clocks {
				p := [2]string{date[0] + between + clock}
				if date[1] != "" {
					p[1] = date[1] + between + clock
				}
				patterns = append(patterns, p)
			}
		}
	}
	layouts := make([]timeLayout, 0, len(patterns)+1)
	for _, p := range append(patterns, [2]string{"epoch"}) {
		l, err := newLayout(p[0])
		if err != nil {
			panic("readings: bad built-in pattern " + p[0])
		}
		l.rival = p[1]
		if l.layout != "" {
			l.mark = firstMark(l.layout)
		}
		layouts = append(layouts, l)
	}
	return layouts
})

// parse reads a cell. A wall-clock time comes back as if it were UTC.
func (l timeLayout) parse(cell string) (time.Time, bool) {
	layout := l.layout
	switch {
	case l.kind == epoch:
		return parseEpoch(cell)
	case l.kind == rfc3339:
		// Seconds are missing in the forms of some exports, and the standard lets a
		// blank stand for the T, and small letters for T and Z.
		if len(cell) < len("2006-01-02T15:04Z") {
			return time.Time{}, false
		}
		layout = cell[10:11] + "15:04:05Z07:00"
		if cell[16] != ':' {
			layout = cell[10:11] + "15:04Z07:00"
		}
		if !strings.Contains("Tt ", cell[10:11]) {
			return time.Time{}, false
		}
		layout = "2006-01-02" + layout
		if last := len(cell) - 1; cell[last] == 'z' {
			cell = cell[:last] + "Z"
		}
	case l.mark != 0 && l.mark != firstMark(cell):
		return time.Time{}, false // saves most of the time that guessing takes
	case l.halves:
		if cell == "" || strings.IndexByte("Mm.", cell[len(cell)-1]) < 0 {
			return time.Time{}, false
		}
		cell = plainHalves(cell)
	}
	t, err := time.Parse(layout, cell)
	return t, err == nil
}

// firstMark is the first byte that is no digit, or 0.
func firstMark(s string) byte {
	for i := range len(s) {
		if s[i] < '0' || s[i] > '9' {
			return s[i]
		}
	}
	return 0
}

// halvesReplacer undoes the narrow blanks and the points that some locales
// write around AM and PM.
var halvesReplacer = strings.NewReplacer("\u00a0", " ", "\u202f", " ", "A.M.", "AM", "P.M.", "PM", "A. M.", "AM", "P. M.", "PM")

func plainHalves(cell string) string {
	if strings.HasSuffix(cell, " AM") || strings.HasSuffix(cell, " PM") {
		return cell
	}
	return halvesReplacer.Replace(strings.ToUpper(halvesReplacer.Replace(cell)))
}

// Seconds from 1973, before which there were no sensors, to 5138, beyond which a
// number is milliseconds.
const earliestEpoch, latestEpoch = 1e8, 1e11

func parseEpoch(cell string) (time.Time, bool) {
	x, ok := number(cell, '.')
	if !ok || x < earliestEpoch || x >= latestEpoch {
		return time.Time{}, false
	}
	whole, part := math.Modf(x)
	return time.Unix(int64(whole), int64(math.Round(part*1e6))*1000).UTC(), true
}

// guessableTime sorts out, at little cost, what no guessable layout reads. A
// number counts as epoch seconds only from 2001-09-09 to 2286, where it has ten
// digits.
func guessableTime(cell string, l layoutKind) bool {
	if len(cell) < len("1/2/2006") || len(cell) > 40 || cell[0] < '0' || cell[0] > '9' {
		return false
	}
	if l == epoch {
		whole, _, _ := strings.Cut(cell, ".")
		return len(whole) == 10 && strings.Trim(whole, "0123456789") == ""
	}
	return strings.IndexByte(cell, ':') > 0
}
