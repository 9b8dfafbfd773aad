package view

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"mealtrial/protocol/problem"
)

// CSV writes one table of a result as RFC 4180 has it, from what JSON would say of
// it: the fields of each object of a list, objects inside it by their name and an
// underscore, lists of plain values joined by semicolons, lists of objects left out.
// Text that a spreadsheet would take for a formula gets an apostrophe before it.
//
// name is the list; "" stands for the first of questions, tests and rows that is
// there, or else the first at all. others are the lists that were not written. The
// error is ErrNoTable, or that of the writer.
func CSV(w io.Writer, result any, name string) (others []string, err error) {
	data, err := json.Marshal(result)
	if err != nil {
		return nil, err
	}
	decoder := json.NewDecoder(bytes.NewReader(data))
	decoder.UseNumber()
	value, err := decode(decoder)
	if err != nil {
		return nil, err
	}
	tables, names := tablesOf(value)
	if name == "" {
		for _, usual := range append([]string{"questions", "tests", "rows"}, names...) {
			if name == "" && slices.Contains(names, usual) {
				name = usual
			}
		}
	}
	rows, ok := tables[name]
	if !ok {
		return names, ErrNoTable{name, names}
	}
	others = slices.DeleteFunc(names, func(x string) bool { return x == name })
	return others, writeCSV(w, rows)
}

// ErrNoTable says that a result has no table of a name.
type ErrNoTable struct {
	Name  string
	Names []string
}

func (e ErrNoTable) Error() string {
	if len(e.Names) == 0 {
		return "this result has no table"
	}
	return fmt.Sprintf("found the table %q, expected one of %s", e.Name, strings.Join(e.Names, ", "))
}

// object is a JSON object in the order in which it was written.
type object []field

type field struct {
	name  string
	value any
}

// decode reads one JSON value and keeps the order of fields.
func decode(d *json.Decoder) (any, error) {
	token, err := d.Token()
	if err != nil {
		return nil, err
	}
	switch token {
	case json.Delim('{'):
		o := object{}
		for d.More() {
			key, err := d.Token()
			if err != nil {
				return nil, err
			}
			value, err := decode(d)
			if err != nil {
				return nil, err
			}
			o = append(o, field{key.(string), value})
		}
		_, err = d.Token()
		return o, err
	case json.Delim('['):
		list := []any{}
		for d.More() {
			value, err := decode(d)
			if err != nil {
				return nil, err
			}
			list = append(list, value)
		}
		_, err = d.Token()
		return list, err
	}
	return token, nil
}

// tablesOf finds the lists of objects, those inside objects by their path.
func tablesOf(value any) (tables map[string][]object, names []string) {
	tables = map[string][]object{}
	var visit func(name string, value any)
	visit = func(name string, value any) {
		switch v := value.(type) {
		case object:
			for _, f := range v {
				visit(strings.TrimPrefix(name+"_"+f.name, "_"), f.value)
			}
		case []any:
			var rows []object
			for _, item := range v {
				o, ok := item.(object)
				if !ok {
					return
				}
				rows = append(rows, o)
			}
			if name == "" {
				name = "rows"
			}
			tables[name], names = rows, append(names, name)
		}
	}
	visit("", value)
	return tables, names
}

func writeCSV(w io.Writer, rows []object) error {
	var header []string
	flat := make([]map[string]string, len(rows))
	for i, row := range rows {
		flat[i] = map[string]string{}
		var add func(prefix string, o object)
		add = func(prefix string, o object) {
			for _, f := range o {
				name := prefix + f.name
				if inner, ok := f.value.(object); ok {
					add(name+"_", inner)
					continue
				}
				text, ok := cellText(f.value)
				if !ok {
					continue
				}
				if !slices.Contains(header, name) {
					header = append(header, name)
				}
				flat[i][name] = text
			}
		}
		add("", row)
	}
	out := csv.NewWriter(w)
	if err := out.Write(header); err != nil {
		return err
	}
	for _, row := range flat {
		record := make([]string, len(header))
		for i, name := range header {
			record[i] = row[name]
		}
		if err := out.Write(record); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

// cellText writes a value; ok is false for lists of objects.
func cellText(value any) (text string, ok bool) {
	switch v := value.(type) {
	case nil:
		return "", true
	case json.Number:
		return v.String(), true
	case bool:
		return strconv.FormatBool(v), true
	case string:
		v = problem.Visible(v)
		if v != "" && strings.ContainsRune("=+-@\t\r", rune(v[0])) {
			return "'" + v, true
		}
		return v, true
	case []any:
		var parts []string
		for _, item := range v {
			part, ok := cellText(item)
			if _, nested := item.(object); nested || !ok {
				return "", false
			}
			parts = append(parts, part)
		}
		return strings.Join(parts, "; "), true
	}
	return "", false
}
