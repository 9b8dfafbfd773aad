package protocol

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func study(t interface{ Fatal(...any) }, text string) *Study {
	s, err := ParseStudy([]byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

const twoFoods = "foods: [{id: wheat, role: reference}, lupin]\n"

// Whatever a person types, an entry reads back as it was meant, white space
// aside.
func TestEntriesReadBack(t *testing.T) {
	s := study(t, twoFoods)
	rapid.Check(t, func(t *rapid.T) {
		text := func(label string) *string {
			x := rapid.StringMatching(`[^\x{FFFD}\p{Cc}\p{Cf}\p{Cs}\p{Co}\p{Cn}]{1,30}`).Draw(t, label)
			x = strings.Join(strings.Fields(x), " ")
			return &x
		}
		at, food, block := "07:30", "lupin", rapid.IntRange(1, 99).Draw(t, "block")
		value := float64(rapid.IntRange(-100, 5000).Draw(t, "value")) / 10
		ate, note, deviation := text("ate"), text("note"), text("deviation")
		e := Entry{Date: "2027-01-11", Time: &at, Food: &food, Block: &block, Value: &value, Ate: ate, Note: note, Deviations: []string{*deviation}}
		log, err := ParseLog(e.Format(), s)
		if err != nil {
			t.Fatalf("%s\n%v", e.Format(), err)
		}
		want := []Test{{Date: log.Tests[0].Date, Time: 450, HasTime: true, Food: "lupin", Block: block, Value: value, HasValue: true,
			Ate: *ate, Note: *note, Deviations: []string{*deviation}, Line: 2}}
		if *deviation == "" {
			want[0].Deviations = nil
		}
		if diff := cmp.Diff(want, log.Tests); diff != "" {
			t.Fatalf("%s\n%s", e.Format(), diff)
		}
	})
}

// The order in which tests were entered changes nothing.
func TestOrderOfEntriesDoesNotMatter(t *testing.T) {
	s := study(t, twoFoods+"questions: [lupin vs wheat]\n")
	entries := []string{
		"---\n{date: 2027-01-11, food: wheat, block: 1, value: 41}\n",
		"---\n{date: 2027-01-13, food: lupin, block: 1, value: 22}\n",
		"---\n{date: 2027-01-15, food: lupin, block: 2, value: 31}\n",
		"---\n{date: 2027-01-17, food: wheat, block: 2, value: 44}\n",
	}
	analyse := func(order ...int) *Analysis {
		text := ""
		for _, i := range order {
			text += entries[i]
		}
		log, err := ParseLog([]byte(text), s)
		if err != nil {
			t.Fatal(err)
		}
		a, err := (&Folder{Study: s, Log: log}).Analyse()
		if err != nil {
			t.Fatal(err)
		}
		return a
	}
	want := analyse(0, 1, 2, 3)
	for _, order := range [][]int{{3, 2, 1, 0}, {1, 3, 0, 2}} {
		if diff := cmp.Diff(want, analyse(order...)); diff != "" {
			t.Errorf("order %v:\n%s", order, diff)
		}
	}
}

// An excluded test changes no estimate; it is counted and shown beside.
func TestAnExcludedTestChangesNoEstimate(t *testing.T) {
	s := study(t, twoFoods+"questions: [lupin vs wheat]\nmargin: 5\n")
	log := "---\n{date: 2027-01-11, food: wheat, value: 41}\n---\n{date: 2027-01-13, food: lupin, value: 22}\n" +
		"---\n{date: 2027-01-15, food: lupin, value: 31}\n---\n{date: 2027-01-17, food: wheat, value: 44}\n"
	analyse := func(text string) *Analysis {
		l, err := ParseLog([]byte(text), s)
		if err != nil {
			t.Fatal(err)
		}
		a, err := (&Folder{Study: s, Log: l}).Analyse()
		if err != nil {
			t.Fatal(err)
		}
		return a
	}
	without := analyse(log)
	with := analyse(log + "---\n{date: 2027-01-19, food: lupin, value: 90, exclude: spilled}\n")
	if diff := cmp.Diff(without.Foods, with.Foods); diff != "" {
		t.Error(diff)
	}
	if *without.Questions[0].Low != *with.Questions[0].Low {
		t.Error("the interval changed")
	}
	if len(with.Excluded) != 1 || with.Excluded[0].Reason != "spilled" || with.Questions[0].All == nil || with.Questions[0].All.Tests != 5 {
		t.Errorf("excluded %+v, with it in %+v", with.Excluded, with.Questions[0].All)
	}
}

// FuzzParseLog: no text may panic, and what reads must be analysable or refused.
func FuzzParseLog(f *testing.F) {
	f.Add([]byte("---\n{date: 2027-01-11, food: wheat, block: 1, value: 41}\n---\n{date: 2027-01-13, food: lup"))
	f.Add([]byte("date: 2027-01-11\nfood: lupin\nvalue: 3\n---\ndate: 2027-01-11\ncorrects: yes\nvalue: null\n"))
	f.Add([]byte("--- {date: 2027-01-11, food: &a wheat, note: *a, deviation: [x, {y: z}]}\n"))
	f.Add([]byte("---\n{date: 2027-01-11, food: wheat, value: 41, outcomes: {r: 3, e: yes}}\n---\n{measured: 2027-01-12, outcomes: {n: 1e9}}\n---\n{date: 2027-01-13, food: lupin, value: 4, " +
		"outcomes: {r: 1, e: no, n: 0, k: 3.2}, happened: [\"08:10 eating\"]}\n---\n{date: 2027-01-13, looked_at: asked}\n"))
	s := study(f, twoFoods+"questions: [lupin vs wheat]\nmargin: 5\noutcomes: [{id: r, kind: rating}, {id: e, kind: event}, {id: n, kind: number, time: next morning}, {id: k, kind: ketones}]\n")
	f.Fuzz(func(t *testing.T, data []byte) {
		log, err := ParseLog(data, s)
		if err != nil {
			return
		}
		a, err := (&Folder{Study: s, Log: log}).Analyse()
		if err != nil {
			return
		}
		if _, err := json.Marshal(a); err != nil {
			t.Fatal(err)
		}
		for _, x := range []*Number{a.WithinPersonSD.Value, a.RepeatabilityLimit, a.Questions[0].Low, a.Questions[0].High} {
			if x == nil {
				continue
			}
			if _, err := x.MarshalJSON(); err != nil {
				t.Fatal(err)
			}
		}
	})
}

// FuzzParseStudy: no text may panic.
func FuzzParseStudy(f *testing.F) {
	f.Add(Starter(20000))
	f.Add([]byte("foods: [wheat, lupin]\nquestions: [lupin vs wheat]\nplan: {start: 2027-01-11, until: 2027-02-12}\n"))
	f.Add([]byte("foods: [wheat, lupin]\nquestions: [each vs reference, all pairs, lupin below 3, next wheat below 4, {ask: lupin vs wheat as ratio, primary: yes}]\n"))
	f.Add([]byte("foods: [{id: a, role: reference, repeats: 2}, b, c, {id: w, role: blank}]\nplan: {start: 2027-01-11, until: 2027-03-12, block_size: 2, run_in: 1, " +
		"sensors: [{start: 2027-01-10 18:00, days: 7, count: 3, settle: 0}], filming: [2027-01-20], washout_after: {a: 2}, per_week: 3, carry_over: balanced}\n"))
	f.Add([]byte("endpoint: {name: time_above, level: 140, secondary: [iauc, {name: time_above, level: 120}], smoothing: {median: 3}}\nfoods: [wheat]\n" +
		"quality: {baseline_slope: 2, leave_out: [gap, exercise]}\noutcomes: [{id: s, kind: rating, range: [0, 10], time: next morning, matters: 2}, {id: w, kind: weight, unit: lb}]\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := ParseStudy(data)
		if err != nil || s.Plan == nil {
			return
		}
		if schedule, err := DrawSchedule(s, 0); err == nil {
			if _, err := ParseSchedule(schedule.Format(), s); err != nil {
				t.Fatalf("a drawn schedule does not read back: %v\n%s", err, schedule.Format())
			}
		}
	})
}
