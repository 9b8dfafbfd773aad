package protocol

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

const planned = twoFoods + "plan: {start: 2027-01-11, until: 2027-02-12, repeats: 3, washout: 1, weekdays: [mon, wed, fri], busy: [2027-01-13, 2027-01-20..2027-01-24]}\n"

func TestScheduleReadsBack(t *testing.T) {
	s := study(t, planned)
	drawn, err := DrawSchedule(s, 0)
	if err != nil {
		t.Fatal(err)
	}
	back, err := ParseSchedule(drawn.Format(), s)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(drawn, back, cmpopts.EquateEmpty(), cmpopts.IgnoreUnexported(Schedule{})); diff != "" {
		t.Error(diff)
	}
	for _, test := range drawn.Tests {
		if day := test.Date.Weekday().String()[:3]; !strings.Contains("Mon Wed Fri", day) {
			t.Errorf("%s is a %s", test.Date, day)
		}
		for _, r := range s.Plan.Busy {
			if r.Contains(test.Date) {
				t.Errorf("%s is busy", test.Date)
			}
		}
	}
}

// SHA-256 of "abc": FIPS 180-4, the example of NIST.
func TestDigest(t *testing.T) {
	if got := Digest([]byte("abc")); got != "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad" {
		t.Error(got)
	}
}

// Identifiers stay the same when the calendar is written again, and differ
// between tests and between draws.
func TestUIDs(t *testing.T) {
	s := study(t, planned)
	a, _ := DrawSchedule(s, 1)
	b, _ := DrawSchedule(s, 2)
	seen := map[string]bool{}
	for i := range a.Tests {
		if seen[a.UID(i)] || a.UID(i) == b.UID(i) {
			t.Errorf("test %d: UID %s", i, a.UID(i))
		}
		seen[a.UID(i)] = true
	}
}

// The lock does not look at readings:, which is known after the draw only; one that an
// earlier version made of the whole file still holds.
func TestLockLeavesReadingsOut(t *testing.T) {
	const plain = "foods: [a, b]\n"
	with := plain + "readings: {unit: mg/dL}\n"
	s := study(t, with)
	if !s.Keeps(study(t, plain).Digest) || !s.Keeps(Digest([]byte(with))) || s.Keeps(study(t, "foods: [a, c]\n").Digest) {
		t.Errorf("digest %s", s.Digest)
	}
}
