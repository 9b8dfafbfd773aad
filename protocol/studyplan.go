package protocol

import (
	"fmt"
	"strconv"

	"mealtrial/protocol/readings"
	"mealtrial/protocol/yamldoc"
)

// largestSeed is the largest whole number that every reader of JSON keeps exactly.
const largestSeed = 1<<53 - 1

func readPlan(n yamldoc.Node) *Plan {
	m := n.Map("start", "until", "repeats", "washout", "weekdays", "busy", "time", "seed")
	p := &Plan{line: n.Line(), Time: defaultTime}
	var hasStart, hasUntil bool
	p.Start, hasStart = readDate(m["start"])
	p.Until, hasUntil = readDate(m["until"])
	if !m["start"].Present() {
		n.Reject("no start", "the first possible test day", "write for example start: 2027-01-11")
	}
	if !m["until"].Present() {
		n.Reject("no until", "the last possible test day", "write for example until: 2027-02-12")
	}
	if hasStart && hasUntil && p.Until < p.Start {
		m["until"].Reject(m["until"].Found(), fmt.Sprintf("a date on or after the start, %s", p.Start), "swap the dates or mend the year")
	}
	const longest = 3660
	if hasStart && hasUntil && p.Until-p.Start > longest {
		m["until"].Reject(m["until"].Found(), "a date within ten years of the start", "mend the year")
	}
	p.Repeats = m["repeats"].Whole(1, defaultRepeats)
	p.Washout = m["washout"].Whole(0, defaultWashout)
	p.Weekdays = readWeekdays(m["weekdays"])
	p.Busy = readRanges(m["busy"])
	if c, ok := readClock(m["time"]); ok {
		p.Time = c
	}
	p.Seed = readSeed(m["seed"])
	return p
}

func readSeed(n yamldoc.Node) uint64 {
	text := n.Text()
	if text == "" {
		return 0
	}
	seed, err := strconv.ParseUint(text, 10, 64)
	if err != nil || seed == 0 || seed > largestSeed {
		n.Reject(n.Found(), fmt.Sprintf("a whole number from 1 to %d", uint64(largestSeed)), "")
		return 0
	}
	return seed
}

func readMapping(n yamldoc.Node) readings.Mapping {
	m := n.Map("delimiter", "decimal", "time_column", "time_layout", "glucose_column", "unit", "zone")
	mapping := readings.Mapping{
		TimeColumn:    m["time_column"].Text(),
		TimeLayout:    m["time_layout"].Text(),
		GlucoseColumn: m["glucose_column"].Text(),
		Unit:          readUnit(m["unit"]),
	}
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

func readSafety(n yamldoc.Node) Safety {
	m := n.Map("glucose_lowering_medication", "pregnancy", "eating_disorder", "ketoacidosis_before", "advised_by")
	return Safety{
		GlucoseLoweringMedication: m["glucose_lowering_medication"].YesNo(),
		Pregnancy:                 m["pregnancy"].YesNo(),
		EatingDisorder:            m["eating_disorder"].YesNo(),
		KetoacidosisBefore:        m["ketoacidosis_before"].YesNo(),
		AdvisedBy:                 m["advised_by"].Text(),
		line:                      n.Line(),
	}
}
