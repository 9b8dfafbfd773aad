package protocol

import (
	"errors"
	"maps"
	"os"
	"path"
	"path/filepath"
	"slices"

	"mealtrial/protocol/busy"
	"mealtrial/protocol/problem"
	"mealtrial/protocol/readings"
	"mealtrial/protocol/store"
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
	Notes     []string   // what was put right in the folder on the way, for people

	seen map[string]string // digest of each file when it was read; "" for one that was not there
}

// LoadStudy reads the study file of a folder and nothing else.
func LoadStudy(dir string) (*Study, error) {
	data, err := readOptional(dir, StudyFile)
	if err == nil && data == nil {
		begin := "mealtrial init " + dir
		if dir == "." {
			begin = "mealtrial init"
		}
		return nil, problem.List{{File: filepath.Join(dir, StudyFile), Found: "no such file", Expected: "a study",
			Mend: "name the folder of a study, or begin one with " + begin}}
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
	note, err := store.Settle(dir)
	if err != nil {
		return nil, err
	}
	study, err := LoadStudy(dir)
	if err != nil {
		return nil, err
	}
	f := &Folder{Dir: dir, Study: study, Log: &Log{}, seen: map[string]string{StudyFile: study.whole}}
	f.noted(note)
	var problems problem.List
	if data, err := f.read(ScheduleFile); err != nil {
		return nil, err
	} else if data != nil {
		if f.Schedule, err = ParseSchedule(data, study); !collect(&problems, err) {
			return nil, err
		}
		study.codes, study.masked = f.Schedule.codesOf(), f.Masked()
	}
	if data, err := f.read(LogFile); err != nil {
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
	if data, err := f.read(LedgerFile); err != nil {
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
func LoadAll(dir string) (*Folder, error) { return LoadAllWatched(dir, nil) }

// LoadAllWatched is LoadAll, watched while it reads the sensor's files.
func LoadAllWatched(dir string, watch Watch) (*Folder, error) {
	f, err := Load(dir)
	if err != nil && f == nil {
		return nil, err
	}
	var problems problem.List
	collect(&problems, err)
	root, err := os.OpenRoot(dir)
	if err != nil {
		return nil, err
	}
	defer root.Close()
	if _, err := root.Stat(ReadingsDir); store.Escapes(err) {
		problems = append(problems, problem.Problem{File: ReadingsDir, Found: "a link that leads out of the study folder", Expected: "a folder inside it", Mend: "copy the folder itself into the study folder"})
		return f, problems
	}
	recording, err := readings.Read(watchedFiles(root.FS(), ReadingsDir, watch), ReadingsDir, f.Study.Mapping,
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
			span := f.Study.watchedAround(t)
			span.From = span.From.Add(-minutes(fastingBefore))
			spans = append(spans, span)
		}
	}
	return spans
}

// readOptional returns nil where the file is not there. It reads nothing outside
// the folder and no more than a file of its kind may hold.
func readOptional(dir, name string) ([]byte, error) {
	return store.Read(dir, name, largestFile(name))
}

// largestFile bounds a file of a study, in bytes.
func largestFile(name string) int64 {
	switch name {
	case StudyFile, KeyFile, LedgerFile:
		return 4 << 20
	case LogFile, ScheduleFile:
		return 16 << 20
	}
	return 64 << 20 // calendars
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

// EmptyFolder refuses, with a problem.List, a folder that has something in it.
func EmptyFolder(dir string) error {
	if empty, err := store.Empty(dir); err != nil || empty {
		return err
	}
	return problem.List{{File: dir, Found: "a folder that is not empty", Expected: "a new or empty folder", Mend: "name another one"}}
}

// WriteStudy writes a study folder, whole or not at all: the study file and the
// calendars of another folder, a schedule, a log and sensor files.
func WriteStudy(dir, from string, schedule *Schedule, entries []Entry, files map[string][]byte) error {
	var log []byte
	for i, e := range entries {
		e.Begins = i == 0
		log = append(log, e.Format()...)
	}
	all := []store.File{{Name: ScheduleFile, Data: schedule.Format()}, {Name: LogFile, Data: log}}
	for _, name := range append([]string{StudyFile}, slices.Sorted(maps.Keys(schedule.Calendars))...) {
		data, err := readOptional(from, name)
		if err != nil {
			return err
		}
		all = append(all, store.File{Name: name, Data: data})
	}
	for _, name := range slices.Sorted(maps.Keys(files)) {
		all = append(all, store.File{Name: path.Join(ReadingsDir, name), Data: files[name]})
	}
	return WriteNew(dir, "rehearse", all)
}
