package cli

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"mealtrial/cmd/internal/view"
	"mealtrial/protocol"
	"mealtrial/protocol/problem"
)

type readingsOptions struct {
	csv, fhir  string
	save, json bool
}

func newReadings(s Streams) *cobra.Command {
	var o readingsOptions
	cmd := &cobra.Command{
		Use:     "readings [study]",
		GroupID: groupDo,
		Short:   "Show how the sensor's files are read, fix it, and export the readings",
		Long: `Read every file in readings/ (.csv, .tsv and .txt as tables, .json as FHIR) and
show how each is understood: delimiter, decimal mark, columns, layout of the
times, unit, sensor, reporting limits. What the study file does not tell is guessed
from the content, and every guess is marked. Files that overlap are merged: copies
count once, sensors worn at one time are kept apart, and where one sensor has two
values at one time neither counts and both are shown.

With --save the guesses are written under readings: in study.yaml, with fixed: yes:
from then on nothing is guessed, and a file that does not fit is an error. Nothing
else in study.yaml changes, and the lock of a schedule stays good. By hand the
same keys mend a wrong guess; under files: they apply to some files only:

  readings:
    unit: mg/dL
    files:
      "arm*.csv": {sensor: arm, time_layout: "dd.MM.yyyy HH:mm"}

Other keys: delimiter, decimal, time_column ("Date + Time" where two hold it),
time_layout (date letters of Unicode, or rfc3339, epoch, epoch-ms), zone,
zone_column, glucose_column ("A or B" where several hold it), event_column and
events (which rows are the sensor's), sensor_column, at_most_column and
at_least_column (bounds in the place of a value), lowest and highest (reporting
limits in the file's unit; a value there is a bound).

--csv writes all readings as one table, beside it a description of the columns
(Frictionless Table Schema). --fhir writes them as an HL7 FHIR R4 Bundle of
Observations (LOINC 99504-3 in mg/dL, 105272-9 in mmol/L).

With --json: an object with files (each with mapping: key, value, origin), sensors,
repeated, conflicting, conflicts, ignored, unit.`,
		Example: `  mealtrial readings noodles
  mealtrial readings noodles --save
  mealtrial readings noodles --csv glucose.csv --fhir glucose.json`,
		Args: studyArg,
		RunE: func(_ *cobra.Command, args []string) error { return runReadings(s, folder(args), o) },
	}
	flags := cmd.Flags()
	flags.BoolVar(&o.save, "save", false, "write how the files are read into study.yaml")
	flags.StringVar(&o.csv, "csv", "", "write all readings to a CSV `file`, and its schema beside it")
	flags.StringVar(&o.fhir, "fhir", "", "write all readings to a FHIR `file` (JSON)")
	flags.BoolVar(&o.json, "json", false, "print one JSON object")
	return cmd
}

func runReadings(s Streams, dir string, o readingsOptions) error {
	if err := freeName(dir, "--csv", o.csv); err != nil {
		return err
	}
	if err := freeName(dir, "--fhir", o.fhir); err != nil {
		return err
	}
	r, study, err := protocol.LoadRecordings(dir)
	var problems problem.List
	if err != nil && (r == nil || !errors.As(err, &problems)) {
		return err
	}
	show := func() error {
		if o.json {
			return writeJSON(s.Out, r)
		}
		return view.Recordings(s.Out, r)
	}
	if err != nil { // what could be understood helps to mend the rest
		if len(r.Files) == 0 && !o.json {
			return err
		}
		return errors.Join(show(), err)
	}
	if o.save {
		added, err := r.SaveMapping(dir, study)
		if err != nil {
			return err
		}
		for _, line := range added {
			say(s, "study.yaml, readings: added %s", line)
		}
		if len(added) == 0 {
			say(s, "study.yaml tells all of it already; nothing was written")
		}
	}
	if o.csv != "" {
		names, err := r.WriteCSV(o.csv)
		if err != nil {
			return err
		}
		say(s, "wrote %s", strings.Join(names, " and "))
	}
	if o.fhir != "" {
		if err := r.WriteFHIR(o.fhir); err != nil {
			return err
		}
		say(s, "wrote %s", o.fhir)
	}
	return show()
}

// freeName keeps an export from taking the place of a file, and from lying where
// it would be read as the sensor's.
func freeName(dir, flag, name string) error {
	if name == "" {
		return nil
	}
	inside, err := filepath.Rel(filepath.Join(dir, protocol.ReadingsDir), name)
	if err == nil && inside != ".." && !strings.HasPrefix(inside, ".."+string(filepath.Separator)) {
		return usagef("%s: found %q, a file in readings/, expected one elsewhere: it would be read as another sensor's", flag, name)
	}
	names := []string{name}
	if flag == "--csv" {
		names = append(names, strings.TrimSuffix(name, filepath.Ext(name))+".schema.json")
	}
	for _, name := range names {
		if _, err := os.Lstat(name); !errors.Is(err, fs.ErrNotExist) {
			return usagef("%s: found %q there already, expected a new file; move it away or name another", flag, name)
		}
	}
	return nil
}
