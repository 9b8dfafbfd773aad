package protocol

import (
	"mealtrial/protocol/readings"
	"mealtrial/protocol/yamldoc"
)

// mappingKeys are the keys of "readings" in the study file, in the order in
// which they are written.
var mappingKeys = []string{"fixed", "delimiter", "decimal", "time_column", "time_layout", "zone", "zone_column", "glucose_column", "unit",
	"event_column", "events", "sensor_column", "sensor", "at_most_column", "at_least_column", "lowest", "highest"}

// readMapping reads how the sensor's files are laid out.
func readMapping(n yamldoc.Node) readings.Mapping {
	m := n.Map(append(mappingKeys[:len(mappingKeys):len(mappingKeys)], "files")...)
	mapping := readOneMapping(m)
	for _, pair := range m["files"].Pairs() {
		mapping.Files = append(mapping.Files, readings.FileMapping{Pattern: pair.Key, Line: pair.Line, Mapping: readOneMapping(pair.Value.Map(mappingKeys...))})
	}
	return mapping
}

func readOneMapping(m map[string]yamldoc.Node) readings.Mapping {
	mapping := readings.Mapping{
		Fixed:         m["fixed"].YesNo(),
		TimeColumn:    m["time_column"].Text(),
		TimeLayout:    m["time_layout"].Text(),
		GlucoseColumn: m["glucose_column"].Text(),
		Unit:          readUnit(m["unit"]),
		ZoneColumn:    m["zone_column"].Text(),
		EventColumn:   m["event_column"].Text(),
		SensorColumn:  m["sensor_column"].Text(),
		Sensor:        m["sensor"].Text(),
		AtMostColumn:  m["at_most_column"].Text(),
		AtLeastColumn: m["at_least_column"].Text(),
	}
	for _, item := range m["events"].List() {
		mapping.Events = append(mapping.Events, item.Text())
	}
	const limit = "a reporting limit of the sensor, above 0, in the unit of the file"
	readLimit := func(n yamldoc.Node) float64 {
		x, ok := n.Number(limit)
		if ok && x <= 0 {
			n.Reject(n.Found(), limit, "")
		}
		return x
	}
	mapping.Lowest, mapping.Highest = readLimit(m["lowest"]), readLimit(m["highest"])
	if m["delimiter"].Present() {
		mapping.Delimiter = m["delimiter"].OneOf(",", ";", "tab", "|")
	}
	if m["decimal"].Present() {
		mapping.Decimal = m["decimal"].OneOf(".", ",")
	}
	if zone, named := readZone(m["zone"]); named {
		mapping.Zone = zone
	}
	return mapping
}
