package readings

import (
	"errors"
	"math"
	"strings"
	"sync"
	"time"
)

type layoutKind int8

const (
	wallClock   layoutKind = iota // needs a zone
	withOffset                    // tells an instant
	rfc3339                       // tells an instant, in one of four forms
	epoch                         // seconds since 1970-01-01T00:00:00Z
	epochMillis                   // thousandths of them
	withZone                      // ends in a zone of the IANA database
)

// A timeLayout is one way to write a time.
type timeLayout struct {
	pattern string // as in Mapping.TimeLayout
	layout  string // of package time; for wallClock and withOffset
	kind    layoutKind
	halves  bool   // hours 1 to 12 with AM or PM
	rival   string // the pattern with day and month exchanged, where both may be meant
	mark    byte   // that follows the first digits; 0: not known
	fixed   *fixedLayout
}

// newLayout reads a Mapping.TimeLayout.
func newLayout(pattern string) (timeLayout, error) {
	switch strings.ToLower(pattern) {
	case "rfc3339":
		return timeLayout{pattern: "rfc3339", kind: rfc3339}, nil
	case "epoch":
		return timeLayout{pattern: "epoch", kind: epoch}, nil
	case "epoch-ms":
		return timeLayout{pattern: "epoch-ms", kind: epochMillis}, nil
	}
	if wall, ok := strings.CutSuffix(pattern, zoneSuffix); ok {
		l, err := parsePattern(wall)
		if err == nil && l.kind == withOffset {
			err = errors.New("with both an offset and a zone")
		}
		l.pattern, l.kind = pattern, withZone
		return l, err
	}
	return parsePattern(pattern)
}

// zoneSuffix is the letter of a zone's name, after a blank.
const zoneSuffix = " VV"

// guessable are the layouts that are tried where none is told; of two that read
// a file equally well the earlier is reported.
var guessable = sync.OnceValue(func() []timeLayout {
	// Each date with its rival, if any.
	dates := [][2]string{
		{"yyyy-MM-dd"}, {"yyyy/MM/dd"}, {"yyyy.MM.dd"}, {"yyyyMMdd"}, {"dd.MM.yyyy"}, {"d.M.yyyy"},
		{"dd/MM/yyyy", "MM/dd/yyyy"}, {"MM/dd/yyyy", "dd/MM/yyyy"}, {"d/M/yyyy", "M/d/yyyy"}, {"M/d/yyyy", "d/M/yyyy"},
		{"dd-MM-yyyy", "MM-dd-yyyy"}, {"MM-dd-yyyy", "dd-MM-yyyy"}, {"d-M-yyyy", "M-d-yyyy"}, {"M-d-yyyy", "d-M-yyyy"},
		{"yyyy/M/d"}, {"dd-MMM-yyyy"}, {"dd MMM yyyy"}, {"d MMM yyyy"}, {"MMM d yyyy"}, {"MMM d, yyyy"},
		{"dd.MM.yy"}, {"d.M.yy"}, {"dd/MM/yy", "MM/dd/yy"}, {"MM/dd/yy", "dd/MM/yy"}, {"d/M/yy", "M/d/yy"}, {"M/d/yy", "d/M/yy"},
		{"dd-MM-yy", "MM-dd-yy"}, {"MM-dd-yy", "dd-MM-yy"},
	}
	clocks := []string{"HH:mm:ss", "HH:mm", "hh:mm:ss a", "hh:mm a", "h:mm:ss a", "h:mm a", "h:mm:ssa", "h:mma"}
	patterns := [][2]string{{"rfc3339"}, {"yyyy-MM-dd HH:mm:ssXX"}, {"yyyy-MM-dd'T'HH:mm:ssXX"}, {"yyyy-MM-dd HH:mm:ss XXX"}, {"yyyy-MM-dd HH:mm:ss XX"},
		{"yyyy-MM-dd HH:mm:ss VV"}, {"yyyy-MM-dd HH:mm VV"}, {"yyyy-MM-dd'T'HH:mm:ss VV"}}
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
	layouts := make([]timeLayout, 0, len(patterns)+epochLayouts)
	for _, p := range append(patterns, [2]string{"epoch"}, [2]string{"epoch-ms"}) {
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
	if l.fixed != nil && l.kind != withZone {
		if t, ok := l.fixed.parse(cell); ok {
			return t, true
		}
	}
	switch {
	case l.kind == epoch:
		return parseEpoch(cell)
	case l.kind == epochMillis:
		return parseEpochMillis(cell)
	case l.kind == withZone:
		return l.parseZoned(cell)
	case l.kind == rfc3339:
		return parseRFC3339(cell)
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

var rfc3339Clock, _ = newFixedLayout("2006-01-02T15:04:05")

// parseRFC3339 also reads what some exports make of the standard: seconds
// missing. The standard itself lets a blank stand for the T, and small letters
// for T and Z.
func parseRFC3339(cell string) (time.Time, bool) {
	if len(cell) < len("2006-01-02T15:04Z") || !strings.Contains("Tt ", cell[10:11]) {
		return time.Time{}, false
	}
	if cell[10] == 'T' && len(cell) == len("2006-01-02T15:04:05Z") && cell[19] == 'Z' {
		if t, ok := rfc3339Clock.parse(cell[:19]); ok {
			return t, true
		}
	}
	layout := cell[10:11] + "15:04:05Z07:00"
	if cell[16] != ':' {
		layout = cell[10:11] + "15:04Z07:00"
	}
	if last := len(cell) - 1; cell[last] == 'z' {
		cell = cell[:last] + "Z"
	}
	t, err := time.Parse("2006-01-02"+layout, cell)
	return t, err == nil
}

// parseZoned reads a wall-clock time before the name of its zone. In an hour
// that the clock repeats the first pass is meant, as nothing tells more.
func (l timeLayout) parseZoned(cell string) (time.Time, bool) {
	i := strings.LastIndexByte(cell, ' ')
	if i < 0 {
		return time.Time{}, false
	}
	zone, ok := zoneNamed(cell[i+1:])
	if !ok {
		return time.Time{}, false
	}
	l.kind = wallClock
	wall, ok := l.parse(cell[:i])
	if !ok {
		return time.Time{}, false
	}
	if found, n := instants(wall, zone); n > 0 {
		return found[0].UTC(), true
	}
	return asClock(wall, zone).UTC(), true
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

func parseEpochMillis(cell string) (time.Time, bool) {
	x, ok := number(cell, '.')
	if !ok || x < earliestEpoch*1000 || x >= latestEpoch*1000 {
		return time.Time{}, false
	}
	return time.UnixMicro(int64(math.Round(x * 1000))).UTC(), true
}

// guessableTime sorts out, at little cost, what no guessable layout reads. A
// number counts as epoch seconds only from 2001-09-09 to 2286, where it has ten
// digits, and as thousandths where it has thirteen.
func guessableTime(cell string, l layoutKind) bool {
	if len(cell) < len("1/2/2006") || len(cell) > 60 {
		return false
	}
	if cell[0] < '0' || cell[0] > '9' {
		// The name of a month, and a year and a time of day after it.
		return l == wallClock && 'A' <= cell[0] && cell[0] <= 'Z' && len(cell) > len("Jan 2 2006") && strings.IndexByte(cell, ':') > 0
	}
	if l == epoch || l == epochMillis {
		whole, _, _ := strings.Cut(cell, ".")
		return (l == epoch && len(whole) == 10 || l == epochMillis && len(whole) == 13) && strings.Trim(whole, "0123456789") == ""
	}
	return strings.IndexByte(cell, ':') > 0
}

// epochLayouts are the last of the guessable ones.
const epochLayouts = 2

func (l timeLayout) isEpoch() bool { return l.kind == epoch || l.kind == epochMillis }
