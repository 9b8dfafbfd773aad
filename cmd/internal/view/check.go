package view

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"mealtrial/protocol"
	"mealtrial/protocol/readings"
)

// Check says in words what a study will do and what lies in its folder.
func Check(w io.Writer, f *protocol.Folder) error {
	p := &printer{w: w}
	s := f.Study
	p.safety(f.Safety())
	if s.Title != "" {
		p.line("%s", s.Title)
	}
	p.line("Compared: %s.", foodList(s))
	p.line("From each test one number is taken: the %s in %s, from %s min of readings before the first bite and %s min after it.",
		s.Endpoint.InWords(), s.Endpoint.Unit(), value(s.Endpoint.Baseline), value(s.Endpoint.Window))
	p.endpointsInWords(s)
	p.line("A curve counts when readings no more than %s min apart cover at least %s of the window.", value(s.Quality.MaxGap), protocol.Percent(s.Quality.MinCoverage))
	if s.ZoneNamed {
		p.line("Times are local to %s.", s.Zone)
	} else {
		p.line("No zone is named: times are taken as they stand, without clock changes.")
	}
	p.questionsInWords(s)
	p.outcomesInWords(s)
	p.planInWords(f)
	p.calendarsInWords(s)
	p.logInWords(f)
	p.filesInWords(f.Recording)
	for _, name := range f.Study.Quality.Sensors {
		if !slices.ContainsFunc(f.Recording.Sensors, func(s readings.SensorReport) bool { return s.Name == name }) {
			p.line("Readings: none so far of the sensor %s, which quality.sensors prefers.", oneLine(name))
		}
	}
	p.line("")
	p.line("%s", protocol.ShortCaution)
	return p.err
}

func foodList(s *protocol.Study) string {
	var names []string
	for _, f := range s.Foods {
		name := f.ID
		if f.Name != f.ID {
			name = f.Name + " (" + f.ID + ")"
		}
		if f.Role != protocol.RoleTest {
			name += ", the " + string(f.Role)
		}
		names = append(names, name)
	}
	return strings.Join(names, "; ")
}

func (p *printer) questionsInWords(s *protocol.Study) {
	margin := "No smallest difference that matters is declared, so no difference can be called too small to matter."
	if s.Margin > 0 {
		margin = fmt.Sprintf("The smallest difference that matters is %s %s.", declared(s.Margin), s.Endpoint.Unit())
	}
	if len(s.Questions) == 0 {
		p.line("No question is asked. %s", margin)
		return
	}
	var texts []string
	for _, q := range s.Questions {
		texts = append(texts, q.Text)
	}
	p.line("Asked, with %s intervals (\"a vs b\" is a minus b): %s. %s", protocol.Percent(s.Level), strings.Join(texts, "; "), margin)
}

func (p *printer) planInWords(f *protocol.Folder) {
	s := f.Study
	switch {
	case s.Plan == nil && f.Schedule == nil:
		p.line("No plan: tests are analysed as they were logged.")
	case f.Schedule == nil:
		p.line("Plan: from %s to %s, with at least %s between tests, at %s. Not drawn yet: mealtrial plan.", s.Plan.Start, s.Plan.Until, dayCount(s.Plan.Washout), s.Plan.Time)
		if f.Preview != nil {
			p.line("It would take %d test days, the last on %s: %s.", len(f.Preview.Tests), f.Preview.Tests[len(f.Preview.Tests)-1].Date, byFood(s, f.Preview))
		}
	default:
		lock := "and the study file is as it was then"
		if !s.Keeps(f.Schedule.Lock()) {
			lock = "but the study file has changed since, so what was changed was not declared before the tests"
		}
		n := len(f.Schedule.Tests)
		p.line("Schedule: %s from %s to %s, %s, %s.", tests(n), f.Schedule.Tests[0].Date, f.Schedule.Tests[n-1].Date, drawnWith(f.Schedule), lock)
		switch {
		case f.Masked():
			p.line("Masked: foods are codes until mealtrial unmask opens the key.")
		case f.Schedule.Masked:
			p.line("Masked until %s, when the key was opened.", f.Schedule.Unmasked)
		}
	}
}

// calendarsInWords shows what was left out of the calendars that the plan names.
func (p *printer) calendarsInWords(s *protocol.Study) {
	if s.Plan == nil {
		return
	}
	for _, note := range s.Plan.CalendarNotes {
		p.line("Calendar %s", note)
	}
}

// byFood lists the tests of each food in a schedule.
func byFood(study *protocol.Study, s *protocol.Schedule) string {
	n := s.TestsByFood()
	var parts []string
	for _, f := range study.Foods {
		parts = append(parts, fmt.Sprintf("%d × %s", n[f.ID], f.ID))
	}
	return strings.Join(parts, ", ")
}

func dayCount(n int) string { return protocol.Count(n, "washout day", "washout days") }

func (p *printer) logInWords(f *protocol.Folder) {
	if len(f.Log.Tests) == 0 {
		p.line("Log: no tests yet.")
	} else {
		p.line("Log: %s from %s to %s.", tests(len(f.Log.Tests)), f.Log.Tests[0].Date, f.Log.Tests[len(f.Log.Tests)-1].Date)
	}
	if f.Log.HalfLine > 0 {
		p.line("Log: the last entry, line %d, is half-written and is left out; mend or delete it.", f.Log.HalfLine)
	}
}

func (p *printer) filesInWords(recording readings.Recording) {
	for _, name := range recording.Ignored {
		p.line("Readings: %s is not read; its ending is not that of a table (.csv, .tsv, .txt).", name)
	}
	if len(recording.Files) == 0 {
		p.line("Readings: none.")
		return
	}
	for _, r := range recording.Files {
		skipped := ""
		if r.Skipped > 0 {
			skipped = fmt.Sprintf(", %d rows without a value skipped", r.Skipped)
		}
		p.line("Readings: %s, %d%s, from %s to %s in %s; time in %q as %s, glucose in %q.%s", r.File, r.Readings, skipped,
			r.From.Format("2006-01-02 15:04"), r.To.Format("2006-01-02 15:04"), r.Unit, r.TimeColumn, r.TimeLayout, r.GlucoseColumn, guessed(r))
		for _, note := range r.Notes {
			p.line("  %s", note)
		}
	}
	if n := recording.Repeated; n > 0 {
		p.line("Readings: %s in more than one place, each counted once.", protocol.Count(n, "reading", "readings"))
	}
	if n := len(recording.Sensors); n > 1 {
		p.line("Readings: from %d sensors; see mealtrial readings.", n)
	}
	if n := recording.Conflicting; n > 0 {
		p.line("Readings: at %s one sensor has two values, and neither counts; see mealtrial readings.", protocol.Count(n, "time", "times"))
	}
}

func guessed(r readings.FileReport) string {
	if len(r.Guessed) == 0 {
		return ""
	}
	return " Guessed from the content: " + strings.Join(r.Guessed, ", ") + "."
}

func drawnWith(s *protocol.Schedule) string {
	if s.Seed == 0 {
		return "masked, its seed in the key"
	}
	return fmt.Sprintf("drawn with seed %d", s.Seed)
}
