package protocol

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"time"

	"mealtrial/design"
	"mealtrial/protocol/problem"
	"mealtrial/protocol/store"
	"mealtrial/protocol/yamldoc"
)

// KeyFile holds the code of each food of a masked schedule. It is for the helper
// who cooks, not for the tester.
const KeyFile = "key.yaml"

// A Key is what undoes the masking: the food of each code, and the seeds of the
// draw and of its amendments. Seeds are secret, or whoever draws the study again
// without masking would see the foods.
type Key struct {
	Foods      map[string]string // by code
	Seed       uint64
	Amendments []uint64
}

// Mask returns the schedule with a code letter in the place of each food, and
// the key, which takes the seed out of the schedule. The letters are dealt by the
// draw itself, with another seed.
func (s *Schedule) Mask(study *Study) (*Schedule, Key) {
	n := len(study.Foods)
	days := make([]int, n)
	for i := range days {
		days[i] = i
	}
	dealt, err := design.Draw(design.CompleteBlocks(n, 1, days, 0), s.Seed^0x6b6579)
	if err != nil {
		panic("protocol: codes do not fit")
	}
	key := Key{Foods: map[string]string{}, Seed: s.Seed}
	for _, slot := range dealt {
		key.Foods[key.nextCode(study)] = study.Foods[slot.Treatment].ID
	}
	masked := *s
	masked.Masked = true
	return masked.encoded(&key, study), key
}

// nextCode returns the first letter that is neither a code yet nor the id of a
// food: in the log nobody could tell which of the two was meant.
func (k Key) nextCode(study *Study) string {
	for i := 0; ; i++ {
		letter := codeLetter(i)
		if _, taken := k.Foods[letter]; !taken && study.Food(letter) < 0 {
			return letter
		}
	}
}

// clash refuses, with a problem.List, a food that came after the masking and whose id
// is a code already.
func (k Key) clash(study *Study) error {
	known := map[string]bool{}
	for _, id := range k.Foods {
		known[id] = true
	}
	for _, f := range study.Foods {
		if _, code := k.Foods[f.ID]; code && !known[f.ID] {
			return problem.List{{File: StudyFile, Field: "foods", Found: fmt.Sprintf("the new id %q, which is a code of the masked schedule", f.ID),
				Expected: "an id that is no code, as nobody could tell which of the two was meant", Mend: "give the food another id"}}
		}
	}
	return nil
}

// encoded returns the schedule with codes for foods and without its seeds, which
// go into the key, as do codes for foods that have none yet.
func (s *Schedule) encoded(key *Key, study *Study) *Schedule {
	code := map[string]string{}
	for letter, id := range key.Foods {
		code[id] = letter
	}
	encode := func(tests []PlannedTest) []PlannedTest {
		tests = slices.Clone(tests)
		for i, t := range tests {
			if code[t.Food] == "" {
				code[t.Food] = key.nextCode(study)
				key.Foods[code[t.Food]] = t.Food
			}
			tests[i].Food = code[t.Food]
		}
		return tests
	}
	out := *s
	key.Seed, out.Seed = s.Seed, 0
	out.Tests = encode(s.Tests)
	out.Amendments, key.Amendments = slices.Clone(s.Amendments), nil
	for i := range out.Amendments {
		key.Amendments = append(key.Amendments, out.Amendments[i].Seed)
		out.Amendments[i].Seed = 0
		out.Amendments[i].Replaced = encode(out.Amendments[i].Replaced)
	}
	return &out
}

// codeLetter returns A … Z, then A1, B1, ….
func codeLetter(i int) string {
	letter := string(rune('A' + i%26))
	if i >= 26 {
		letter += fmt.Sprint(i / 26)
	}
	return letter
}

// Format writes the key as its file.
func (k Key) Format() []byte {
	var b bytes.Buffer
	b.WriteString("# SEALED: for the helper who cooks. Testers, stop reading here.\n")
	b.WriteString("# Opening it before the last test undoes the masking; mealtrial unmask records\n# when it was opened.\n")
	b.WriteString(strings.Repeat("#\n", 20) + fmt.Sprintf("format: %d\nseed: %d\n", FormatVersion, k.Seed))
	if len(k.Amendments) > 0 {
		fmt.Fprintf(&b, "amendment_seeds: [%s]\n", strings.Trim(strings.Join(strings.Fields(fmt.Sprint(k.Amendments)), ", "), "[]"))
	}
	b.WriteString("codes:\n")
	for _, code := range k.codes() {
		fmt.Fprintf(&b, "  %s: %s\n", code, quoted(k.Foods[code]))
	}
	return b.Bytes()
}

func (k Key) codes() []string {
	var codes []string
	for code := range k.Foods {
		codes = append(codes, code)
	}
	slices.Sort(codes)
	return codes
}

// ParseKey reads a key file. The error is a problem.List.
func ParseKey(data []byte, study *Study, codes []string) (*Key, error) {
	r := &yamldoc.Reader{File: KeyFile}
	text, ok := r.Clean(data)
	if !ok {
		return nil, r.Err()
	}
	parts := yamldoc.Split(text)
	if len(parts) != 1 {
		return nil, problem.List{{File: KeyFile, Found: Count(len(parts), "document", "documents"), Expected: "one key"}}
	}
	root, ok := r.Parse(parts[0])
	if !ok {
		return nil, r.Err()
	}
	if !readFormat(root) {
		return nil, r.Err()
	}
	m := root.Map("format", "seed", "amendment_seeds", "codes")
	key := &Key{Foods: map[string]string{}, Seed: readSeed(m["seed"])}
	if !m["seed"].Present() {
		root.Reject("no seed", "the seed of the draw", "restore the key from a copy")
	}
	for _, item := range m["amendment_seeds"].List() {
		seed := readSeed(item)
		if seed == 0 && len(r.Problems) == 0 {
			item.Reject("no seed", "the seed of an amendment", "restore the key from a copy")
		}
		key.Amendments = append(key.Amendments, seed)
	}
	for code, food := range m["codes"].Map(codes...) {
		if key.Foods[code] = food.Text(); study.Food(key.Foods[code]) < 0 {
			food.Reject(food.Found(), "a food of "+StudyFile, "")
		}
	}
	if err := r.Err(); err != nil {
		return nil, err
	}
	for _, code := range codes {
		if key.Foods[code] == "" {
			return nil, problem.List{{File: KeyFile, Field: "codes", Found: "no food for code " + code, Expected: "a food for every code of the schedule", Mend: "restore the key from a copy"}}
		}
	}
	return key, nil
}

// codesOf returns the codes of a masked schedule, in order of appearance.
func (s *Schedule) codesOf() (codes []string) {
	if s == nil || !s.Masked {
		return nil
	}
	add := func(tests []PlannedTest) {
		for _, t := range tests {
			if !slices.Contains(codes, t.Food) {
				codes = append(codes, t.Food)
			}
		}
	}
	add(s.Tests)
	for _, a := range s.Amendments {
		add(a.Replaced)
	}
	return codes
}

// Masked tells whether the tester is not to know the foods yet.
func (f *Folder) Masked() bool {
	return f.Schedule != nil && f.Schedule.Masked && f.Schedule.Unmasked == ""
}

// opened tells whether the schedule was masked, and the key was opened since.
func (f *Folder) opened() bool {
	return f.Schedule != nil && f.Schedule.Masked && f.Schedule.Unmasked != ""
}

// Unmask records in the schedule when the key was opened. The error is a
// problem.List when the schedule is not masked, or not any more, or the key is
// missing or wrong.
func (f *Folder) Unmask(now time.Time) error {
	if !f.Masked() {
		return problem.List{{File: ScheduleFile, Found: "a schedule that is not masked", Expected: "a masked one", Mend: "nothing is to be unmasked"}}
	}
	if _, err := f.readKey(); err != nil {
		return err
	}
	open := *f.Schedule
	open.Unmasked = now.UTC().Format(time.RFC3339)
	err := f.save("unmask", []string{ScheduleFile, KeyFile}, func() error {
		return f.write(store.File{Name: ScheduleFile, Data: open.Format()})
	})
	if err == nil {
		f.Schedule = &open
	}
	return err
}

func (f *Folder) readKey() (*Key, error) {
	data, err := f.read(KeyFile)
	if err != nil {
		return nil, err
	}
	if data == nil {
		return nil, problem.List{{File: KeyFile, Found: "no such file", Expected: "the key of the masked schedule", Mend: "ask the helper for it and put it into the study folder"}}
	}
	return ParseKey(data, f.Study, f.Study.codes)
}

// decode puts the foods in the place of their codes, once the key was opened.
func (f *Folder) decode() error {
	if !f.opened() {
		return nil
	}
	key, err := f.readKey()
	if err != nil {
		return err
	}
	*f = *f.revealed(key)
	return nil
}

// revealed returns the folder with the foods in the place of their codes, in the
// schedule and in the log.
func (f *Folder) revealed(key *Key) *Folder {
	out, schedule := *f, *f.Schedule
	decode := func(tests []PlannedTest) []PlannedTest {
		tests = slices.Clone(tests)
		for i := range tests {
			if id, ok := key.Foods[tests[i].Food]; ok {
				tests[i].Food = id
			}
		}
		return tests
	}
	schedule.Tests, schedule.Seed = decode(schedule.Tests), key.Seed
	schedule.Amendments = slices.Clone(schedule.Amendments)
	for i := range schedule.Amendments {
		a := &schedule.Amendments[i]
		a.Replaced = decode(a.Replaced)
		if i < len(key.Amendments) {
			a.Seed = key.Amendments[i]
		}
	}
	out.Schedule, out.Log = &schedule, f.Log.revealed(key)
	return &out
}

func (log *Log) revealed(key *Key) *Log {
	out := *log
	out.Tests = slices.Clone(log.Tests)
	for i, t := range out.Tests {
		if id, ok := key.Foods[t.Food]; ok && t.Coded {
			out.Tests[i].Food, out.Tests[i].Coded = id, false
		}
	}
	return &out
}

// Telling names what lets a tester guess foods in spite of the masking; "" where
// nothing does.
func (s *Schedule) Telling(study *Study) string {
	n, last := s.TestsByFood(), 0
	for _, t := range s.Tests {
		if t.RunIn {
			return "the run-in tests are those of the reference"
		}
	}
	for _, times := range n {
		if last > 0 && times != last {
			return "foods have different numbers of tests"
		}
		last = times
	}
	if len(study.Plan.After)+len(study.Plan.Before) > 0 {
		return "washouts of single foods show in the dates"
	}
	if slices.ContainsFunc(study.Foods, func(f Food) bool { return f.From != 0 || f.Until != 0 }) {
		return "days on which single foods may be had show in the dates"
	}
	return ""
}
