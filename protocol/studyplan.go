package protocol

import (
	"fmt"
	"io/fs"
	"slices"
	"strconv"
	"strings"
	"time"

	"mealtrial/protocol/label"
	"mealtrial/protocol/yamldoc"
)

// LargestSeed is the largest whole number that every reader of JSON keeps exactly.
const LargestSeed = 1<<53 - 1

var planKeys = []string{"start", "until", "repeats", "washout", "washout_after", "washout_before", "weekdays", "per_week",
	"busy", "filming", "time", "tolerance", "fast", "block_size", "sensors", "straddle", "reference_per_block", "run_in",
	"carry_over", "trend", "consecutive", "seed"}

func (s *Study) readPlan(n yamldoc.Node) *Plan {
	m := n.Map(planKeys...)
	p := &Plan{line: n.Line(), Time: defaultTime}
	p.readDates(n, m)
	p.Repeats = m["repeats"].Whole(1, mostRepeats, defaultRepeats)
	p.Washout = m["washout"].Whole(0, mostDays, defaultWashout)
	p.After = s.readByFood(m["washout_after"])
	p.Before = s.readByFood(m["washout_before"])
	p.Weekdays = readWeekdays(m["weekdays"])
	p.PerWeek = m["per_week"].Whole(1, 7, 0)
	p.readBusy(m["busy"])
	p.readFilming(m["filming"])
	if c, ok := readClock(m["time"]); ok {
		p.Time = c
	}
	p.Tolerance = readMinutes(m["tolerance"], 0)
	p.Fast = readMinutes(m["fast"], defaultFast)
	p.BlockSize = m["block_size"].Whole(2, mostRepeats, 0)
	p.Sensors = s.readSensors(m["sensors"])
	p.Straddle = m["straddle"].YesNo()
	p.ReferenceMax = m["reference_per_block"].Whole(1, 5, 1)
	if p.BlockSize > 0 && p.ReferenceMax >= p.BlockSize {
		m["reference_per_block"].Reject(fmt.Sprintf("%d in blocks of %d", p.ReferenceMax, p.BlockSize), "fewer than the block holds, as another food has to stand beside the reference", "write a larger block_size")
	}
	p.RunIn = m["run_in"].Whole(0, 30, 0)
	p.CarryOver = m["carry_over"].OneOf("any", "balanced") == "balanced"
	p.Trend = m["trend"].OneOf("any", "balanced") == "balanced"
	p.Consecutive = m["consecutive"].OneOf("avoided", "allowed") == "allowed"
	p.Seed = readSeed(m["seed"])
	return p
}

const longestPlan = 3660 // days

func (p *Plan) readDates(n yamldoc.Node, m map[string]yamldoc.Node) {
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
	if hasStart && hasUntil && p.Until-p.Start > longestPlan {
		m["until"].Reject(m["until"].Found(), "a date within ten years of the start", "mend the year")
	}
}

// readFilming reads the days on which a test is wanted.
func (p *Plan) readFilming(n yamldoc.Node) {
	for _, r := range readRanges(n) {
		if r.First < p.Start || r.Last > p.Until {
			n.Reject(fmt.Sprintf("days from %s to %s", r.First, r.Last), fmt.Sprintf("days from the start, %s, to until, %s", p.Start, p.Until), "")
			return
		}
		for d := r.First; d <= r.Last; d++ {
			p.Filming = append(p.Filming, d)
		}
	}
	slices.Sort(p.Filming)
	p.Filming = slices.Compact(p.Filming)
}

// Limits of what a person can mean; beyond them a typing error is likelier.
const (
	mostRepeats = 100
	mostDays    = 60
)

// readByFood reads days by food, such as {wheat: 2}.
func (s *Study) readByFood(n yamldoc.Node) map[string]int {
	if !n.Present() {
		return nil
	}
	days := map[string]int{}
	for id, value := range n.Map(s.foodIDs()...) {
		days[id] = value.Whole(0, mostDays, 0)
	}
	return days
}

// readBusy reads dates, ranges, and names of calendar files in the study folder.
func (p *Plan) readBusy(n yamldoc.Node) {
	for _, item := range n.List() {
		name := item.Text()
		if !strings.HasSuffix(strings.ToLower(name), ".ics") {
			p.Busy = append(p.Busy, readRanges(item)...)
			continue
		}
		if !fs.ValidPath(name) {
			item.Reject(item.Found(), "a calendar file inside the study folder", "copy the file into the folder and write its name alone")
			continue
		}
		p.Calendars = append(p.Calendars, name)
	}
}

const defaultSettle = 24 * 60 // minutes; sensors read least well on their first day, Shah et al. 2018, Diabetes Technol Ther 20:428

// readSensors reads the lives of sensors. One entry with "count" stands for
// several, each set when the one before ends.
func (s *Study) readSensors(n yamldoc.Node) []Sensor {
	var sensors []Sensor
	for _, item := range n.List() {
		m := item.Map("start", "days", "settle", "count")
		start, err := time.ParseInLocation("2006-01-02 15:04", m["start"].Text(), s.Zone)
		if err != nil {
			item.Reject("start "+m["start"].Found(), "when the sensor is set, such as 2027-01-10 18:00", "write for example {start: 2027-01-10 18:00, days: 14}")
			continue
		}
		life, ok := m["days"].Number("days of life above zero")
		if !ok || life <= 0 || life > 366 {
			item.Reject("days "+m["days"].Found(), "the sensor's days of life, up to 366", "write for example days: 14")
			continue
		}
		settle := float64(defaultSettle)
		if m["settle"].Present() && m["settle"].Text() != "0" {
			settle = readMinutes(m["settle"], defaultSettle)
		} else if m["settle"].Present() {
			settle = 0
		}
		for range m["count"].Whole(1, mostRepeats, 1) {
			sensors = append(sensors, Sensor{Start: start, Life: life, Settle: settle})
			start = start.Add(time.Duration(life * 24 * float64(time.Hour)))
		}
	}
	for i := 1; i < len(sensors); i++ {
		if sensors[i].Start.Before(sensors[i-1].end()) {
			n.Reject("a sensor that is set before the one before it ends", "sensors one after the other", "mend start or days")
			return nil
		}
	}
	return sensors
}

func (x Sensor) end() time.Time { return x.Start.Add(time.Duration(x.Life * 24 * float64(time.Hour))) }

func readSeed(n yamldoc.Node) uint64 {
	text := n.Text()
	if text == "" {
		return 0
	}
	seed, err := strconv.ParseUint(text, 10, 64)
	if err != nil || seed == 0 || seed > LargestSeed {
		n.Reject(n.Found(), fmt.Sprintf("a whole number from 1 to %d", uint64(LargestSeed)), "")
		return 0
	}
	return seed
}

func readSafety(n yamldoc.Node) Safety {
	m := n.Map("glucose_lowering_medication", "pregnancy", "eating_disorder", "ketoacidosis_before", "advised_by", "avoid")
	answered := true
	for _, key := range []string{"glucose_lowering_medication", "pregnancy", "eating_disorder", "ketoacidosis_before"} {
		answered = answered && m[key].Present()
	}
	return Safety{
		Answered:                  answered,
		GlucoseLoweringMedication: m["glucose_lowering_medication"].YesNo(),
		Pregnancy:                 m["pregnancy"].YesNo(),
		EatingDisorder:            m["eating_disorder"].YesNo(),
		KetoacidosisBefore:        m["ketoacidosis_before"].YesNo(),
		AdvisedBy:                 m["advised_by"].Text(),
		Avoid:                     label.ReadAvoid(m["avoid"]),
		line:                      n.Line(),
	}
}
