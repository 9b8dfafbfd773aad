// Package demo builds the demo study: an invented reviewer of low-starch
// noodles, with a known truth behind invented readings.
package demo

import (
	_ "embed"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"

	"mealtrial/protocol"
	"mealtrial/protocol/problem"
	"mealtrial/protocol/rehearsal"
)

//go:embed study.yaml
var study []byte

// Seed of the demo where none is given: the first one, not a picked one.
const Seed = 1

// Truth is the tester of the demo.
func Truth() rehearsal.Truth {
	t := rehearsal.Usual
	t.Rise = map[string]float64{"wheat": 52, "lupin": 27, "konjac-old": 13, "konjac-new": 9, "edamame": 24, "water": 0}
	return t
}

// What goes wrong in the demo, as it does in every kitchen: tests by number
// from 0.
var (
	losses    = map[int]rehearsal.Loss{8: {From: 35, To: 80}}
	deviation = map[int]string{13: "slept five hours only"}
)

// MarkFile is there in every folder that Build made, and says so.
const MarkFile = "DEMO.txt"

const mark = `This folder was written by mealtrial demo. The tester, the foods and all
numbers are invented. Running mealtrial demo again replaces what is here.
`

// Build writes the whole demo study into a folder: the study file, its
// schedule, the sensor files of a simulated tester and the log. It refuses,
// with a problem.List, a folder that is not empty unless Build made it.
func Build(dir string, seed uint64) error {
	if err := prepare(dir); err != nil {
		return err
	}
	s, err := protocol.ParseStudy(study)
	if err != nil {
		return fmt.Errorf("demo: %w", err)
	}
	schedule, err := protocol.DrawSchedule(s, seed)
	if err != nil {
		return fmt.Errorf("demo: %w", err)
	}
	session := rehearsal.Simulate(s, schedule, Truth(), losses, seed)
	files := map[string][]byte{
		MarkFile:              []byte(mark),
		protocol.StudyFile:    study,
		protocol.ScheduleFile: schedule.Format(),
		protocol.LogFile:      formatLog(session.Entries),
	}
	for name, data := range session.Files {
		files[filepath.Join(protocol.ReadingsDir, name)] = data
	}
	if err := os.MkdirAll(filepath.Join(dir, protocol.ReadingsDir), 0o755); err != nil {
		return err
	}
	// The mark comes first: a folder that broke off half-way is still a demo.
	names := []string{MarkFile}
	for name := range files {
		if name != MarkFile {
			names = append(names, name)
		}
	}
	slices.Sort(names[1:])
	for _, name := range names {
		if err := protocol.WriteWhole(dir, name, files[name]); err != nil {
			return err
		}
	}
	return nil
}

func formatLog(entries []protocol.Entry) []byte {
	data := []byte("# The tests as they were eaten, one document each. Invented data.\n")
	for i, e := range entries {
		if text, ok := deviation[i]; ok {
			e.Deviations = []string{text}
		}
		data = append(data, e.Format()...)
	}
	return data
}

// prepare makes sure that nothing of the person's is replaced: the folder is
// new, empty or an earlier demo. An earlier demo's readings are cleared away.
func prepare(dir string) error {
	entries, err := os.ReadDir(dir)
	if errors.Is(err, fs.ErrNotExist) || err == nil && len(entries) == 0 {
		return nil
	}
	if err != nil {
		return err
	}
	if _, err := os.Stat(filepath.Join(dir, MarkFile)); err != nil {
		return problem.List{{File: dir, Found: "a folder that is not empty and no earlier demo", Expected: "a new or empty folder", Mend: "name another one with --dir"}}
	}
	old, err := filepath.Glob(filepath.Join(dir, protocol.ReadingsDir, "sensor-*.csv"))
	if err != nil {
		return err
	}
	for _, path := range old {
		if err := os.Remove(path); err != nil {
			return err
		}
	}
	return nil
}
