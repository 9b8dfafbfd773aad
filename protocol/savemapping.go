package protocol

import (
	"fmt"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"mealtrial/protocol/problem"
	"mealtrial/protocol/readings"
	"mealtrial/protocol/store"
	"mealtrial/protocol/yamldoc"
)

// SaveMapping writes how the files were read into the study file, so that
// nothing is guessed from then on. What the person wrote stays as it is. It
// gives the lines that were added, none where all was told already. The study
// file is left as it was when it would not read the files as they were read.
func (r *Recordings) SaveMapping(dir string, study *Study) (added []string, err error) {
	text, err := os.ReadFile(filepath.Join(dir, StudyFile))
	if err != nil {
		return nil, err
	}
	all, files := r.missing(study.Mapping)
	if len(all) == 0 && len(files) == 0 {
		return nil, nil
	}
	edited, err := yamldoc.Insert(text, all, "readings")
	if err == nil {
		edited, err = yamldoc.Insert(edited, files, "readings", "files")
	}
	if err != nil {
		return nil, byHand(all, files, err)
	}
	if err := r.sameWith(dir, edited, study); err != nil {
		return nil, err
	}
	for _, p := range all {
		added = append(added, p.Key+": "+p.Value)
	}
	for _, p := range files {
		added = append(added, "files: "+p.Key+": "+p.Value)
	}
	f := &Folder{Dir: dir, seen: map[string]string{StudyFile: store.Digest(text)}}
	return added, f.save("readings", []string{StudyFile}, func() error {
		return f.write(store.File{Name: StudyFile, Data: edited})
	})
}

// byHand says what to write where the study file has a shape that is not
// edited.
func byHand(all, files []yamldoc.KeyText, cause error) error {
	join := func(pairs []yamldoc.KeyText) string {
		items := make([]string, len(pairs))
		for i, p := range pairs {
			items[i] = p.Key + ": " + p.Value
		}
		return strings.Join(items, ", ")
	}
	text := "readings: {" + join(all)
	if len(files) > 0 {
		text += ", files: {" + join(files) + "}"
	}
	return problem.List{{File: StudyFile, Field: "readings", Found: "a file that cannot be edited here (" + cause.Error() + ")",
		Expected: "one key a line", Mend: "write it by hand: " + text + "}"}}
}

// sameWith checks that the edited study file reads, and reads the same from the
// sensor's files.
func (r *Recordings) sameWith(dir string, edited []byte, study *Study) error {
	again, err := ParseStudy(edited)
	if err != nil {
		return fmt.Errorf("%s was left as it was, as the edit would break it: %w", StudyFile, err)
	}
	set, err := readings.Open(os.DirFS(dir), ReadingsDir, again.Mapping, readings.Study{Unit: study.Endpoint.GlucoseUnit, Zone: study.Zone})
	if err != nil {
		return err
	}
	if again.Digest != study.Digest || set.Repeated != r.Repeated || set.Conflicting != r.Conflicting || len(set.Files) != len(r.Files) {
		return fmt.Errorf("%s was left as it was: the files would not be read as before", StudyFile)
	}
	for i, f := range set.Files {
		if b := r.Files[i]; f.Readings != b.Readings || !f.From.Equal(b.From) || !f.To.Equal(b.To) {
			return fmt.Errorf("%s was left as it was: %s would not be read as before", StudyFile, f.File)
		}
	}
	return nil
}

// missing gives the keys to add for all files, and those for single ones where
// they differ.
func (r *Recordings) missing(told readings.Mapping) (all, files []yamldoc.KeyText) {
	var tables []int
	for i := range r.Files {
		if r.set.IsTable(i) {
			tables = append(tables, i)
		}
	}
	if len(tables) == 0 {
		return nil, nil
	}
	values := map[string][]string{} // by key, one a table; "" for none
	for n, i := range tables {
		for _, p := range r.set.Parts(i) {
			if values[p.Key] == nil {
				values[p.Key] = make([]string, len(tables))
			}
			values[p.Key][n] = valueText(p)
		}
	}
	general := toldKeys(told)
	if !told.Fixed {
		all = append(all, yamldoc.KeyText{Key: "fixed", Value: "yes"})
	}
	var single []string
	for _, key := range mappingKeys {
		v := values[key]
		switch {
		case v == nil || key == "fixed":
		case slices.ContainsFunc(v, func(x string) bool { return x != v[0] }):
			single = append(single, key)
		case general[key]:
		case len(told.Files) > 0 && allFromFiles(r, tables, key, told):
		default:
			all = append(all, yamldoc.KeyText{Key: key, Value: v[0]})
		}
	}
	for n, i := range tables {
		if item := r.forFile(i, n, single, values, told); item != "" {
			files = append(files, yamldoc.KeyText{Key: quoted(strings.TrimPrefix(r.Files[i].File, ReadingsDir+"/")), Value: item})
		}
	}
	return all, files
}

// allFromFiles tells whether every table has a key from the study file already.
func allFromFiles(r *Recordings, tables []int, key string, told readings.Mapping) bool {
	return !slices.ContainsFunc(tables, func(i int) bool {
		return !slices.ContainsFunc(r.set.Parts(i), func(p readings.Part) bool { return p.Key == key && p.Origin == readings.FromStudyFile })
	})
}

// forFile gives the keys of one file, "" where the study file has them.
func (r *Recordings) forFile(i, n int, single []string, values map[string][]string, told readings.Mapping) string {
	var items []string
	isTold := true
	for _, key := range single {
		if v := values[key][n]; v != "" {
			items = append(items, key+": "+v)
			isTold = isTold && slices.ContainsFunc(r.set.Parts(i), func(p readings.Part) bool { return p.Key == key && p.Origin == readings.FromStudyFile })
		}
	}
	name := strings.TrimPrefix(r.Files[i].File, ReadingsDir+"/")
	known := slices.ContainsFunc(told.Files, func(f readings.FileMapping) bool { return f.Pattern == name })
	if isTold || known || len(items) == 0 {
		return ""
	}
	for _, f := range told.Files {
		if ok, _ := path.Match(f.Pattern, name); ok { // the new entry takes its place
			for _, p := range r.set.Parts(i) {
				if p.Origin == readings.FromStudyFile && !slices.Contains(single, p.Key) && !toldKeys(told)[p.Key] {
					items = append(items, p.Key+": "+valueText(p))
				}
			}
			break
		}
	}
	return "{" + strings.Join(items, ", ") + "}"
}

// toldKeys are the keys of a Mapping that are written down.
func toldKeys(m readings.Mapping) map[string]bool {
	return map[string]bool{"delimiter": m.Delimiter != "", "decimal": m.Decimal != "", "time_column": m.TimeColumn != "", "time_layout": m.TimeLayout != "",
		"zone": m.Zone != nil, "zone_column": m.ZoneColumn != "", "glucose_column": m.GlucoseColumn != "", "unit": m.Unit != "",
		"event_column": m.EventColumn != "", "events": m.Events != nil, "sensor_column": m.SensorColumn != "", "sensor": m.Sensor != "",
		"at_most_column": m.AtMostColumn != "", "at_least_column": m.AtLeastColumn != "",
		"lowest": m.Lowest != 0, "highest": m.Highest != 0}
}

// valueText writes a value as YAML.
func valueText(p readings.Part) string {
	switch p.Key {
	case "unit", "lowest", "highest", "zone":
		return p.Value
	case "events":
		items := make([]string, len(p.Values))
		for i, v := range p.Values {
			items[i] = quoted(v)
		}
		return "[" + strings.Join(items, ", ") + "]"
	}
	return quoted(p.Value)
}
