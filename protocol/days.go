package protocol

import (
	"maps"
	"slices"
	"time"
)

// A Day is one day of a study's calendar and what is on it. As JSON it is a contract.
type Day struct {
	Date    Date   `json:"date"`
	Planned string `json:"planned,omitempty"` // food of the test, or its code; a test is on this day
	RunIn   bool   `json:"run_in,omitempty"`  // that test is before the first block
	Block   int    `json:"block,omitempty"`
	Eaten   string `json:"eaten,omitempty"` // food of the test in the log
	Look    bool   `json:"look,omitempty"`  // with this test a declared look is due
	Washout bool   `json:"washout,omitempty"`
	Busy    string `json:"busy,omitempty"` // why no test can be held
	// Sensor is the planned sensor, from 1, that reads on this day; 0: none, or none
	// is planned.
	Sensor    int  `json:"sensor,omitempty"`
	SensorSet bool `json:"sensor_set,omitempty"` // it is set on this day
	NoSensor  bool `json:"no_sensor,omitempty"`  // none reads, or it has not settled for a test, though the plan has sensors
	Today     bool `json:"today,omitempty"`
}

// Days returns the days of a schedule, from the first planned sensor or test to the
// last test, with what is on them; nil without a schedule.
func (f *Folder) Days(today Date) []Day {
	if f.Schedule == nil || len(f.Schedule.Tests) == 0 {
		return nil
	}
	first, last := f.Schedule.Tests[0].Date, f.Schedule.Tests[0].Date
	see := func(d Date) { first, last = min(first, d), max(last, d) }
	for _, t := range f.Schedule.Tests {
		see(t.Date)
	}
	for _, t := range f.Log.Tests {
		see(t.Date)
	}
	if p := f.Study.Plan; p != nil && len(p.Sensors) > 0 {
		see(min(first, max(NewDate(p.Sensors[0].Start), first-longestLead)))
	}
	days := make([]Day, last-first+1)
	for i := range days {
		d := &days[i]
		d.Date = first + Date(i)
		d.Today = d.Date == today
		f.Study.describeDay(d)
	}
	f.placeTests(days)
	return days
}

// longestLead bounds how long before the first test a sensor is shown, in days.
const longestLead = 31

// describeDay fills in what the plan says of a day.
func (s *Study) describeDay(d *Day) {
	if s.Plan == nil {
		return
	}
	d.Busy = s.taken(d.Date)
	start, _ := d.Date.At(0, s.Zone)
	end := start.Add(24 * time.Hour)
	reads := false
	for i, x := range s.Plan.Sensors {
		if x.Start.Before(end) && x.end().After(start) {
			d.Sensor = i + 1
			d.SensorSet = d.SensorSet || NewDate(x.Start) == d.Date
		}
		reads = reads || len(x.on(s, []int{int(d.Date)})) > 0
	}
	d.NoSensor = len(s.Plan.Sensors) > 0 && !reads
}

// placeTests fills in the tests, what lies between them and the looks.
func (f *Folder) placeTests(days []Day) {
	at := func(d Date) *Day {
		if i := int(d - days[0].Date); i >= 0 && i < len(days) {
			return &days[i]
		}
		return nil
	}
	ends := map[int]*Day{} // of blocks
	for _, t := range f.Schedule.Tests {
		d := at(t.Date)
		d.Planned, d.RunIn, d.Block = t.Food, t.RunIn, t.Block
		if !t.RunIn {
			ends[t.Block] = d
		}
	}
	for _, t := range f.Log.Tests {
		at(t.Date).Eaten = t.Food
	}
	blocks := slices.Sorted(maps.Keys(ends)) // after an amendment their numbers may have gaps
	for _, finished := range f.Study.Looks.of(len(blocks)) {
		if finished > 0 {
			ends[blocks[finished-1]].Look = true
		}
	}
	p := f.Study.Plan
	if p == nil {
		return
	}
	for _, t := range f.Schedule.Tests {
		for n := 1; n <= max(p.Washout, p.After[t.Food]); n++ {
			if d := at(t.Date + Date(n)); d != nil && d.Planned == "" {
				d.Washout = true
			}
		}
		for n := 1; n <= p.Before[t.Food]; n++ {
			if d := at(t.Date - Date(n)); d != nil && d.Planned == "" {
				d.Washout = true
			}
		}
	}
}
