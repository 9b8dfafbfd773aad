// Package demo builds the demo study: an invented reviewer of low-starch
// noodles, with a known truth behind invented readings.
package demo

import (
	_ "embed"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"mealtrial/protocol"
	"mealtrial/protocol/problem"
	"mealtrial/protocol/rehearsal"
	"mealtrial/protocol/store"
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
numbers are invented. Running mealtrial demo again replaces what is here, as
long as the files are the ones listed below with their SHA-256.

`

// Build writes the whole demo study into a folder: the study file, its
// schedule, the sensor files of a simulated tester and the log. It refuses,
// with a problem.List, a folder that is not empty unless Build made it.
func Build(dir string, seed uint64) error {
	old, err := prepare(dir)
	if err != nil {
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
		protocol.StudyFile:    study,
		protocol.ScheduleFile: schedule.Format(),
		protocol.LogFile:      formatLog(session.Entries),
	}
	for name, data := range session.Files {
		files[path.Join(protocol.ReadingsDir, name)] = data
	}
	text := mark
	var all []store.File
	for _, name := range slices.Sorted(maps.Keys(files)) {
		text += protocol.Digest(files[name]) + "  " + name + "\n"
		all = append(all, store.File{Name: name, Data: files[name]})
	}
	all = append(all, store.File{Name: MarkFile, Data: []byte(text)})
	if err := protocol.WriteNew(dir, "demo", all); err != nil {
		return err
	}
	for _, name := range old { // what an earlier demo had and this one has not
		if files[name] == nil {
			if err := os.Remove(filepath.Join(dir, filepath.FromSlash(name))); err != nil {
				return err
			}
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
// new, empty or an earlier demo in which nothing was changed. An earlier demo's
// files are returned, to be cleared away.
func prepare(dir string) (old []string, err error) {
	if empty, err := store.Empty(dir); err != nil || empty {
		return nil, err
	}
	list, err := os.ReadFile(filepath.Join(dir, MarkFile))
	if err != nil {
		return nil, problem.List{{File: dir, Found: "a folder that is not empty and no earlier demo", Expected: "a new or empty folder", Mend: "name another one with --dir"}}
	}
	for _, line := range strings.Split(string(list), "\n") {
		digest, name, ok := strings.Cut(line, "  ")
		if !ok || len(digest) != 64 || !fs.ValidPath(name) {
			continue
		}
		path := filepath.Join(dir, filepath.FromSlash(name))
		data, err := os.ReadFile(path)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return nil, err
		}
		if protocol.Digest(data) != digest {
			return nil, problem.List{{File: path, Found: "a file of an earlier demo that was changed since", Expected: "a demo as it was written",
				Mend: "name another folder with --dir, or remove this one if nothing in it is needed"}}
		}
		old = append(old, name)
	}
	return old, nil
}
