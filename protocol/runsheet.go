package protocol

import "mealtrial/protocol/problem"

// A RunSheet is what has to be at hand for one test.
type RunSheet struct {
	Number, Of int // of the test in the schedule, from 1
	Test       PlannedTest
	Code       string // of a masked schedule; "" where there is none
	// Name, Portion and Prepare are empty in the tester's version of a masked
	// schedule.
	Name, Portion, Prepare string
	Sensor                 string
	Evening, Hold          []string
	Window                 float64 // minutes after the first bite
	Unit                   string  // of glucose
	Logged                 bool
}

// RunSheets returns a sheet for each planned test; while the schedule is masked
// they show codes alone. The error is a problem.List: no schedule.
func (f *Folder) RunSheets() ([]RunSheet, error) {
	if f.Schedule == nil {
		return nil, problem.List{{File: ScheduleFile, Found: "no such file", Expected: "planned tests", Mend: "draw them with mealtrial plan"}}
	}
	var sheets []RunSheet
	for i := range f.Schedule.Tests {
		t := f.Schedule.Tests[i]
		n := &Next{Test: &t}
		f.instruct(n)
		sheet := RunSheet{Number: i + 1, Of: len(f.Schedule.Tests), Test: t, Name: n.Name, Portion: n.Portion, Prepare: n.Prepare, Sensor: n.Sensor,
			Evening: n.Evening, Hold: n.Hold, Window: f.Study.Endpoint.Window, Unit: string(f.Study.Endpoint.GlucoseUnit), Logged: f.logged(t.Date)}
		if f.Masked() {
			sheet.Code, sheet.Name, sheet.Portion, sheet.Prepare = t.Food, "", "", ""
		}
		sheets = append(sheets, sheet)
	}
	return sheets, nil
}

// HelperSheets returns the sheets of a masked schedule for the helper who cooks,
// with the foods that the key file names; data is its content, nil: the one in the
// study folder. Nothing is recorded: the schedule stays masked. The error is a
// problem.List.
func (f *Folder) HelperSheets(data []byte) ([]RunSheet, error) {
	if !f.Masked() {
		return nil, problem.List{{File: ScheduleFile, Found: "a schedule that is not masked", Expected: "a masked one, for a helper's version", Mend: "leave the helper's version away: the usual one shows the foods"}}
	}
	key, err := f.readKey()
	if data != nil {
		key, err = ParseKey(data, f.Study, f.Study.codes)
	}
	if err != nil {
		return nil, err
	}
	sheets, err := f.RunSheets()
	if err != nil {
		return nil, err
	}
	for i := range sheets {
		food := f.Study.Foods[f.Study.Food(key.Foods[sheets[i].Code])]
		sheets[i].Name, sheets[i].Portion, sheets[i].Prepare = food.Name, food.Portion, food.Preparation
	}
	return sheets, nil
}
