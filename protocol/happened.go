package protocol

import (
	"fmt"
	"regexp"
	"strings"

	"mealtrial/protocol/yamldoc"
)

// A Happening is something that the log says happened around a test.
type Happening struct {
	Time Clock
	What string // eating, exercise or other
	Note string
}

// What may happen.
const (
	Eating   = "eating"
	Exercise = "exercise"
	Other    = "other"
)

var happeningText = regexp.MustCompile(`^(\d{1,2}:\d{2}) +(\pL+)(?: *: *(.+)| +(.+))?$`)

const happeningExpected = "a time of day, then eating, exercise or other, then if you like a note, such as \"08:10 exercise: ran for the bus\""

// readHappened takes over what happened; an addition adds to what is there.
func (t *Test) readHappened(n yamldoc.Node, adding bool) {
	if !n.Present() && !n.Null() {
		return
	}
	var all []Happening
	if adding {
		all = append(all, t.Happened...)
	}
	for _, item := range n.List() {
		m := happeningText.FindStringSubmatch(item.Text())
		if m == nil {
			item.Reject(item.Found(), happeningExpected, "")
			continue
		}
		c, err := ParseClock(m[1])
		what := strings.ToLower(m[2])
		if err != nil || what != Eating && what != Exercise && what != Other {
			item.Reject(item.Found(), happeningExpected, yamldoc.DidYouMean(what, []string{Eating, Exercise, Other}))
			continue
		}
		all = append(all, Happening{c, what, strings.TrimSpace(m[3] + m[4])})
	}
	t.Happened = all
}

// Words says what happened and when.
func (h Happening) Words() string {
	text := fmt.Sprintf("%s at %s", h.What, h.Time)
	if h.Note != "" {
		text += " (" + h.Note + ")"
	}
	return text
}
