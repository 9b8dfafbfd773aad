package protocol

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"

	"mealtrial/protocol/problem"
	"mealtrial/protocol/store"
	"mealtrial/protocol/yamldoc"
)

// SharedFile says, in a shared copy, what it is and what was left out.
const SharedFile = "SHARED.txt"

// sharedKeys are the keys of a study file that an analysis needs. What is not
// here stays at home: titles and names, labels, answers about health, the zone, the
// layout of the sensor's files, and every key of which this list does not know.
var sharedKeys = map[string]bool{
	"format": true, "endpoint": true, "endpoint.*": true, "endpoint.smoothing.*": true, "quality": true, "quality.*": true, "margin": true, "level": true,
	"foods": true, "foods.id": true, "foods.role": true, "foods.repeats": true, "foods.from": true, "foods.until": true, "foods.opened": true, "foods.keeps": true,
	"questions": true, "questions.ask": true, "questions.primary": true, "looks": true, "looks.*": true,
	"blocks": true, "ratio_scale": true, "spread_by_food": true, "sensor": true, "spread": true, "spread.*": true,
	"plan": true, "plan.start": true, "plan.until": true, "plan.repeats": true, "plan.washout": true, "plan.washout_after": true, "plan.washout_after.*": true,
	"plan.washout_before": true, "plan.washout_before.*": true, "plan.weekdays": true, "plan.per_week": true, "plan.busy": true, "plan.filming": true,
	"plan.block_size": true, "plan.sensors": true, "plan.sensors.*": true, "plan.straddle": true, "plan.reference_per_block": true, "plan.run_in": true,
	"plan.carry_over": true, "plan.trend": true, "plan.consecutive": true, "plan.seed": true,
}

// A Share is a copy of a study to be given away.
type Share struct {
	Files   []store.File
	Dropped []string // sentences for people
	Checked bool     // the copy was analysed and gave the same numbers
	Why     string   // it was not; a sentence for people
}

// Share makes a copy of the study without notes, times of day and names beyond what
// the analysis needs. The readings become one value a test. It analyses the copy
// and refuses to give out one whose numbers differ. The key of a study that is still
// masked is in no part of it. The error is a problem.List where the study cannot be
// analysed.
func (f *Folder) Share() (*Share, error) {
	s := &Share{Dropped: []string{
		"readings: each test has the one number that was taken from its curve",
		"times of day, notes, what was eaten, and the words of deviations and exclusions",
		"comments, titles, the full names, portions, preparations and labels of foods, the answers about safety, the names of calendars and of earlier studies",
	}}
	s.Dropped = append(s.Dropped, f.unshared()...)
	responses, problems := f.Responses()
	if len(problems) > 0 {
		return nil, problems
	}
	study, err := f.sharedStudy(s)
	if err != nil {
		return nil, err
	}
	shared := &Folder{Log: &Log{}}
	if shared.Study, err = ParseStudy(study); err != nil {
		return nil, fmt.Errorf("the shared study file does not read: %w", err)
	}
	s.Files = append(s.Files, store.File{Name: StudyFile, Data: study})
	if f.Schedule != nil {
		schedule := f.sharedSchedule(shared.Study)
		if shared.Schedule, err = ParseSchedule(schedule, shared.Study); err != nil {
			return nil, fmt.Errorf("the shared schedule does not read: %w", err)
		}
		shared.Study.codes, shared.Study.masked = shared.Schedule.codesOf(), shared.Masked()
		s.Files = append(s.Files, store.File{Name: ScheduleFile, Data: schedule})
	}
	if log := f.sharedLog(responses); len(log) > 0 {
		if shared.Log, err = ParseLog(log, shared.Study); err != nil {
			return nil, fmt.Errorf("the shared log does not read: %w", err)
		}
		s.Files = append(s.Files, store.File{Name: LogFile, Data: log})
	}
	if ledger := f.sharedLedger(responses, shared); len(ledger) > 0 {
		if shared.Ledger, err = ParseLedger(ledger); err != nil {
			return nil, fmt.Errorf("the shared ledger does not read: %w", err)
		}
		s.Files = append(s.Files, store.File{Name: LedgerFile, Data: ledger})
	}
	switch counts := slices.ContainsFunc(responses, func(r Response) bool { return r.Counts() }); {
	case f.Masked():
		s.Dropped = append(s.Dropped, "the key: the foods are still masked, and the copy has their codes only")
		s.Why = "The foods are masked, so neither the study nor the copy can be analysed yet."
	case !counts:
		s.Why = "No test counts yet, so neither the study nor the copy can be analysed."
	default:
		if err := f.sameNumbers(shared); err != nil {
			return nil, err
		}
		s.Checked = true
	}
	s.Files = append(s.Files, store.File{Name: SharedFile, Data: s.text(f)})
	return s, nil
}

// unshared names results of this study that its copy cannot give.
func (f *Folder) unshared() (dropped []string) {
	if len(f.Study.Outcomes) > 0 {
		dropped = append(dropped, "the secondary outcomes and their values: the copy has no results of them")
	}
	if len(f.Study.Endpoint.Secondary) > 0 {
		dropped = append(dropped, "the secondary endpoints, as they are of the curves: the copy has no results of them")
	}
	if len(f.Safety()) > 0 {
		dropped = append(dropped, "the safety lines: that the copy shows none does not say that there were none")
	}
	if slices.ContainsFunc(f.Log.Tests, func(t Test) bool { return len(t.Happened) > 0 }) {
		dropped = append(dropped, "what happened on the days of the tests")
	}
	return dropped
}

// sharedStudy rewrites the study file with the keys that are shared.
func (f *Folder) sharedStudy(s *Share) ([]byte, error) {
	data, err := f.readSame(StudyFile, f.Study.whole)
	if err != nil {
		return nil, err
	}
	p := f.Study.Plan
	timed := p != nil && len(p.Sensors) > 0 // then times decide which days are free
	if timed {
		s.Dropped = append(s.Dropped, "kept all the same: the zone, the planned time of day and when sensors are set, as the draw depends on them")
	}
	out, ok := yamldoc.Rewrite(bytes.TrimPrefix(data, []byte("\ufeff")), func(path string) (bool, string) {
		parent := path
		if i := strings.LastIndex(path, "."); i >= 0 {
			parent = path[:i]
		}
		switch {
		case path == "plan.busy":
			busy := f.busyDays()
			return len(busy) > 0, "[" + strings.Join(busy, ", ") + "]"
		case path == "endpoint.secondary", path == "quality.sensors": // of the curves, which are not shared; sensors have names
			return false, ""
		case path == "spread.study":
			return true, "earlier study"
		case path == "zone", path == "plan.time", path == "plan.tolerance", path == "plan.fast":
			return timed, ""
		}
		return sharedKeys[path] || sharedKeys[parent+".*"], ""
	})
	if !ok {
		return nil, problem.List{{File: StudyFile, Found: "a study file that cannot be written anew", Expected: "one without aliases", Mend: "write the values out"}}
	}
	return append([]byte("# A shared copy of a study, written by mealtrial export; see "+SharedFile+".\n"), out...), nil
}

// readSame reads a file that has to be what was read before.
func (f *Folder) readSame(name, digest string) ([]byte, error) {
	data, err := readOptional(f.Dir, name)
	if err == nil && store.Digest(data) != digest {
		err = store.Changed(name)
	}
	return data, err
}

// busyDays are the days of the plan on which nothing may be held, whether by dates
// or by a calendar.
func (f *Folder) busyDays() (days []string) {
	p := f.Study.Plan
	for d := p.Start; d <= p.Until; d++ {
		bite, _ := d.At(p.Time, f.Study.Zone)
		if f.Study.booked(bite) || slices.ContainsFunc(p.Busy, func(r DateRange) bool { return r.First <= d && d <= r.Last }) {
			days = append(days, d.String())
		}
	}
	return days
}

// sharedSchedule writes the schedule with the foods as the tester may know them. The
// lock is that of the shared study file where it was kept, and broken where it was.
func (f *Folder) sharedSchedule(study *Study) []byte {
	s := *f.Schedule
	s.Calendars = nil
	if !f.Masked() {
		s.Masked, s.Unmasked = false, ""
	}
	time := defaultTime
	if study.Plan != nil {
		time = study.Plan.Time
	}
	timeless := func(tests []PlannedTest) []PlannedTest {
		tests = slices.Clone(tests)
		for i := range tests {
			tests[i].Time, tests[i].At = time, time.String()
		}
		return tests
	}
	kept := f.Study.Keeps(s.Lock())
	s.Tests, s.Amendments = timeless(s.Tests), slices.Clone(s.Amendments)
	for i := range s.Amendments {
		a := &s.Amendments[i]
		a.Who, a.Why, a.Replaced = "not shared", "not shared", timeless(a.Replaced)
		if kept && i == len(s.Amendments)-1 {
			a.StudyDigest = study.Digest
		}
	}
	if kept && len(s.Amendments) == 0 {
		s.StudyDigest = study.Digest
	}
	return s.Format()
}

// sharedLog writes one entry a test: its value, and whether it counts.
func (f *Folder) sharedLog(responses []Response) (log []byte) {
	onDay := map[Date]int{}
	for _, t := range f.Log.Tests {
		onDay[t.Date]++
	}
	rank := map[Date]int{}
	for i, t := range f.Log.Tests {
		r := responses[i]
		e := Entry{Date: t.Date.String(), Food: &t.Food, Masked: t.Masked, Begins: i == 0}
		if onDay[t.Date] > 1 { // only their order is told
			at := Clock(min(float64(rank[t.Date])*max(1, f.Study.Endpoint.Window), dayMinutes-float64(onDay[t.Date]-rank[t.Date]))).String()
			e.Time = &at
			rank[t.Date]++
		}
		if t.Block > 0 {
			e.Block = &t.Block
		}
		if r.Value != nil {
			x := float64(*r.Value)
			e.Value = &x
		}
		for range t.Deviations {
			e.Deviations = append(e.Deviations, "not shared")
		}
		if r.Excluded != "" && !r.runIn {
			why := "a reason that is not shared"
			if t.Exclude == "" {
				why = "by a rule on the readings, set before the tests"
			}
			e.Exclude = &why
		}
		log = append(log, e.Format()...)
	}
	return log
}

// sharedLedger writes the looks anew. The digest of the data is another one, as they
// have no times; only whether they were looked at already is kept.
func (f *Folder) sharedLedger(responses []Response, shared *Folder) []byte {
	var b bytes.Buffer
	now := dataDigest(responses)
	for i, l := range f.Ledger {
		l.begins = i == 0
		l.Data = Digest([]byte(fmt.Sprintf("look %d", i+1)))
		if i == len(f.Ledger)-1 && f.Ledger[i].Data == now {
			copied, _ := shared.Responses()
			l.Data = dataDigest(copied)
		}
		b.WriteString(l.entry())
	}
	return b.Bytes()
}

// compared are the parts of an analysis that a shared copy has to give again.
func (a *Analysis) compared() any {
	foods := slices.Clone(a.Foods)
	for i := range foods {
		foods[i].Name = ""
	}
	return []any{a.Endpoint, a.Model, a.Tests, a.Blocks, a.WithinPersonSD, a.RepeatabilityLimit, a.BetweenDaysSD, a.SpreadByFood, foods,
		a.Questions, a.Looks, a.Family, a.Robustness, len(a.Excluded), a.Seed, a.Randomised, a.Schedules, a.Lock}
}

// sameNumbers analyses a study and its copy, and refuses a copy with other numbers.
func (f *Folder) sameNumbers(shared *Folder) error {
	mine, err := f.Analyse()
	if err != nil {
		return err
	}
	theirs, err := shared.Analyse()
	if err != nil {
		return fmt.Errorf("the copy cannot be analysed: %w", err)
	}
	a, err1 := json.Marshal(mine.compared())
	b, err2 := json.Marshal(theirs.compared())
	if err := errors.Join(err1, err2); err != nil {
		return err
	}
	if !reflect.DeepEqual(a, b) {
		return errors.New("the copy without times, names and notes gives other numbers than the study, so it was not written: this version does not know how to share a study of this kind")
	}
	return nil
}

func (s *Share) text(f *Folder) []byte {
	var b strings.Builder
	fmt.Fprintf(&b, "A copy of a study for others, written by mealtrial %s.\nThe study file that it was made from has the SHA-256\n%s.\n\nWhat was left out or changed:\n", Version, f.Study.whole)
	for _, d := range s.Dropped {
		b.WriteString("  " + d + "\n")
	}
	if s.Checked {
		b.WriteString("\nThe copy was analysed when it was made, and gave the same numbers: see mealtrial analyse.\n")
	} else {
		b.WriteString("\n" + s.Why + "\n")
	}
	b.WriteString("Dates, the ids of foods and the kind of sensor are in it: look at the files before giving them away.\n")
	return []byte(b.String())
}
