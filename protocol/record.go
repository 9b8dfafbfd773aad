package protocol

import (
	"bytes"
	"fmt"
	"strconv"
	"strings"

	"mealtrial/protocol/problem"
	"mealtrial/protocol/store"
)

// An Entry is what is to be written into the log. Only fields that are not nil
// are written; in a correction the others stay as they were.
type Entry struct {
	Date       string
	Time       *string
	Food       *string
	Block      *int
	Ate        *string
	Value      *float64
	Deviations []string
	Exclude    *string
	Note       *string
	Outcomes   []OutcomeEntry
	LookedAt   *string // what was done about a safety line of the test
	Happened   []string
	Measured   *string // date on which outcomes were noted, in a late entry
	Masked     bool    // the tester did not know the food
	open       bool    // the food is an id, though there is a code like it
	Begins     bool    // the first of a log, which names the format of the file
	Corrects   string  // "" for a new test, "yes" for the one at the same date and time, or its date and time
}

// Format writes the entry as one YAML document. Every text is quoted, so that
// nothing a person types can be taken for anything else.
func (e Entry) Format() []byte {
	var b bytes.Buffer
	b.WriteString("---\n{")
	if e.Begins {
		fmt.Fprintf(&b, "format: %d, ", FormatVersion)
	}
	if e.Date == "" { // a late entry, which says when it was noted
		b.WriteString("measured: " + *e.Measured)
		e.Measured = nil
	} else {
		b.WriteString("date: " + e.Date)
	}
	text := func(key string, value *string) {
		if value != nil {
			b.WriteString(", " + key + ": " + quoted(*value))
		}
	}
	text("time", e.Time)
	text("food", e.Food)
	if e.Block != nil {
		fmt.Fprintf(&b, ", block: %d", *e.Block)
	}
	text("ate", e.Ate)
	if e.Value != nil {
		b.WriteString(", value: " + strconv.FormatFloat(*e.Value, 'f', -1, 64))
	}
	if len(e.Deviations) > 0 {
		items := make([]string, len(e.Deviations))
		for i, d := range e.Deviations {
			items[i] = quoted(d)
		}
		b.WriteString(", deviation: [" + strings.Join(items, ", ") + "]")
	}
	text("exclude", e.Exclude)
	text("note", e.Note)
	e.formatAdded(&b)
	if e.Masked {
		b.WriteString(", masked: yes")
	} else if e.open {
		b.WriteString(", masked: no")
	}
	if e.Corrects != "" {
		b.WriteString(", corrects: " + quoted(e.Corrects))
	}
	b.WriteString("}\n")
	return b.Bytes()
}

// quoted writes a double-quoted YAML scalar. Its escapes are those that JSON
// and YAML 1.2 share (YAML 1.2.2, section 5.7).
func quoted(text string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, c := range strings.ToValidUTF8(text, "\ufffd") {
		switch {
		case c == '"' || c == '\\':
			b.WriteRune('\\')
			b.WriteRune(c)
		case c == '\n':
			b.WriteString(`\n`)
		case c == '\t':
			b.WriteString(`\t`)
		case c < 0x20 || c == 0x7f || c >= 0x80 && c < 0xa0 || c == '\u2028' || c == '\u2029' || c == '\ufeff':
			fmt.Fprintf(&b, `\u%04x`, c)
		default:
			b.WriteRune(c)
		}
	}
	b.WriteByte('"')
	return b.String()
}

// Record checks an entry against the log by reading the log as it would be, and
// appends it, synced to the disk, under the folder's lock. What another window
// recorded in the meantime counts. It returns the test that the entry made or
// changed. The error is a problem.List where the entry, not the disk, is at fault;
// the log is then as it was.
func (f *Folder) Record(e Entry) (test *Test, err error) {
	err = f.save("record", []string{StudyFile, ScheduleFile}, func() error {
		test, err = f.record(e)
		return err
	})
	return test, err
}

func (f *Folder) record(e Entry) (*Test, error) {
	w, err := f.with(e)
	if err != nil {
		return nil, err
	}
	if w.size == 0 { // an empty file would not do as a log, so a new one appears whole
		err = f.write(store.File{Name: LogFile, Data: w.entry})
	} else {
		err = store.Append(f.Dir, LogFile, w.size, w.entry)
	}
	if err != nil {
		return nil, err
	}
	if f.seen != nil {
		f.seen[LogFile] = store.Digest(append(w.old, w.entry...))
	}
	f.Log = w.log
	for i, t := range w.log.Tests {
		if line := w.line; t.Line == line || len(t.Added) > 0 && t.Added[len(t.Added)-1] == line || len(t.Corrected) > 0 && t.Corrected[len(t.Corrected)-1] == line {
			return &w.log.Tests[i], nil
		}
	}
	panic("protocol: a recorded entry is not in the log")
}

// CheckEntry holds an entry against the log as it lies on the disk, as Record would,
// and writes nothing.
func (f *Folder) CheckEntry(e Entry) error {
	_, err := f.with(e)
	return err
}

// A written is the log with an entry at its end.
type written struct {
	old, entry []byte // what is there, and what comes to it
	size       int64  // of the file that is there
	line       int    // of the entry, after its "---"
	log        *Log
}

// with reads the log as it would be with an entry.
func (f *Folder) with(e Entry) (w written, err error) {
	old, err := f.read(LogFile)
	if err != nil {
		return w, err
	}
	size := int64(len(old))
	if len(bytes.TrimSpace(old)) == 0 {
		old = nil
	}
	e.Begins = old == nil
	e.Masked = e.Masked || f.Masked() && !e.Adds()
	e.open = e.Food != nil && f.Study.ambiguous(*e.Food) && !f.Masked()
	entry := e.Format()
	line := 2 // of the new entry, after its "---"
	if n := len(old); n > 0 {
		line += bytes.Count(old, []byte("\n"))
		if old[n-1] != '\n' {
			entry = append([]byte("\n"), entry...)
			line++
		}
		before, err := ParseLog(old, f.Study)
		if err != nil {
			return w, err
		}
		if before.HalfLine > 0 { // the new entry would run into it
			return w, problem.List{{File: LogFile, Line: before.HalfLine, Found: "a half-written last entry", Expected: "a whole one",
				Mend: "mend or delete the lines from here to the end of the file, then record again"}}
		}
	}
	log, err := ParseLog(append(old, entry...), f.Study)
	if err != nil {
		return w, aboutEntry(err, line)
	}
	if f.opened() {
		key, err := f.readKey()
		if err != nil {
			return w, err
		}
		log = log.revealed(key)
	}
	return written{old, entry, size, line, log}, nil
}

// aboutEntry turns problems at the new entry's line into problems of what was
// given to record; those of older lines stay as they are.
func aboutEntry(err error, line int) error {
	list, ok := err.(problem.List)
	if !ok {
		return err
	}
	for i := range list {
		if list[i].Line == line {
			list[i].File, list[i].Line = "record", 0
		}
	}
	return list
}
