package readings

import (
	"strings"
	"testing"
	"time"
)

// Every layout that is guessed has an example that holds 2027-01-31 07:05 and
// 19:10 in UTC.
func TestGuessedLayouts(t *testing.T) {
	const minutes = "2027-01-31 07:05 101\n2027-01-31 19:10 95"
	for _, c := range []struct{ layout, morning, evening string }{
		{"yyyy-MM-dd HH:mm", "2027-01-31 07:05", "2027-01-31 19:10"},
		{"yyyy-MM-dd HH:mm:ss", "2027-01-31 07:05:00", "2027-01-31 19:10:00"},
		{"yyyy-MM-dd HH:mm:ss", "2027-01-31 07:05:00.000", "2027-01-31 19:10:00.000"},
		{"yyyy-MM-dd'T'HH:mm", "2027-01-31T07:05", "2027-01-31T19:10"},
		{"yyyy-MM-dd'T'HH:mm:ss", "2027-01-31T07:05:00", "2027-01-31T19:10:00"},
		{"rfc3339", "2027-01-31T07:05:00Z", "2027-01-31T19:10:00Z"},
		{"rfc3339", "2027-01-31T07:05Z", "2027-01-31T19:10Z"},
		{"rfc3339", "2027-01-31t07:05:00z", "2027-01-31t19:10:00z"},
		{"rfc3339", "2027-01-31 08:05:00+01:00", "2027-01-31 14:10:00-05:00"},
		{"rfc3339", "2027-01-31T08:05:00.000+01:00", "2027-01-31T20:10:00.000+01:00"},
		{"yyyy-MM-dd HH:mm:ssXX", "2027-01-31 08:05:00+0100", "2027-01-31 20:10:00+0100"},
		{"yyyy-MM-dd'T'HH:mm:ssXX", "2027-01-31T08:05:00+0100", "2027-01-31T20:10:00+0100"},
		{"yyyy-MM-dd HH:mm:ss XXX", "2027-01-31 08:05:00 +01:00", "2027-01-31 20:10:00 +01:00"},
		{"yyyy-MM-dd HH:mm:ss XX", "2027-01-31 08:05:00 +0100", "2027-01-31 20:10:00 +0100"},
		{"yyyy/MM/dd HH:mm", "2027/01/31 07:05", "2027/01/31 19:10"},
		{"yyyy/M/d HH:mm", "2027/1/31 7:05", "2027/1/31 19:10"},
		{"yyyy.MM.dd HH:mm", "2027.01.31 07:05", "2027.01.31 19:10"},
		{"yyyyMMdd HH:mm", "20270131 07:05", "20270131 19:10"},
		{"dd.MM.yyyy HH:mm", "31.01.2027 07:05", "31.01.2027 19:10"},
		{"dd.MM.yyyy HH:mm:ss", "31.01.2027 07:05:00", "31.01.2027 19:10:00"},
		{"d.M.yyyy HH:mm", "31.1.2027 7:05", "31.1.2027 19:10"},
		{"dd/MM/yyyy HH:mm", "31/01/2027 07:05", "31/01/2027 19:10"},
		{"d/M/yyyy HH:mm", "31/1/2027 7:05", "31/1/2027 19:10"},
		{"MM/dd/yyyy HH:mm", "01/31/2027 07:05", "01/31/2027 19:10"},
		{"M/d/yyyy HH:mm", "1/31/2027 7:05", "1/31/2027 19:10"},
		{"dd-MM-yyyy HH:mm", "31-01-2027 07:05", "31-01-2027 19:10"},
		{"d-M-yyyy HH:mm", "31-1-2027 7:05", "31-1-2027 19:10"},
		{"MM-dd-yyyy HH:mm", "01-31-2027 07:05", "01-31-2027 19:10"},
		{"M-d-yyyy HH:mm", "1-31-2027 7:05", "1-31-2027 19:10"},
		{"dd-MMM-yyyy HH:mm", "31-Jan-2027 07:05", "31-Jan-2027 19:10"},
		{"dd MMM yyyy HH:mm", "31 Jan 2027 07:05", "31 Jan 2027 19:10"},
		{"MMM d yyyy HH:mm", "Jan 31 2027 07:05", "Jan 31 2027 19:10"},
		{"MMM d, yyyy h:mm a", "Jan 31, 2027 7:05 AM", "Jan 31, 2027 7:10 PM"},
		{"dd.MM.yy HH:mm", "31.01.27 07:05", "31.01.27 19:10"},
		{"d.M.yy HH:mm", "31.1.27 7:05", "31.1.27 19:10"},
		{"dd/MM/yy HH:mm", "31/01/27 07:05", "31/01/27 19:10"},
		{"M/d/yy h:mm a", "1/31/27 7:05 AM", "1/31/27 7:10 PM"},
		{"MM-dd-yy HH:mm:ss", "01-31-27 07:05:00", "01-31-27 19:10:00"},
		{"M/d/yyyy h:mm a", "1/31/2027 7:05 AM", "1/31/2027 7:10 PM"},
		{"M/d/yyyy h:mm a", "1/31/2027 7:05 am", "1/31/2027 7:10 pm"},
		{"M/d/yyyy h:mm a", "1/31/2027 7:05 a.m.", "1/31/2027 7:10 p. m."},
		{"M/d/yyyy h:mm a", "1/31/2027 7:05\u202fAM", "1/31/2027 7:10\u202fPM"},
		{"M/d/yyyy h:mma", "1/31/2027 7:05AM", "1/31/2027 7:10PM"},
		{"MM/dd/yyyy hh:mm:ss a", "01/31/2027 07:05:00 AM", "01/31/2027 07:10:00 PM"},
		{"yyyy-MM-dd h:mm:ss a", "2027-01-31 7:05:00 AM", "2027-01-31 7:10:00 PM"},
		{"M/d/yyyy, h:mm:ss a", "1/31/2027, 7:05:00 AM", "1/31/2027, 7:10:00 PM"},
		{"epoch", "1801379100", "1801422600"},
		{"epoch", "1801379100.0", "1801422600.0"},
	} {
		t.Run(c.morning, func(t *testing.T) {
			for _, told := range []string{"", c.layout} {
				got, report := mustRead(t, lines("Time;Glucose (mg/dL)", c.morning+";101", c.evening+";95"), Mapping{TimeLayout: told})
				if pairs(got) != minutes {
					t.Errorf("told %q: got\n%s\nwant\n%s", told, pairs(got), minutes)
				}
				if report.TimeLayout != c.layout {
					t.Errorf("told %q: layout %q, want %q", told, report.TimeLayout, c.layout)
				}
			}
		})
	}
}

func TestFractionsOfASecond(t *testing.T) {
	got, _ := mustRead(t, lines("Time,Glucose (mg/dL)", "2027-01-31 07:05:00.250,101", "2027-01-31 07:05:00.750,102"), Mapping{})
	if want := "2027-01-31 07:05:00.25 101\n2027-01-31 07:05:00.75 102"; pairs(got) != want {
		t.Errorf("got\n%s\nwant\n%s", pairs(got), want)
	}
	got, _ = mustRead(t, lines("Time,Glucose (mg/dL)", "1801379100.25,101"), Mapping{TimeLayout: "epoch"})
	if want := "2027-01-31 07:05:00.25 101"; pairs(got) != want {
		t.Errorf("epoch: got %s, want %s", pairs(got), want)
	}
}

func TestPatterns(t *testing.T) {
	at := time.Date(2027, 1, 31, 7, 5, 9, 120e6, time.UTC)
	minute := at.Truncate(time.Minute)
	for _, c := range []struct {
		pattern, cell string
		want          time.Time
	}{
		{"yyyy-MM-dd HH:mm:ss.SSS", "2027-01-31 07:05:09.120", at},
		{"yyyy-MM-dd HH:mm:ss,SS", "2027-01-31 07:05:09,12", at},
		{"y-M-d H:m", "2027-1-31 7:5", minute},
		{"dd.MM.yy HH.mm", "31.01.27 07.05", minute},
		{"yyyyMMddHHmm", "202701310705", minute},
		{"MMM d yyyy hh:mm a", "Jan 31 2027 07:05 AM", minute},
		{"yyyy-MM-dd'T'HH:mmXXX", "2027-01-31T08:05+01:00", minute},
		{"yyyy-MM-dd'T'HH:mmZZZZZ", "2027-01-31T07:05Z", minute},
		{"yyyy-MM-dd HH:mm xx", "2027-01-31 08:05 +0100", minute},
		{"yyyy-MM-dd HH:mm'Uhr'", "2027-01-31 07:05Uhr", minute},
		{"yyyy-MM-dd HH 'o''clock' mm", "2027-01-31 07 o'clock 05", minute},
		{"yyyy''MM''dd HH:mm", "2027'01'31 07:05", minute},
	} {
		l, err := newLayout(c.pattern)
		if err != nil {
			t.Errorf("%s: %v", c.pattern, err)
			continue
		}
		if got, ok := l.parse(c.cell); !ok || !got.Equal(c.want) {
			t.Errorf("%s reads %q as %v, %v; want %v", c.pattern, c.cell, got, ok, c.want)
		}
	}
}

func TestBadPatterns(t *testing.T) {
	for pattern, want := range map[string]string{
		"yyyy-MM-ddTHH:mm":        `with T, which is no date field here`,
		"yyyy-MM-dd kk:mm":        `with kk, which is no date field here`,
		"yyyyy-MM-dd HH:mm":       `with yyyyy, which is no date field here`,
		"yyyy-MM-dd HH:mm SSS":    `with SSS, which is no date field here`,
		"yyyy-MM-dd HH:mm:ss SSS": `with SSS, which is no date field here`,
		"MM-dd HH:mm":             "without a year (y), a month (M) or a day (d)",
		"yyyy-MM-dd":              "without an hour (H, or h with a)",
		"yyyy-MM-dd h:mm":         "without an hour (H, or h with a)",
		"yyyy-MM-dd HH:mm a":      "without an hour (H, or h with a)",
		"yyyy-MM-dd HH":           "without minutes (m)",
		"yyyy-MM-dd'T HH:mm":      "with a single quote that is not closed",
		"yyyy-MM-dd '15' HH:mm":   "with plain text that cannot be told from a date field",
		"yyyy-MM_dd 'PM' HH:mm":   "with plain text that cannot be told from a date field",
		"Mdyhma":                  "with fields that cannot be told from one another",
		"yyyy-MM-_d HH:mm":        "with plain text that cannot be told from a date field",
	} {
		if _, err := newLayout(pattern); err == nil || err.Error() != want {
			t.Errorf("%s: error %v, want %s", pattern, err, want)
		}
	}
}

// A layout must not be read into what another is meant for.
func TestUnreadTimes(t *testing.T) {
	for pattern, cells := range map[string]string{
		"epoch":              "2027-01-31|-5|101|100000000000|1e9|",
		"rfc3339":            "2027-01-31T07:05|2027-01-31X07:05:00Z|2027-01-31|2027-01-31T25:05:00Z",
		"yyyy-MM-dd HH:mm":   "2027-02-29 07:05|2027-01-31 24:00|2027-01-31 07:05:00|27-01-31 07:05",
		"yyyy-MM-dd hh:mm a": "2027-01-31 13:05 PM|2027-01-31 07:05",
	} {
		l, err := newLayout(pattern)
		if err != nil {
			t.Fatal(err)
		}
		for _, cell := range strings.Split(cells, "|") {
			if got, ok := l.parse(cell); ok {
				t.Errorf("%s reads %q as %v", pattern, cell, got)
			}
		}
	}
}

func TestDayOrMonth(t *testing.T) {
	header := "Time,Glucose (mg/dL)\n"
	day := func(m time.Month, d, h int) time.Time { return time.Date(2027, m, d, h, 0, 0, 0, time.UTC) }
	const ask = `readings/x.csv:2: Time: found dates that read as dd/MM/yyyy HH:mm and as MM/dd/yyyy HH:mm, expected a layout that the file can decide; ` +
		`write readings: {time_layout: "dd/MM/yyyy HH:mm"} or {time_layout: "MM/dd/yyyy HH:mm"} in study.yaml`
	dmy, mdy := "02/01/2006 15:04", "01/02/2006 15:04"
	for _, c := range []struct{ name, content, want, err string }{
		{"a day above 12 decides", everyFive(day(1, 12, 23), 30, mdy, ","), "MM/dd/yyyy HH:mm", ""},
		{"a day above 12 first", everyFive(day(1, 31, 23), 30, dmy, ","), "dd/MM/yyyy HH:mm", ""},
		{"days side by side, day first", everyFive(day(2, 3, 12), 500, dmy, ","), "dd/MM/yyyy HH:mm", ""},
		{"days side by side, month first", everyFive(day(2, 3, 12), 500, mdy, ","), "MM/dd/yyyy HH:mm", ""},
		{"newest first", reversed(everyFive(day(2, 3, 12), 500, mdy, ",")), "MM/dd/yyyy HH:mm", ""},
		{"over the end of a year", everyFive(time.Date(2026, 12, 11, 12, 0, 0, 0, time.UTC), 288, mdy, ","), "MM/dd/yyyy HH:mm", ""},
		{"time runs one way, after a pause of some days", everyFive(day(1, 11, 23), 6, mdy, ",") + everyFive(day(2, 9, 23), 6, mdy, ","), "MM/dd/yyyy HH:mm", ""},
		{"the same either way", everyFive(day(2, 2, 7), 30, mdy, ","), "dd/MM/yyyy HH:mm", ""},
		{"one day", everyFive(day(2, 3, 7), 30, mdy, ","), "", ask},
		{"a reading a day is no sensor", lines("02/03/2027 07:00,101", "03/03/2027 07:00,99", "04/03/2027 07:00,103"), "", ask},
		{"neither way runs one way", lines("02/03/2027 07:00,101", "05/06/2027 07:00,99", "01/04/2027 07:00,103"), "", ask},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, err := readOne(header+c.content, Mapping{})
			if c.err != "" {
				checkError(t, err, c.err)
				return
			}
			if err != nil || r.Files[0].TimeLayout != c.want {
				t.Errorf("layout %+v, error %v; want %s", r.Files, err, c.want)
			}
		})
	}
	got, _ := mustRead(t, header+everyFive(day(2, 3, 7), 1, mdy, ","), Mapping{TimeLayout: "M/d/yyyy H:mm"})
	if pairs(got) != "2027-02-03 07:00 95" {
		t.Errorf("told layout: got %s", pairs(got))
	}
}
