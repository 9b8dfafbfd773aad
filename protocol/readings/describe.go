package readings

import (
	"slices"
	"strconv"
	"strings"
)

// Where a part of a Mapping is from.
const (
	FromStudyFile = "study file"
	FromTheFile   = "said by the file"
	FromContent   = "guessed"
)

// A Part is one key of the Mapping of a file and its value.
type Part struct {
	Key    string   // as in the study file
	Value  string   // as a person writes it
	Values []string // of events alone
	Origin string
}

// Parts gives how a file was read, key by key in the order of the study file,
// without those that the file has nothing of. FHIR says all of it itself.
func (s *Set) Parts(i int) []Part {
	f, r := s.files[i], s.files[i].report
	m := f.told.mapping
	var parts []Part
	add := func(key, value, told string) {
		if value == "" {
			return
		}
		p := Part{Key: key, Value: value, Origin: FromTheFile}
		switch {
		case told != "":
			p.Origin = FromStudyFile
		case slices.Contains(r.Guessed, key):
			p.Origin = FromContent
		}
		parts = append(parts, p)
	}
	if f.shape != nil {
		add("delimiter", r.Delimiter, m.Delimiter)
		add("decimal", r.Decimal, m.Decimal)
		add("time_column", r.TimeColumn, m.TimeColumn)
		add("time_layout", r.TimeLayout, m.TimeLayout)
		if m.Zone != nil {
			add("zone", r.Zone, r.Zone)
		}
		add("zone_column", r.ZoneColumn, m.ZoneColumn)
		add("glucose_column", r.GlucoseColumn, m.GlucoseColumn)
	}
	add("unit", string(r.Unit), string(m.Unit))
	if len(r.Events) > 0 {
		add("event_column", r.EventColumn, m.EventColumn)
		add("events", strings.Join(r.Events, ", "), m.EventColumn)
		parts[len(parts)-1].Values = r.Events
		parts[len(parts)-1].Origin = parts[len(parts)-2].Origin
	}
	add("sensor_column", r.SensorColumn, m.SensorColumn)
	add("sensor", m.Sensor, m.Sensor)
	add("at_most_column", r.AtMostColumn, m.AtMostColumn)
	add("at_least_column", r.AtLeastColumn, m.AtLeastColumn)
	add("lowest", limitText(r.Lowest), limitText(m.Lowest))
	add("highest", limitText(r.Highest), limitText(m.Highest))
	return parts
}

// IsTable tells whether a file is a table, and not FHIR.
func (s *Set) IsTable(i int) bool { return s.files[i].shape != nil }

func limitText(x float64) string {
	if x == 0 {
		return ""
	}
	return strconv.FormatFloat(x, 'f', -1, 64)
}
