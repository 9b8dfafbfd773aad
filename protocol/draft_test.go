package protocol

import (
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// Whatever a person types in words, the study file of a draft reads back as what they
// typed, or the field is named as wrong; nothing they type becomes another key.
func TestDraftReadsBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		words := rapid.StringMatching(`[ -~äß漢"'#:\[\]{}\\]{1,30}`).Filter(func(s string) bool { return strings.Join(strings.Fields(s), " ") == s })
		d := NewDraft(20_000, rapid.SampledFrom([]string{"", "Local", "Europe/Vienna", "Nowhere/Else"}).Draw(t, "zone"))
		d.Title, d.Sensor, d.AdvisedBy = words.Draw(t, "title"), words.Draw(t, "sensor"), words.Draw(t, "advised by")
		d.Margin = "8"
		d.Foods = []DraftFood{{"a", words.Draw(t, "name"), words.Draw(t, "portion")}, {ID: "b", Name: words.Draw(t, "other name")}}
		d.Reference, d.Water, d.Questions = "a", rapid.Bool().Draw(t, "water"), "b vs a, b below 30"
		s, err := ParseStudy(d.Text())
		if err != nil {
			t.Fatalf("%v\n%s", err, d.Text())
		}
		if s.Title != d.Title || s.Sensor != d.Sensor || s.Safety.AdvisedBy != d.AdvisedBy || s.Foods[0].Name != d.Foods[0].Name || s.Foods[0].Portion != d.Foods[0].Portion ||
			s.Foods[1].Name != d.Foods[1].Name || len(s.Questions) != 2 || !s.Safety.Answered || (len(s.Foods) == 3) != d.Water {
			t.Fatalf("%+v became\n%s", d, d.Text())
		}
	})
}

func TestDraftChecksOneField(t *testing.T) {
	for _, c := range []struct {
		field string
		set   func(*Draft)
		wrong string // "": nothing is
	}{
		{DraftMargin, func(d *Draft) { d.Margin = "8" }, ""},
		{DraftMargin, func(d *Draft) { d.Margin = "8,5" }, "expected a number above zero"},
		{DraftMargin, func(d *Draft) { d.Margin = "-1" }, "expected a number above zero"},
		{DraftPlan, func(d *Draft) { d.Margin = "nonsense" }, ""}, // another field's
		{DraftPlan, func(d *Draft) { d.Start = "2024-02-30" }, "a date such as 2027-01-11 that exists"},
		{DraftPlan, func(d *Draft) { d.Until = "2020-01-01" }, "a date on or after the start"},
		{DraftPlan, func(d *Draft) { d.Time = "half past seven" }, "a time of day"},
		{DraftPlan, func(d *Draft) { d.DaysOff = "sat, sundays, 2024-12-24..2024-12-26" }, ""},
		{DraftPlan, func(d *Draft) { d.DaysOff = "tomorrow" }, "a date such as"},
		{DraftPlan, func(d *Draft) { d.DaysOff = "mon,tue,wed,thu,fri,sat,sun" }, "every day of the week off"},
		{DraftZone, func(d *Draft) { d.Zone = "Nowhere/Else" }, "a zone of the IANA time zone database"},
		{DraftFoods, func(d *Draft) { d.Foods = []DraftFood{{ID: "two words"}} }, "an id of letters"},
		{DraftFoods, func(d *Draft) { d.Foods, d.Water = []DraftFood{{ID: WaterID}}, true }, "a second time"},
		{DraftQuestions, func(d *Draft) { d.Foods = []DraftFood{{ID: "a"}}; d.Questions = "a vs b" }, `found the food "b"`},
	} {
		d := NewDraft(20_000, "")
		c.set(&d)
		err := d.Check(c.field)
		if c.wrong == "" && err != nil || c.wrong != "" && (err == nil || !strings.Contains(err.Error(), c.wrong)) {
			t.Errorf("%s of %+v: %v, want %q", c.field, d, err, c.wrong)
		}
	}
}

// The days off that are days of the week leave the others, in the order of ISO 8601.
func TestDraftDaysOff(t *testing.T) {
	d := Draft{DaysOff: "Sat, sunday, 2026-12-24"}
	if d.Weekdays() != "mon, tue, wed, thu, fri" || d.Busy() != `"2026-12-24"` {
		t.Errorf("weekdays %q, busy %q", d.Weekdays(), d.Busy())
	}
	if id := FoodID("Bäcker's Brot (neu), 漢字"); id != "bäcker-s-brot-neu-漢字" || !validID.MatchString(id) {
		t.Errorf("id %q", id)
	}
}
