package protocol

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/google/renameio/v2/maybe"

	"mealtrial/protocol/busy"
	"mealtrial/protocol/problem"
	"mealtrial/protocol/readings"
)

// A Folder is a study as it lies on disk. Log, Schedule and Recording are
// empty or nil where their files are not there.
type Folder struct {
	Dir       string
	Study     *Study
	Schedule  *Schedule
	Log       *Log
	Recording readings.Recording
	Ledger    []Look     // the looks that were taken before
	later     []Question // asked after the data
	extra     []int      // foods to be tested once more, by the advice on retests
	Invert    bool       // also invert the randomisation tests, for intervals
	Preview   *Schedule  // what plan would draw; filled in by Check where no schedule is there
}

// LoadStudy reads the study file of a folder and nothing else.
func LoadStudy(dir string) (*Study, error) {
	data, err := readOptional(dir, StudyFile)
	if err == nil && data == nil {
		return nil, problem.List{{File: filepath.Join(dir, StudyFile), Found: "no such file", Expected: "a study",
			Mend: "name the folder of a study, or run mealtrial init " + dir + " for a commented starter"}}
	}
	if err != nil {
		return nil, err
	}
	study, err := ParseStudy(data)
	if err != nil || study.Plan == nil {
		return study, err
	}
	return study, study.readCalendars(dir)
}

// readCalendars reads the calendar files that the plan names.
func (s *Study) readCalendars(dir string) error {
	var problems problem.List
	for _, name := range s.Plan.Calendars {
		data, err := readOptional(dir, name)
		if err != nil {
			return err
		}
		if data == nil {
			problems = append(problems, problem.Problem{File: StudyFile, Line: s.Plan.line, Field: "plan.busy", Found: "no file " + name + " in the study folder",
				Expected: "a calendar file", Mend: "copy it there, or take it out of busy"})
			continue
		}
		from, _ := s.Plan.Start.At(0, s.Zone)
		to, _ := (s.Plan.Until + longestPlan/5).At(0, s.Zone)
		calendar, err := busy.Read(name, data, from.AddDate(0, 0, -2), to, s.Zone)
		if !collect(&problems, err) {
			return err
		}
		s.Plan.booked = append(s.Plan.booked, calendar.Spans...)
		for _, note := range calendar.Notes {
			s.Plan.CalendarNotes = append(s.Plan.CalendarNotes, name+": "+note)
		}
		if s.Plan.digests == nil {
			s.Plan.digests = map[string]string{}
		}
		s.Plan.digests[name] = Digest(data)
	}
	return problems.Err()
}

// Load reads the study file, the schedule and the log of a folder, but no
// sensor readings. An error that the person can mend is a problem.List.
func Load(dir string) (*Folder, error) {
	study, err := LoadStudy(dir)
	if err != nil {
		return nil, err
	}
	f := &Folder{Dir: dir, Study: study, Log: &Log{}}
	var problems problem.List
	if data, err := readOptional(dir, ScheduleFile); err != nil {
		return nil, err
	} else if data != nil {
		if f.Schedule, err = ParseSchedule(data, study); !collect(&problems, err) {
			return nil, err
		}
		study.codes, study.masked = f.Schedule.codesOf(), f.Masked()
	}
	if data, err := readOptional(dir, LogFile); err != nil {
		return nil, err
	} else if data != nil {
		log, err := ParseLog(data, study)
		if !collect(&problems, err) {
			return nil, err
		}
		if log != nil {
			f.Log = log
		}
	}
	if data, err := readOptional(dir, LedgerFile); err != nil {
		return nil, err
	} else if data != nil {
		if f.Ledger, err = ParseLedger(data); !collect(&problems, err) {
			return nil, err
		}
	}
	if err := problems.Err(); err != nil {
		return f, err
	}
	return f, f.decode()
}

// LoadAll reads everything in a folder, the sensor readings included.
func LoadAll(dir string) (*Folder, error) {
	f, err := Load(dir)
	if err != nil && f == nil {
		return nil, err
	}
	var problems problem.List
	collect(&problems, err)
	recording, err := readings.Read(os.DirFS(dir), ReadingsDir, f.Study.Mapping,
		readings.Study{Unit: f.Study.Endpoint.GlucoseUnit, Zone: f.Study.Zone, Spans: f.spans()})
	if !collect(&problems, err) {
		return nil, err
	}
	f.Recording = recording
	return f, problems.Err()
}

// spans are the times around the tests whose readings are wanted.
func (f *Folder) spans() []readings.Span {
	spans := []readings.Span{}
	for _, t := range f.Log.Tests {
		if t.HasTime {
			spans = append(spans, f.Study.around(t))
		}
	}
	return spans
}

// readOptional returns nil where the file is not there.
func readOptional(dir, name string) ([]byte, error) {
	data, err := os.ReadFile(filepath.Join(dir, name))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if info, statErr := os.Stat(filepath.Join(dir, name)); statErr == nil && info.IsDir() {
		return nil, problem.List{{File: name, Found: "a folder", Expected: "a file", Mend: "move the folder away"}}
	}
	if err == nil && data == nil {
		data = []byte{}
	}
	return data, err
}

// collect adds the problems of an error to a list; it tells whether err was
// nil or problems, and not some other failure.
func collect(list *problem.List, err error) bool {
	var problems problem.List
	if errors.As(err, &problems) {
		*list = append(*list, problems...)
		return true
	}
	return err == nil
}

// WriteWhole writes a file whole or not at all: aside first, then renamed.
func WriteWhole(dir, name string, data []byte) error {
	err := maybe.WriteFile(filepath.Join(dir, name), data, 0o644)
	var path *fs.PathError
	if errors.As(err, &path) { // its path is that of the file aside, which is nothing to a person
		err = path.Err
	}
	if err != nil {
		return notWritten(filepath.Join(dir, name), err)
	}
	return nil
}

func notWritten(name string, err error) error {
	return fmt.Errorf("%s was not written and is as it was: %w; check the folder, its permissions and the space left", name, err)
}

// SaveSchedule writes the schedule of a folder. It refuses with a problem.List
// to take the place of a schedule by which tests were eaten.
func (f *Folder) SaveSchedule(s *Schedule) error {
	if n := len(f.Log.Tests); f.Schedule != nil && n > 0 {
		return problem.List{{File: ScheduleFile, Found: "a schedule with " + Count(n, "logged test", "logged tests"),
			Expected: "a study that has not begun", Mend: "keep it: to draw again after tests were eaten would undo the randomisation. For a new study use a new folder"}}
	}
	if f.Schedule != nil && len(f.Schedule.Amendments) > 0 {
		return problem.List{{File: ScheduleFile, Found: "a schedule with " + Count(len(f.Schedule.Amendments), "amendment", "amendments"),
			Expected: "one that was not laid out again", Mend: "lay it out again with mealtrial replan, which keeps the earlier versions; to begin anew, use a new folder"}}
	}
	return WriteWhole(f.Dir, ScheduleFile, s.Format())
}

// AppendLog adds an entry to the log and syncs it to disk. When that fails the
// log is cut back to what it was. It refuses a log whose last entry is
// half-written, as the new one would run into it.
func (f *Folder) AppendLog(entry []byte) (err error) {
	if f.Log.HalfLine > 0 {
		return problem.List{{File: LogFile, Line: f.Log.HalfLine, Found: "a half-written last entry", Expected: "a whole one",
			Mend: "mend or delete the lines from here to the end of the file, then record again"}}
	}
	path := filepath.Join(f.Dir, LogFile)
	file, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o644)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	info, err := file.Stat()
	if err != nil {
		return err
	}
	size := info.Size()
	last := make([]byte, 1)
	if size > 0 {
		if _, err := file.ReadAt(last, size-1); err != nil {
			return err
		}
		if last[0] != '\n' {
			entry = append([]byte("\n"), entry...)
		}
	}
	if _, err = file.WriteAt(entry, size); err == nil {
		err = file.Sync()
	}
	if err != nil {
		return errors.Join(fmt.Errorf("%s was left as it was: %w", path, err), file.Truncate(size))
	}
	return nil
}

// EmptyFolder refuses, with a problem.List, a folder that has something in it.
func EmptyFolder(dir string) error {
	entries, err := os.ReadDir(dir)
	if errors.Is(err, fs.ErrNotExist) || err == nil && len(entries) == 0 {
		return nil
	}
	if err != nil {
		return err
	}
	return problem.List{{File: dir, Found: "a folder that is not empty", Expected: "a new or empty folder", Mend: "name another one"}}
}

// WriteStudy writes a study folder: the study file and the calendars of another
// folder, a schedule, a log and sensor files.
func WriteStudy(dir, from string, schedule *Schedule, entries []Entry, files map[string][]byte) error {
	study, err := os.ReadFile(filepath.Join(from, StudyFile))
	if err != nil {
		return err
	}
	var log []byte
	for _, e := range entries {
		log = append(log, e.Format()...)
	}
	all := map[string][]byte{StudyFile: study, ScheduleFile: schedule.Format(), LogFile: log}
	for name := range schedule.Calendars {
		if all[name], err = os.ReadFile(filepath.Join(from, name)); err != nil {
			return err
		}
	}
	for name, data := range files {
		all[filepath.Join(ReadingsDir, name)] = data
	}
	for name, data := range all {
		if err := os.MkdirAll(filepath.Dir(filepath.Join(dir, name)), 0o755); err != nil {
			return err
		}
		if err := WriteWhole(dir, name, data); err != nil {
			return err
		}
	}
	return nil
}
