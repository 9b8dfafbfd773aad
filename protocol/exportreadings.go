package protocol

import (
	"bufio"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"mealtrial/protocol/fhir"
	"mealtrial/protocol/readings"
)

// WriteCSV writes all readings, merged, as a table with one reading a row, and
// beside it a description of its columns (Frictionless Table Schema, version 1)
// whose name ends in .schema.json. A bound stands in a column of its own, so
// that nobody takes it for a measurement. It gives the names of both files.
func (r *Recordings) WriteCSV(name string) (written []string, err error) {
	schema := strings.TrimSuffix(name, filepath.Ext(name)) + ".schema.json"
	err = writeStream(name, func(out io.Writer) error {
		w := csv.NewWriter(out)
		if err := w.Write(r.columns()); err != nil {
			return err
		}
		var failed error
		err := r.set.Each(nil, func(x readings.Reading) bool {
			failed = w.Write(csvRow(x))
			return failed == nil
		})
		w.Flush()
		return errors.Join(err, failed, w.Error())
	})
	if err != nil {
		return nil, err
	}
	err = writeStream(schema, func(out io.Writer) error {
		encoder := json.NewEncoder(out)
		encoder.SetIndent("", "  ")
		return encoder.Encode(r.tableSchema())
	})
	if err != nil {
		return nil, errors.Join(err, os.Remove(name))
	}
	return []string{name, schema}, nil
}

func (r *Recordings) columns() []string {
	unit := string(r.Unit)
	return []string{"time", "glucose " + unit, "at_most " + unit, "at_least " + unit, "sensor", "file", "line"}
}

// csvRow writes LOW and HIGH without a known bound as a row without any number.
func csvRow(x readings.Reading) []string {
	row := []string{x.Time.UTC().Format(time.RFC3339Nano), "", "", "", x.Sensor, x.File, strconv.Itoa(x.Line)}
	if x.Glucose > 0 {
		row[1+map[readings.Limit]int{readings.BelowRange: 1, readings.AboveRange: 2}[x.Limit]] = exported(x.Glucose)
	}
	return row
}

// exported keeps what a conversion between units needs, and no more.
func exported(x float64) string {
	return strconv.FormatFloat(math.Round(x*1000)/1000, 'f', -1, 64)
}

// A schemaField is a field descriptor.
type schemaField struct {
	Name        string         `json:"name"`
	Type        string         `json:"type"`
	Format      string         `json:"format,omitempty"`
	Description string         `json:"description"`
	Constraints map[string]any `json:"constraints,omitempty"`
}

type tableSchema struct {
	Fields        []schemaField `json:"fields"`
	MissingValues []string      `json:"missingValues"`
	PrimaryKey    []string      `json:"primaryKey"`
}

func (r *Recordings) tableSchema() tableSchema {
	names, unit := r.columns(), string(r.Unit)
	above := map[string]any{"minimum": 0}
	return tableSchema{MissingValues: []string{""}, PrimaryKey: []string{names[0], names[4]}, Fields: []schemaField{
		{names[0], "datetime", "default", "Time of the reading in UTC (ISO 8601).", map[string]any{"required": true}},
		{names[1], "number", "", "Glucose in interstitial fluid in " + unit + ", as measured; missing where only a bound is known.", above},
		{names[2], "number", "", "The true value was at most this, in " + unit + ": the sensor's lower reporting limit.", above},
		{names[3], "number", "", "The true value was at least this, in " + unit + ": the sensor's upper reporting limit.", above},
		{names[4], "string", "", "Sensor; missing where only one was worn at a time and nothing names it.", nil},
		{names[5], "string", "", "File that the reading is from; the first by name where several hold it.", map[string]any{"required": true}},
		{names[6], "integer", "", "Line in that file, from 1.", map[string]any{"required": true, "minimum": 1}},
	}}
}

// WriteFHIR writes all readings, merged, as one FHIR R4 Bundle.
func (r *Recordings) WriteFHIR(name string) error {
	return writeStream(name, func(out io.Writer) error {
		w := fhir.NewWriter(out, "the tester")
		var failed error
		err := r.set.Each(nil, func(x readings.Reading) bool {
			value := math.Round(x.Glucose*1000) / 1000
			failed = w.Write(fhir.Observation{Time: x.Time, Value: value, Unit: string(r.Unit), Sensor: x.Sensor,
				Bound: map[readings.Limit]fhir.Bound{readings.BelowRange: fhir.AtMost, readings.AboveRange: fhir.AtLeast}[x.Limit]})
			return failed == nil
		})
		if err := errors.Join(err, failed); err != nil {
			return err
		}
		return w.Close()
	})
}

// writeStream writes a file of any length whole or not at all.
func writeStream(name string, write func(io.Writer) error) (err error) {
	aside, err := os.CreateTemp(filepath.Dir(name), "."+filepath.Base(name)+"-*")
	if err != nil {
		var path *os.PathError
		if errors.As(err, &path) {
			err = path.Err
		}
		return fmt.Errorf("%s was not written: %w; check the folder, its permissions and the space left", name, err)
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.Remove(aside.Name()))
		}
	}()
	out := bufio.NewWriterSize(aside, 1<<16)
	err = write(out)
	if err == nil {
		err = errors.Join(out.Flush(), aside.Chmod(0o644), aside.Sync())
	}
	if err = errors.Join(err, aside.Close()); err != nil {
		return err
	}
	return os.Rename(aside.Name(), name)
}
