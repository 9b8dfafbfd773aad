package protocol

import (
	"crypto/sha256"
	"errors"
	"fmt"

	"mealtrial/protocol/problem"
	"mealtrial/protocol/store"
	"mealtrial/protocol/yamldoc"
)

// LedgerFile holds the looks that were taken, in order.
const LedgerFile = "looks.yaml"

// A Look is one analysis of data that had not been analysed before.
type Look struct {
	Made     Date   `json:"made"`
	Tests    int    `json:"tests"` // that counted
	Blocks   int    `json:"finished_blocks"`
	Declared bool   `json:"declared"`
	Data     string `json:"data_sha256"` // of the responses
	Final    bool   `json:"final"`       // the last declared one
	// Nominal are the levels that it took; nil in ledgers of earlier versions.
	Nominal *Nominal `json:"nominal_levels"`

	begins bool // the first of a ledger, which names the format of the file
}

// Nominal levels are the error rates of a single question at one look: two-sided,
// of questions about differences between foods and of those with the blank; and
// one-sided, of questions about a limit. 0: none can be passed, or none is asked.
type Nominal struct {
	Main   Number `json:"differences"`
	Blank  Number `json:"differences_with_the_blank"`
	Limits Number `json:"limits"`
	// Other is of ratios and of questions whether two foods are the same, beside others.
	Other Number `json:"ratios_and_equality"`
}

// ParseLedger reads the ledger. The error is a problem.List.
func ParseLedger(data []byte) (looks []Look, err error) {
	r := &yamldoc.Reader{File: LedgerFile}
	text, ok := r.Clean(data)
	if !ok {
		return nil, r.Err()
	}
	for _, part := range yamldoc.Split(text) {
		root, ok := r.Parse(part)
		if !ok {
			return nil, mendLedger(r.Err())
		}
		if !readFormat(root) {
			return nil, r.Err()
		}
		m := root.Map("made", "tests", "blocks", "declared", "final", "levels", "data_sha256", "format")
		l := Look{Tests: m["tests"].Whole(0, 1e6, 0), Blocks: m["blocks"].Whole(0, 1e6, 0), Declared: m["declared"].YesNo(), Data: m["data_sha256"].Text()}
		l.Made, _ = readDate(m["made"])
		l.Final = m["final"].YesNo()
		l.Nominal = readNominal(m["levels"])
		looks = append(looks, l)
	}
	return looks, mendLedger(r.Err())
}

// readNominal reads the three levels, or four.
func readNominal(n yamldoc.Node) *Nominal {
	if !n.Present() {
		return nil
	}
	const expected = "three or four error rates from 0 to 1"
	var levels []Number
	for _, item := range n.List() {
		x, ok := item.Number(expected)
		if ok && !(x >= 0 && x < 1) {
			item.Reject(item.Found(), expected, "")
		}
		levels = append(levels, Number(x))
	}
	if len(levels) == 3 {
		levels = append(levels, 0)
	}
	if len(levels) != 4 {
		n.Reject(Count(len(levels), "level", "levels"), expected, "")
		return nil
	}
	return &Nominal{levels[0], levels[1], levels[2], levels[3]}
}

func mendLedger(err error) error {
	list, ok := err.(problem.List)
	if !ok {
		return err
	}
	for i := range list {
		list[i].Mend = "restore " + LedgerFile + " from a copy; without it the program does not know how often the data were looked at"
	}
	return list
}

// dataDigest is a digest of the responses, by which new data are told.
func dataDigest(responses []Response) string {
	h := sha256.New()
	for _, r := range responses {
		value := "none"
		if r.Value != nil {
			value = fmt.Sprintf("%.12g", float64(*r.Value))
		}
		fmt.Fprintf(h, "%s %s %s %d %s %s\n", r.Date, r.Time, r.Food, r.Block, value, r.Excluded)
	}
	return fmt.Sprintf("%x", h.Sum(nil))
}

// RecordLook writes the look of an analysis to the ledger, unless these data were
// looked at already or no schedule says what is a look. The error is one of the
// file system: then nobody should see the answers, as the look would not count.
func (f *Folder) RecordLook(a *Analysis, made Date) error {
	responses, _ := f.Responses()
	digest := dataDigest(responses)
	if f.Schedule == nil || len(f.Ledger) > 0 && f.Ledger[len(f.Ledger)-1].Data == digest {
		return nil
	}
	look := Look{Made: made, Tests: a.Tests, Blocks: a.Looks.Finished, Declared: a.Looks.Now > 0, Data: digest,
		Final: a.Looks.Now > 0 && a.Looks.Now == max(1, len(a.Looks.After)), Nominal: a.Looks.Nominal}
	look.begins = len(f.Ledger) == 0
	entry := look.entry()
	err := f.save("analyse", nil, func() error {
		old, err := readOptional(f.Dir, LedgerFile)
		if err != nil {
			return err
		}
		if store.Digest(old) != f.seen[LedgerFile] {
			// Another window that looked at the same data wrote the same look.
			if looks, err := ParseLedger(old); err == nil && len(looks) == len(f.Ledger)+1 && looks[len(f.Ledger)].Data == digest {
				return nil
			}
			return store.Changed(LedgerFile)
		}
		if old == nil {
			old = []byte("# Written by mealtrial: when the answers were looked at. Intervals depend on it.\n")
		}
		if n := len(old); n > 0 && old[n-1] != '\n' {
			old = append(old, '\n')
		}
		return f.write(store.File{Name: LedgerFile, Data: append(old, entry...)})
	})
	var problems problem.List
	if err != nil && !errors.As(err, &problems) {
		return fmt.Errorf("this look could not be noted in %s, so no answers are shown: %w", LedgerFile, err)
	}
	if err != nil {
		return err
	}
	f.Ledger = append(f.Ledger, look)
	return nil
}

// entry writes a look as a document of the ledger.
func (look Look) entry() string {
	entry := "---\n"
	if look.begins {
		entry += fmt.Sprintf("format: %d\n", FormatVersion)
	}
	entry += fmt.Sprintf("made: %s\ntests: %d\nblocks: %d\ndeclared: %s\n", look.Made, look.Tests, look.Blocks, yesNo(look.Declared))
	if look.Final {
		entry += "final: yes\n"
	}
	if n := look.Nominal; n != nil {
		entry += fmt.Sprintf("levels: [%v, %v, %v, %v]\n", float64(n.Main), float64(n.Blank), float64(n.Limits), float64(n.Other)) // to the last digit, as they are taken again
	}
	return entry + "data_sha256: " + look.Data + "\n"
}

func yesNo(x bool) string {
	if x {
		return "yes"
	}
	return "no"
}
