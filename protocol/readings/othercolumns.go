package readings

import (
	"fmt"
	"slices"
	"sort"
	"strconv"
	"strings"
	"unicode"

	"mealtrial/protocol/problem"
)

// Words that begin a header's word where the column says what a row is, or
// which sensor it is from, in the languages that exports come in.
var (
	eventWords  = []string{"event", "type", "typ", "kind", "record type", "entry", "ereignis", "art", "tipo", "soort", "évén", "évèn", "händelse"}
	sensorWords = []string{"sensor", "device", "serial", "transmitter", "gerät", "serien", "appareil", "capteur", "dispositi", "apparaat", "enhet"}
	zoneWords   = []string{"zone", "timezone", "offset", "utc", "zeitzone", "fuseau", "huso", "tz"}
)

// namesOne says whether a word of a header begins as one of some words does.
func namesOne(header string, words []string) bool {
	split := func(c rune) bool { return !unicode.IsLetter(c) }
	for _, w := range strings.FieldsFunc(strings.ToLower(header), split) {
		if slices.ContainsFunc(words, func(word string) bool {
			// Short words stand alone: "art" must not find "arterial".
			return w == word || len(word) > 4 && strings.HasPrefix(w, word)
		}) {
			return true
		}
	}
	return false
}

// A census counts the different texts of a column, with and without glucose.
type census struct {
	values, others map[string]int
	empty          int // rows with glucose and nothing here
	tooMany        bool
}

// mostKinds of text in a column that says what a row is.
const mostKinds = 40

func (s *shape) census(columns []int) []census {
	list := make([]census, len(columns))
	for i := range list {
		list[i] = census{values: map[string]int{}, others: map[string]int{}}
	}
	rows := 0
	for r := range s.dataRows {
		if s.time.cell(r.fields) == "" {
			continue
		}
		glucose, _ := s.cell(r.fields)
		for i, column := range columns {
			c, text := &list[i], plainText(at(r.fields, column))
			switch {
			case glucose != "" && text == "":
				c.empty++
			case glucose != "":
				c.values[text]++
			case text != "":
				c.others[text]++
			}
			if len(c.values)+len(c.others) > 2*mostKinds {
				c.tooMany = true
				clear(c.values)
				clear(c.others)
			}
		}
		if rows++; rows >= plentyRows {
			break
		}
	}
	return list
}

// settleOthers finds the columns of events, sensors and zones.
func (s *shape) settleOthers(t *told) *problem.Problem {
	s.zones, s.event, s.sensor, s.atMost, s.atLeast = -1, -1, -1, -1, -1
	s.events = t.mapping.Events
	for _, c := range []struct {
		to    *int
		place place
		key   string
	}{{&s.zones, t.zones, "zone_column"}, {&s.event, t.event, "event_column"}, {&s.sensor, t.sensor, "sensor_column"},
		{&s.atMost, t.atMost, "at_most_column"}, {&s.atLeast, t.atLeast, "at_least_column"}} {
		if !c.place.isTold() {
			continue
		}
		columns, _ := c.place.all(s.names)
		if *c.to = columns[0]; columns[0] >= max(s.width, len(s.names)) {
			return &problem.Problem{File: studyFile, Field: "readings." + c.key, Found: quote(fmt.Sprint(columns[0] + 1)), Expected: fmt.Sprintf("a number from 1 to %d", s.width)}
		}
	}
	if t.mapping.Fixed {
		return nil
	}
	s.settleBoundColumns()
	var columns []int
	for i, name := range s.names {
		if !s.time.has(i) && !slices.Contains(s.glucose, i) && name != "" &&
			(namesOne(name, eventWords) || namesOne(name, sensorWords) || namesOne(name, zoneWords)) {
			columns = append(columns, i)
		}
	}
	if len(columns) == 0 {
		return nil
	}
	list := s.census(columns)
	for k, i := range columns {
		c, name := list[k], s.names[i]
		switch {
		case s.sensor < 0 && t.mapping.Sensor == "" && namesOne(name, sensorWords) && c.namesSensors():
			s.sensor = i
			s.guess("sensor_column")
		case s.zones < 0 && s.layout.kind == wallClock && namesOne(name, zoneWords) && c.namesZones():
			s.zones = i
			s.guess("zone_column")
		case s.event < 0 && len(s.glucose) == 1 && namesOne(name, eventWords) && !c.tooMany && c.empty == 0:
			if p := s.settleEvents(i, c); p != nil {
				return p
			}
		}
	}
	return nil
}

// settleBoundColumns finds columns that a header says to hold bounds.
func (s *shape) settleBoundColumns() {
	for i, name := range s.names {
		if slices.Contains(s.glucose, i) || isRate(name) {
			continue
		}
		name = strings.ReplaceAll(strings.ToLower(name), "_", " ")
		switch {
		case s.atMost < 0 && strings.HasPrefix(name, "at most"):
			s.atMost = i
			s.guess("at_most_column")
		case s.atLeast < 0 && strings.HasPrefix(name, "at least"):
			s.atLeast = i
			s.guess("at_least_column")
		}
	}
}

// bounded gives a bound of its own column as a cell such as <40.
func (s *shape) bounded(fields []string) (cell string, column int) {
	if cell := at(fields, s.atMost); cell != "" {
		return "<" + cell, s.atMost
	}
	if cell := at(fields, s.atLeast); cell != "" {
		return ">" + cell, s.atLeast
	}
	return "", s.glucose[0]
}

// namesSensors: every reading has a text, and there are a few of them.
func (c census) namesSensors() bool {
	const mostSensors = 20
	return !c.tooMany && c.empty == 0 && len(c.values) > 0 && len(c.values) <= mostSensors
}

func (c census) namesZones() bool {
	for text := range c.values {
		if _, ok := zoneNamed(text); !ok {
			return false
		}
	}
	return !c.tooMany && c.empty == 0 && len(c.values) > 0
}

// settleEvents takes a column that says what a row is. Where one kind of event
// alone has glucose, the column is not needed; finger-sticks are left out; more
// than one other kind is a question to the person.
func (s *shape) settleEvents(column int, c census) *problem.Problem {
	var kept, meters []string
	for kind := range c.values {
		if namesMeter(kind) {
			meters = append(meters, kind)
		} else {
			kept = append(kept, kind)
		}
	}
	sort.Strings(kept)
	switch {
	case len(c.values) < 2 || len(kept) == 0 || len(kept) > mostKinds:
		return nil
	case len(kept) > 1 && len(c.others) == 0 && len(meters) == 0:
		// Each row has glucose whatever stands here: a remark, or a trend.
		return nil
	case len(kept) > 1:
		var words []string
		for _, kind := range kept {
			words = append(words, fmt.Sprintf("%s (%d)", quote(kind), c.values[kind]))
		}
		return &problem.Problem{Line: s.headerLine, Field: s.field(column), Found: "glucose in rows of several kinds: " + list(words), Expected: "to be told which are the sensor's",
			Mend: fmt.Sprintf("write for example readings: {event_column: %s, events: [%s]} in %s", s.label(column), strconv.Quote(kept[0]), studyFile)}
	}
	s.event, s.events = column, cloneAll(kept)
	s.guess("event_column")
	sort.Strings(meters)
	s.notes = append(s.notes, fmt.Sprintf("Rows with glucose of the kind %s were taken for those of a finger-stick meter and left out.", list(quoteAll(meters))))
	return nil
}

func quoteAll(texts []string) []string {
	quoted := make([]string, len(texts))
	for i, text := range texts {
		quoted[i] = quote(text)
	}
	return quoted
}
