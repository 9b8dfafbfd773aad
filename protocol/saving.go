package protocol

import (
	"cmp"
	"errors"
	"io/fs"
	"os"

	"mealtrial/protocol/problem"
	"mealtrial/protocol/store"
)

// read reads one of the study's files and keeps its digest, by which a later
// change is seen.
func (f *Folder) read(name string) ([]byte, error) {
	data, err := readOptional(f.Dir, name)
	if err == nil && f.seen != nil {
		f.seen[name] = store.Digest(data)
	}
	return data, err
}

func (f *Folder) noted(note string) {
	if note != "" {
		f.Notes = append(f.Notes, note)
	}
}

// save does a writing under the folder's lock, and not before it has seen that the
// files it rests on are what they were when they were read.
func (f *Folder) save(doing string, restsOn []string, writing func() error) error {
	held, err := store.Lock(f.Dir, doing)
	if err != nil {
		return err
	}
	defer func() { _ = held.Release() }() // the lock ends with the process in any case
	f.noted(held.Note)
	for _, name := range restsOn {
		if err := f.unchanged(name); err != nil {
			return err
		}
	}
	return writing()
}

// unchanged refuses, with a problem.List, a file that is not what was read.
func (f *Folder) unchanged(name string) error {
	data, err := readOptional(f.Dir, name)
	if err != nil {
		return err
	}
	if was, read := f.seen[name]; read && was != store.Digest(data) {
		return store.Changed(name)
	}
	return nil
}

// write writes files of the study, whole or not at all, under the lock that save
// has taken.
func (f *Folder) write(files ...store.File) error {
	for i := range files {
		if was, read := f.seen[files[i].Name]; read {
			files[i].Over = cmp.Or(was, store.Absent)
		}
	}
	if err := store.Write(f.Dir, files...); err != nil {
		return err
	}
	for _, file := range files {
		if f.seen != nil {
			f.seen[file.Name] = store.Digest(file.Data)
		}
	}
	return nil
}

// SaveSchedule writes the schedule of a folder, and with it the key of a masked
// one. It refuses with a problem.List to take the place of a schedule by which
// tests were eaten.
func (f *Folder) SaveSchedule(s *Schedule, key *Key) error {
	if n := len(f.Log.Tests); f.Schedule != nil && n > 0 {
		return problem.List{{File: ScheduleFile, Found: "a schedule with " + Count(n, "logged test", "logged tests"),
			Expected: "a study that has not begun", Mend: "keep it: to draw again after tests were eaten would undo the randomisation. For a new study use a new folder"}}
	}
	if f.Schedule != nil && len(f.Schedule.Amendments) > 0 {
		return problem.List{{File: ScheduleFile, Found: "a schedule with " + Count(len(f.Schedule.Amendments), "amendment", "amendments"),
			Expected: "one that was not laid out again", Mend: "lay it out again with mealtrial replan, which keeps the earlier versions; to begin anew, use a new folder"}}
	}
	return f.save("plan", []string{StudyFile, ScheduleFile, LogFile}, func() error {
		files := []store.File{{Name: ScheduleFile, Data: s.Format()}}
		if key != nil { // without it nobody would ever know the foods
			files = append(files, store.File{Name: KeyFile, Data: key.Format()})
		}
		return f.write(files...)
	})
}

// WriteNew writes the files of a new study into a folder, whole or not at all. The
// folder is made where it is not there.
func WriteNew(dir, doing string, files []store.File) error {
	made := false
	if _, err := os.Stat(dir); errors.Is(err, fs.ErrNotExist) {
		made = true
		if err := os.MkdirAll(dir, 0o755); err != nil {
			return err
		}
	}
	held, err := store.Lock(dir, doing)
	if err != nil {
		return err
	}
	err = store.Write(dir, files...)
	_ = held.Release()
	if err != nil && made {
		_ = os.Remove(dir) // where nothing is left in it
	}
	return err
}
