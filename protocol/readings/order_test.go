package readings

import (
	"strings"
	"testing"
	"time"
)

func TestOrder(t *testing.T) {
	file := func(clocks ...string) string {
		content := "Time,Glucose (mg/dL)\n"
		for i, c := range clocks {
			content += "2027-01-31 " + c + ",10" + string(rune('0'+i%10)) + "\n"
		}
		return content
	}
	const mend = "; export it again; or delete the rows that are copies"
	const order = ", expected every row later than the one before, or every row earlier" + mend
	const twice = ", expected one reading a time of one sensor" + mend + "; or name the column of the sensor with readings.sensor_column in study.yaml"
	for _, c := range []struct {
		name, content string
		newestFirst   bool
		clocks, err   string
	}{
		{"oldest first", file("07:00", "07:05", "07:10"), false, "07:00 07:05 07:10", ""},
		{"newest first", file("07:10", "07:05", "07:00"), true, "07:00 07:05 07:10", ""},
		{"one step back", file("07:00", "07:10", "07:05", "07:15"), false, "07:00 07:05 07:10 07:15",
			"readings/x.csv:4: Time: found 2027-01-31 07:05, earlier than 2027-01-31 07:10 of line 3" + order},
		{"the clock set back", file("08:00", "08:05", "08:10", "08:02", "08:07", "08:12"), false, "08:00 08:02 08:05 08:07 08:10 08:12",
			"readings/x.csv:5: Time: found 2027-01-31 08:02, earlier than 2027-01-31 08:10 of line 4" + order},
		{"a block astray", file("08:00", "08:05", "07:00", "07:05", "07:10"), false, "07:00 07:05 07:10 08:00 08:05", ""},
		{"days in the wrong order, newest first", file("07:10", "07:05", "07:00", "08:10", "08:05"), true, "07:00 07:05 07:10 08:05 08:10", ""},
		{"one step ahead, newest first", file("07:15", "07:05", "07:10", "07:00"), true, "07:00 07:05 07:10 07:15",
			"readings/x.csv:4: Time: found 2027-01-31 07:10, later than 2027-01-31 07:05 of line 3, in a file that runs from new to old" + order},
		{"twice", file("07:00", "07:05", "07:05"), false, "07:00",
			"readings/x.csv:4: Time: found 2027-01-31 07:05, the time of line 3 too" + twice},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, err := readOne(c.content, Mapping{})
			checkError(t, err, c.err)
			var clocks []string
			for _, x := range r.Readings {
				clocks = append(clocks, x.Time.Format("15:04"))
			}
			if got := strings.Join(clocks, " "); got != c.clocks || r.Files[0].NewestFirst != c.newestFirst {
				t.Errorf("got %s, newest first %v", got, r.Files[0].NewestFirst)
			}
		})
	}
}

// In Vienna the clock goes from 02:00 to 03:00 on 2027-03-28 and from 03:00
// back to 02:00 on 2027-10-31, both at 01:00 UTC.
func TestClockChanges(t *testing.T) {
	vienna := zone(t, "Europe/Vienna")
	file := func(day string, clocks ...string) string {
		content := "Time,Glucose (mg/dL)\n"
		for _, c := range clocks {
			content += day + " " + c + ",100\n"
		}
		return content
	}
	autumn := []string{"01:30", "02:00", "02:30", "02:00", "02:30", "03:00"}
	const autumnNote = "Readings in an hour that the clock repeats (2027-10-31): 2 taken as before the change and 2 as after it, by their order."
	for _, c := range []struct{ name, content, utc, notes, err string }{
		{"spring", file("2027-03-28", "01:30", "03:00", "03:30"), "00:30 01:00 01:30", "", ""},
		{"skipped hour", file("2027-03-28", "01:30", "02:30", "04:00"), "00:30 01:30 02:00",
			"Readings at a time that the clock skips (2027-03-28): 1, the first 02:30 taken as 03:30.", ""},
		{"clock that was not changed", file("2027-03-28", "01:30", "02:30", "03:30"), "00:30 01:30",
			"Readings at a time that the clock skips (2027-03-28): 1, the first 02:30 taken as 03:30.",
			"readings/x.csv:4: Time: found 2027-03-28 03:30, the time of line 3 too, expected one reading a time; " +
				"if the sensor's clock did not follow daylight saving time, name a zone without it in readings.zone in study.yaml, for example Etc/GMT-1 for one hour ahead of UTC"},
		{"autumn", file("2027-10-31", autumn...), "23:30 00:00 00:30 01:00 01:30 02:00", autumnNote, ""},
		{"autumn, newest first", "Time,Glucose (mg/dL)\n" + reversed(strings.TrimPrefix(file("2027-10-31", autumn...), "Time,Glucose (mg/dL)\n")),
			"23:30 00:00 00:30 01:00 01:30 02:00", autumnNote, ""},
		{"autumn, one reading an hour", file("2027-10-31", "01:30", "02:30", "02:30", "03:30"), "23:30 00:30 01:30 02:30",
			"Readings in an hour that the clock repeats (2027-10-31): 1 taken as before the change and 1 as after it, by their order.", ""},
		{"autumn, one pass", file("2027-10-31", "01:30", "02:30", "03:30"), "23:30 00:30 02:30",
			"Readings in an hour that the clock repeats (2027-10-31): 1 taken as before the change and 0 as after it, by their order. They may as well be from after it.", ""},
		{"offsets leave no doubt", "Time,Glucose (mg/dL)\n2027-10-31T02:30:00+02:00,100\n2027-10-31T02:30:00+01:00,100\n", "00:30 01:30", "", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, err := Read(folder("x.csv", c.content), "readings", Mapping{}, Study{Unit: MgdL, Zone: vienna})
			checkError(t, err, c.err)
			var utc []string
			for _, x := range r.Readings {
				if x.Time.Location() != vienna {
					t.Errorf("%v is not in the study's zone", x.Time)
				}
				utc = append(utc, x.Time.UTC().Format("15:04"))
			}
			if got := strings.Join(utc, " "); got != c.utc {
				t.Errorf("got %s UTC, want %s", got, c.utc)
			}
			if got := strings.Join(r.Files[0].Notes, "\n"); got != c.notes {
				t.Errorf("notes %q, want %q", got, c.notes)
			}
		})
	}
}

// The Mapping's zone says what the file's clock shows, the study's how times
// are told.
func TestTwoZones(t *testing.T) {
	content := "Time,Glucose (mg/dL)\n2027-07-01 07:00,100\n"
	r, err := Read(folder("x.csv", content), "readings", Mapping{Zone: zone(t, "Etc/GMT-1")}, Study{Unit: MgdL, Zone: zone(t, "Europe/Vienna")})
	if err != nil || clockText(r.Readings[0].Time) != "2027-07-01 08:00" {
		t.Errorf("got %v, %v", r.Readings, err)
	}
	r, err = Read(folder("x.csv", content), "readings", Mapping{}, Study{})
	if err != nil || !r.Readings[0].Time.Equal(time.Date(2027, 7, 1, 7, 0, 0, 0, time.UTC)) {
		t.Errorf("no zone at all: got %v, %v", r.Readings, err)
	}
}

// Every half hour of two years in zones of all sorts is found again, and times are
// the two passes of one clock time in the right order.
func TestInstants(t *testing.T) {
	for _, name := range []string{"Europe/Vienna", "America/St_Johns", "Australia/Lord_Howe", "Pacific/Apia", "Africa/Casablanca", "Asia/Kathmandu", "UTC"} {
		z := zone(t, name)
		for at := time.Date(2010, 1, 1, 0, 15, 0, 0, time.UTC); at.Year() < 2012; at = at.Add(30 * time.Minute) {
			local := at.In(z)
			wall := local.Add(offset(at, z)).UTC()
			found, n := instants(wall, z)
			if n == 0 || !found[0].Equal(at) && (n < 2 || !found[1].Equal(at)) || n == 2 && !found[0].Before(found[1]) {
				t.Fatalf("%s: %v gives %v, %d", name, local, found, n)
			}
		}
	}
}
