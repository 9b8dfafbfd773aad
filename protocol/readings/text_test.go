package readings

import (
	"strings"
	"testing"
	"unicode/utf16"

	"mealtrial/protocol/problem"
)

func TestTexts(t *testing.T) {
	const good = "Time,Glucose (mg/dL)\n2027-01-31 07:00,101\n2027-01-31 07:05,99\n"
	const utf8 = "; save it as text (CSV) in UTF-8"
	for _, c := range []struct{ name, content, err string }{
		{"plain", good, ""},
		{"byte order mark", "\xef\xbb\xbf" + good, ""},
		{"CR LF", strings.ReplaceAll(good, "\n", "\r\n"), ""},
		{"CR alone", strings.ReplaceAll(good, "\n", "\r"), ""},
		{"no newline at the end", strings.TrimSuffix(good, "\n"), ""},
		{"blank lines", "\n\n" + strings.ReplaceAll(good, "\n", "\n \n"), ""},
		{"not UTF-8", "Zeit,Glukose (mg/dL)\n2027-01-31 07:00,101\nGer\xe4t,\n", "readings/x.csv:3: found byte 0xe4, which is not UTF-8, expected text in UTF-8" + utf8},
		{"UTF-16", utf16Text(good), "readings/x.csv:1: found text in UTF-16, expected text in UTF-8" + utf8},
		{"UTF-16 without mark", utf16Text(good)[2:], "readings/x.csv:1: found a zero byte, as in UTF-16 or a spreadsheet's own format, expected text in UTF-8" + utf8},
		{"empty", "", "readings/x.csv: found an empty file, expected the export of a sensor; export it again, or delete it"},
		{"blank", "\xef\xbb\xbf\r\n \r\n", "readings/x.csv: found an empty file, expected the export of a sensor; export it again, or delete it"},
		{"only a header", "\nTime,Glucose (mg/dL)\n", "readings/x.csv:2: found a header and no readings below it, expected one row a reading; export it again, or delete it"},
		{"header and other events", "Time,Glucose (mg/dL)\n2027-01-31 07:00,\n", "readings/x.csv:1: readings.glucose_column: found no column that is surely glucose, expected one; " +
			"name it with readings: {glucose_column: …} in study.yaml"},
		{"long line", good + "note," + strings.Repeat("a", MaxLineBytes), "readings/x.csv:4: found a line of more than 1 MB, expected one reading a line; export it again as a table"},
		{"prose", "Keep this folder.\nIt has 2 files.\n", `readings/x.csv:2: found no time in "It has 2 files.", ` +
			"expected a time such as 2027-01-31 07:05, 31.01.2027 07:05 or 2027-01-31T07:05:00Z in every row; " +
			"tell the layout with readings: {time_layout: …} in study.yaml, or move the file out of the folder"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, err := readOne(c.content, Mapping{})
			checkError(t, err, c.err)
			if c.err == "" && pairs(r.Readings) != "2027-01-31 07:00 101\n2027-01-31 07:05 99" {
				t.Errorf("got\n%s", pairs(r.Readings))
			}
		})
	}
}

func utf16Text(s string) string {
	b := []byte{0xff, 0xfe}
	for _, u := range utf16.Encode([]rune(s)) {
		b = append(b, byte(u), byte(u>>8))
	}
	return string(b)
}

func TestTable(t *testing.T) {
	for _, c := range []struct {
		name, text string
		delimiter  byte
		want       string
	}{
		{"plain", "a, b ,c\nd,,\n", ',', "1 a|b|c\n2 d||"},
		{"quoted", "\"a,b\",\"say \"\"x\"\"\", \"c\" ,\"\"\n", ',', `1 a,b|say "x"|c|`},
		{"quote inside a cell", "5\" pan,x\n", ',', `1 5" pan|x`},
		{"quote before more text", "\"a\" b,c\",x\n", ',', `1 a" b,c|x`},
		{"lines in a cell", "a,\"b\nc\",d\ne\n", ',', "1 a|b\nc|d\n3 e"},
		{"open quote", "a,\"b\nc,d\n", ',', "1 a|\"b open\n2 c|d"},
		{"open quote at the end", "a,\"b", ',', "1 a|\"b open"},
		{"closed too far below", "\"a" + strings.Repeat("\n", 20) + "b\"\nc", ',', "1 \"a open\n21 b\"\n22 c"},
		{"tab", "a\tb c\t\n", '\t', "1 a|b c|"},
		{"CR LF", "a;b\r\n\r\nc;d\r\n", ';', "1 a|b\n3 c|d"},
		{"CR", "a;b\r\rc;d", ';', "1 a|b\n3 c|d"},
	} {
		t.Run(c.name, func(t *testing.T) {
			var got []string
			for r := range newTable(c.text, c.delimiter).rows {
				s := string(rune('0'+r.line%10)) + " " + strings.Join(r.fields, "|")
				if r.line > 9 {
					s = string(rune('0'+r.line/10)) + s
				}
				if r.open {
					s += " open"
				}
				got = append(got, s)
			}
			if strings.Join(got, "\n") != c.want {
				t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), c.want)
			}
		})
	}
}

func TestStrayQuotes(t *testing.T) {
	const stray = ": found a double quote that is not closed in its row, expected pairs of double quotes (\"); delete or double it"
	r, err := readOne(lines("Time,Glucose (mg/dL),Note", `2027-01-31 07:00,101,"a`, `2027-01-31 07:05,99,b"`, "2027-01-31 07:10,98,", `2027-01-31 07:15,97,"c`), Mapping{})
	checkError(t, err, "readings/x.csv:2"+stray+"\nreadings/x.csv:5"+stray)
	if pairs(r.Readings) != "2027-01-31 07:10 98" {
		t.Errorf("got\n%s", pairs(r.Readings))
	}
	got, _ := mustRead(t, lines("Time,Glucose (mg/dL),Note", `2027-01-31 07:00,101,"two`, `lines"`, `2027-01-31 07:05,99,"say ""b"""`), Mapping{})
	if want := "2027-01-31 07:00 101\n2027-01-31 07:05 99"; pairs(got) != want || got[1].Line != 4 {
		t.Errorf("got\n%s in line %d", pairs(got), got[1].Line)
	}
}

// A quote in every line must not make reading quadratic, and a line of nothing
// but delimiters must not fill the memory.
func TestHostileTables(t *testing.T) {
	for name, content := range map[string]string{
		"quotes":     strings.Repeat("\"a,1\n", 50_000),
		"delimiters": strings.Repeat(strings.Repeat(",", MaxLineBytes)+"\n", 4),
	} {
		if _, err := readOne(content, Mapping{}); err == nil {
			t.Errorf("%s: no error", name)
		} else if _, ok := err.(problem.List); !ok {
			t.Errorf("%s: %T", name, err)
		}
	}
}
