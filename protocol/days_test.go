package protocol

import "testing"

// Looks are counted in finished blocks, whose numbers may have gaps after an
// amendment; washout reaches forward and back, and never covers a test.
func TestDaysOfAnAmendedSchedule(t *testing.T) {
	study, err := ParseStudy([]byte("zone: UTC\nfoods: [{id: a, role: reference}, {id: b}]\nmargin: 8\nlooks: [1, 2]\n" +
		"plan: {start: 2027-01-01, until: 2027-02-01, repeats: 3, washout: 1, washout_before: {b: 2}, busy: [2027-01-04]}\n"))
	if err != nil {
		t.Fatal(err)
	}
	day := func(text string) Date {
		d, err := ParseDate(text)
		if err != nil {
			t.Fatal(err)
		}
		return d
	}
	f := &Folder{Study: study, Log: &Log{Tests: []Test{{Date: day("2027-01-01"), Food: "a"}}}, Schedule: &Schedule{Tests: []PlannedTest{
		{Date: day("2027-01-01"), Food: "a", Block: 1}, {Date: day("2027-01-03"), Food: "b", Block: 1},
		{Date: day("2027-01-07"), Food: "b", Block: 4}, {Date: day("2027-01-09"), Food: "a", Block: 4},
		{Date: day("2027-01-11"), Food: "a", Block: 5}, {Date: day("2027-01-14"), Food: "b", Block: 5}}}}
	days := f.Days(day("2027-01-05"))
	if len(days) != 14 {
		t.Fatalf("%d days, want 14", len(days))
	}
	text := ""
	for _, d := range days {
		switch {
		case d.Eaten != "":
			text += "e"
		case d.Planned != "":
			text += "p"
		case d.Busy != "":
			text += "-"
		case d.Washout:
			text += "w"
		default:
			text += "."
		}
		if d.Look {
			text += "L"
		}
		if d.Today {
			text += "<"
		}
	}
	if want := "ewpL-w<wpwpLwpwwpL"; text != want {
		t.Errorf("days %s, want %s", text, want)
	}
	if (&Folder{Study: study, Log: &Log{}}).Days(0) != nil {
		t.Error("days without a schedule")
	}
}
