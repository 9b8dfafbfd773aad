package protocol

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

func smallFolder(t *testing.T, log string) *Folder {
	t.Helper()
	dir := t.TempDir()
	for name, text := range map[string]string{StudyFile: string(Starter(NewDate(time.Date(2027, 1, 4, 0, 0, 0, 0, time.UTC)))), LogFile: log} {
		if text == "" {
			continue
		}
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	f, err := Load(dir)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func entryOf(f *Folder, date string) Entry {
	value := 20.0
	return Entry{Date: date, Food: &f.Study.Foods[0].ID, Value: &value}
}

// A file that changed between reading and writing is not written over.
func TestChangedInBetween(t *testing.T) {
	f := smallFolder(t, "")
	path := filepath.Join(f.Dir, StudyFile)
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, append(text, "# on the phone\n"...), 0o644); err != nil {
		t.Fatal(err)
	}
	const want = "study.yaml: found other contents than when it was read a moment ago, expected a file that nothing else changes in between; another window, an editor or a sync folder wrote to it; nothing was written here: look at it, then run the command again"
	if _, err := f.Record(entryOf(f, "2027-01-11")); err == nil || err.Error() != want {
		t.Errorf("record: %v", err)
	}
	s, err := DrawSchedule(f.Study, 1)
	if err != nil {
		t.Fatal(err)
	}
	if err := f.SaveSchedule(s, nil); err == nil || err.Error() != want {
		t.Errorf("plan: %v", err)
	}
	if _, err := os.Stat(filepath.Join(f.Dir, ScheduleFile)); err == nil {
		t.Error("a schedule was written")
	}
}

// Two windows that were open at once both record.
func TestTwoWindowsRecord(t *testing.T) {
	f := smallFolder(t, "")
	other, err := Load(f.Dir)
	if err != nil {
		t.Fatal(err)
	}
	for folder, date := range map[*Folder]string{f: "2027-01-11", other: "2027-01-12"} {
		if _, err := folder.Record(entryOf(f, date)); err != nil {
			t.Fatal(err)
		}
	}
	if f, err = Load(f.Dir); err != nil || len(f.Log.Tests) != 2 {
		t.Errorf("%d tests, %v", len(f.Log.Tests), err)
	}
	if _, err := other.Record(entryOf(f, "2027-01-11")); err == nil {
		t.Error("the same test twice")
	}
}

// What a power cut may leave at the end of a log.
func TestLogThatBrokeOff(t *testing.T) {
	study := smallFolder(t, "").Study
	whole := "---\n{date: 2027-01-11, food: " + study.Foods[0].ID + "}\n"
	for tail, line := range map[string]int{
		"": 0, "-": 3, "--": 3, "---": 0, "---\n": 0, "\x00\x00\x00": 3, "---\n{date: 2027-01-12, note: \"gr\xc3": 3,
		"---\n{date: 2027-01-12, note: \"g\x00\x00": 3, "---\n{date: 2027": 3,
	} {
		log, err := ParseLog([]byte(whole+tail), study)
		if err != nil || len(log.Tests) != 1 || (log.HalfLine > 0) != (line > 0) || log.HalfLine > line+1 {
			t.Errorf("%q: %+v, %v", tail, log, err)
		}
	}
	many := strings.Repeat("---\n{date: 2027-01-11}\n", mostEntries+1)
	if _, err := ParseLog([]byte(many), study); err == nil || !strings.Contains(err.Error(), "found 12001 entries, expected at most 12000; begin a new study") {
		t.Errorf("%v", err)
	}
}
