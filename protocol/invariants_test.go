package protocol

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// A drawn study, as text, so that all of the way from the files is taken.
type drawn struct {
	foods     []string
	roles     []string
	questions []string
	options   string
	tests     []drawnEntry
}

type drawnEntry struct {
	food, block int
	value       float64
	rest        string
}

func (d drawn) study() string {
	var b strings.Builder
	b.WriteString("endpoint: {name: peak_rise, unit: mg/dL}\n" + d.options + "foods:\n")
	for i, id := range d.foods {
		fmt.Fprintf(&b, "  - {id: %s, role: %s}\n", id, d.roles[i])
	}
	b.WriteString("questions:\n")
	for _, q := range d.questions {
		names := make([]string, 0, 2*len(d.foods))
		for i, id := range d.foods {
			names = append(names, fmt.Sprintf("{%d}", i), id)
		}
		b.WriteString("  - " + strings.NewReplacer(names...).Replace(q) + "\n")
	}
	return b.String()
}

// log writes the entries in an order; the date is that of the entry, not of its place.
func (d drawn) log(order []int) string {
	var b strings.Builder
	for _, i := range order {
		e := d.tests[i]
		block := ""
		if e.block > 0 {
			block = fmt.Sprintf(", block: %d", e.block)
		}
		fmt.Fprintf(&b, "---\n{date: %s, food: %s%s, value: %.17g%s}\n", Date(20000+i), d.foods[e.food], block, e.value, e.rest)
	}
	return b.String()
}

func (d drawn) inOrder() []int {
	order := make([]int, len(d.tests))
	for i := range order {
		order[i] = i
	}
	return order
}

type fataler interface{ Fatalf(string, ...any) }

func (d drawn) analyse(t fataler, order []int) *Analysis {
	s, err := ParseStudy([]byte(d.study()))
	if err != nil {
		t.Fatalf("%v\n%s", err, d.study())
	}
	log, err := ParseLog([]byte(d.log(order)), s)
	if err != nil {
		t.Fatalf("%v\n%s", err, d.log(order))
	}
	a, err := (&Folder{Study: s, Log: log}).Analyse()
	if err != nil {
		t.Fatalf("%v", err)
	}
	return a
}

func drawAStudy(t *rapid.T) drawn {
	d := drawn{}
	n := rapid.IntRange(1, 5).Draw(t, "foods")
	for i := range n {
		d.foods = append(d.foods, fmt.Sprintf("f%d", i))
		role := "test"
		if i == 0 {
			role = "reference"
		} else if i == n-1 && rapid.IntRange(0, 3).Draw(t, "blank") == 0 {
			role = "blank"
		}
		d.roles = append(d.roles, role)
	}
	models := []string{"", "", "blocks: random\n", "spread_by_food: yes\n", "ratio_scale: log\n"}
	if n == 1 {
		models = models[:1]
	}
	d.options = rapid.SampledFrom(models).Draw(t, "model") +
		rapid.SampledFrom([]string{"", "margin: 5\n"}).Draw(t, "margin")
	d.questions = []string{"{0} below 30"}
	if n > 1 {
		d.questions = []string{"{1} vs {0}"}
		// Ratios and limits change with a shift, so they are only there to see that
		// they do not break.
		if strings.Contains(d.options, "log") {
			d.questions = append(d.questions, "{1} vs {0} as ratio")
		}
		others := [][]string{nil, nil, {"{0} vs {1} as ratio"}, {"{0} below 30"}, {"next {1} below 40"}}
		if strings.Contains(d.options, "spread") || strings.Contains(d.options, "log") { // which refuse some of them
			others = others[:2]
		}
		if n > 2 && d.roles[2] != "blank" && rapid.IntRange(0, 7).Draw(t, "two questions") == 0 {
			d.questions = append(d.questions, "{2} vs {0}") // then critical values are simulated
		}
		d.questions = append(d.questions, rapid.SampledFrom(others).Draw(t, "more")...)
	}
	blocks := rapid.IntRange(0, 4).Draw(t, "blocks")
	kind := rapid.IntRange(0, 4).Draw(t, "values")
	for b := range max(1, blocks) {
		for f := range n {
			for range rapid.IntRange(0, 2).Draw(t, "times") {
				v := 0.0
				switch kind {
				case 0: // a few values, with ties
					v = rapid.SampledFrom([]float64{0, 20, 20, 45, -3, 300}).Draw(t, "value")
				case 1: // all the same
					v = 25
				default:
					v = math.Round(rapid.Float64Range(-20, 120).Draw(t, "value")*1000) / 1000
				}
				label := b + 1
				if blocks == 0 {
					label = 0
				}
				d.tests = append(d.tests, drawnEntry{food: f, block: label, value: v})
			}
		}
	}
	if len(d.tests) == 0 {
		d.tests = append(d.tests, drawnEntry{food: 0, block: min(1, blocks), value: 20})
	}
	return d
}

// numbers are what must not change, or change in a known way: means, differences,
// their standard errors and plain limits, the spread.
type numbers struct{ means, differences, widths []float64 }

func (a *Analysis) numbers() (n numbers) {
	add := func(to *[]float64, x *Number) {
		if x == nil {
			*to = append(*to, math.Inf(1)) // it is not there, and has to stay so
			return
		}
		*to = append(*to, float64(*x))
	}
	for _, f := range a.Foods {
		add(&n.means, f.Mean)
		add(&n.widths, f.SE)
	}
	for _, q := range a.Questions {
		if q.Kind != Difference {
			continue
		}
		add(&n.differences, q.Estimate)
		add(&n.differences, q.PlainLow)
		add(&n.differences, q.PlainHigh)
		add(&n.widths, q.SE)
	}
	add(&n.widths, a.WithinPersonSD.Value)
	return n
}

func sameNumbers(t *rapid.T, what string, got, want []float64, change func(float64) float64, scale float64) {
	if len(got) != len(want) {
		t.Fatalf("%s: %v, before %v", what, got, want)
	}
	for i := range got {
		w := want[i]
		if !math.IsInf(w, 1) {
			w = change(w)
		}
		if got[i] != w && !(math.Abs(got[i]-w) <= 1e-6*math.Max(scale, math.Abs(w))) {
			t.Fatalf("%s: %v, want %v (all: %v, before %v)", what, got[i], w, got, want)
		}
	}
}

// Whatever the tests are: no panic, no NaN and no infinity in the result, and the
// laws that every comparison of means obeys. Studies whose spread is zero but for
// rounding are only seen not to break.
func TestAnalysisInvariants(t *testing.T) {
	same := func(x float64) float64 { return x }
	rapid.Check(t, func(t *rapid.T) {
		d := drawAStudy(t)
		base := d.analyse(t, d.inOrder())
		text, err := json.Marshal(base)
		if err != nil {
			t.Fatalf("%v", err)
		}
		before := base.numbers()
		switch rapid.IntRange(0, 5).Draw(t, "law") {
		case 0: // the order of the entries does not matter
			again, err := json.Marshal(d.analyse(t, rapid.Permutation(d.inOrder()).Draw(t, "order")))
			if err != nil || string(again) != string(text) {
				t.Fatalf("another order of the entries, another result:\n%s\n%s", text, again)
			}
		case 1: // a shift moves the means and leaves the differences
			const by = 37
			moved := d
			moved.tests = slices.Clone(d.tests)
			for i := range moved.tests {
				moved.tests[i].value += by
			}
			after := moved.analyse(t, d.inOrder()).numbers()
			sameNumbers(t, "means", after.means, before.means, func(x float64) float64 { return x + by }, 1)
			if !strings.Contains(d.options, "log") {
				sameNumbers(t, "differences", after.differences, before.differences, same, 1)
				sameNumbers(t, "widths", after.widths, before.widths, same, 1)
			}
		case 2: // a scale scales
			const by = 1.7
			scaled := d
			scaled.tests = slices.Clone(d.tests)
			for i := range scaled.tests {
				scaled.tests[i].value *= by
			}
			after := scaled.analyse(t, d.inOrder()).numbers()
			times := func(x float64) float64 { return by * x }
			sameNumbers(t, "means", after.means, before.means, times, 1)
			sameNumbers(t, "differences", after.differences, before.differences, times, 1)
			sameNumbers(t, "widths", after.widths, before.widths, times, 1)
		case 3: // other names, the same numbers
			named := d
			named.foods = nil
			for i := range d.foods {
				named.foods = append(named.foods, fmt.Sprintf("x%d", 9-i))
			}
			after := named.analyse(t, d.inOrder()).numbers()
			sameNumbers(t, "means", after.means, before.means, same, 1)
			sameNumbers(t, "differences", after.differences, before.differences, same, 1)
			sameNumbers(t, "widths", after.widths, before.widths, same, 1)
		case 4: // an excluded test changes nothing
			more := d
			more.tests = append(slices.Clone(d.tests), drawnEntry{food: 0, block: d.tests[0].block, value: 99, rest: ", exclude: spilled"})
			after := more.analyse(t, more.inOrder()).numbers()
			sameNumbers(t, "means", after.means, before.means, same, 0)
			sameNumbers(t, "differences", after.differences, before.differences, same, 0)
			sameNumbers(t, "widths", after.widths, before.widths, same, 0)
		case 5: // other numbers for the blocks
			other := d
			other.tests = slices.Clone(d.tests)
			for i := range other.tests {
				if other.tests[i].block > 0 {
					other.tests[i].block = 50 - 7*other.tests[i].block
				}
			}
			after := other.analyse(t, d.inOrder()).numbers()
			sameNumbers(t, "means", after.means, before.means, same, 1)
			sameNumbers(t, "differences", after.differences, before.differences, same, 1)
			sameNumbers(t, "widths", after.widths, before.widths, same, 1)
		}
	})
}

// The files that the program writes itself: no text may panic, and what reads is
// written again to something that reads to the same.
func FuzzParseSchedule(f *testing.F) {
	s := study(f, twoFoods+"questions: [lupin vs wheat]\nplan: {start: 2027-01-11, until: 2027-02-12}\n")
	drawn, err := DrawSchedule(s, 1)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(drawn.Format())
	masked, _ := drawn.Mask(s)
	f.Add(masked.Format())
	f.Add([]byte("tests: [{date: 2027-01-11, food: &a wheat, block: 1}, {date: 2027-01-12, food: *a}]\namendments: [{made: 2027-01-11, replaced: [{}]}]\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		read, err := ParseSchedule(data, s)
		if err != nil {
			return
		}
		again, err := ParseSchedule(read.Format(), s)
		if err != nil {
			t.Fatalf("%v\n%s", err, read.Format())
		}
		if string(again.Format()) != string(read.Format()) {
			t.Fatalf("%s\n%s", read.Format(), again.Format())
		}
	})
}

func FuzzParseLedger(f *testing.F) {
	f.Add([]byte("# x\n---\nmade: 2027-01-11\ntests: 8\nblocks: 2\ndeclared: yes\nlevels: [0.01, 0, 0.02]\ndata_sha256: ab\n---\nmade: 2027-01-12\nfinal: yes\n"))
	f.Add([]byte("---\nlevels: [1, 2]\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		looks, err := ParseLedger(data)
		if err != nil {
			return
		}
		if _, err := json.Marshal(looks); err != nil {
			t.Fatal(err)
		}
	})
}

func FuzzParseKey(f *testing.F) {
	s := study(f, twoFoods+"questions: [lupin vs wheat]\n")
	f.Add(Key{Foods: map[string]string{"A": "wheat", "B": "lupin"}, Seed: 7, Amendments: []uint64{3}}.Format())
	f.Add([]byte("codes: {A: wheat, A: lupin}\nseed: -1\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		key, err := ParseKey(data, s, []string{"A", "B"})
		if err != nil {
			return
		}
		again, err := ParseKey(key.Format(), s, []string{"A", "B"})
		if err != nil || again.Seed != key.Seed || len(again.Foods) != len(key.Foods) {
			t.Fatalf("%v: %+v, %+v", err, key, again)
		}
	})
}

// Questions and claims come from the command line as well.
func FuzzQuestion(f *testing.F) {
	s := study(f, twoFoods+"questions: [lupin vs wheat]\n")
	for _, text := range []string{"lupin vs wheat", "lupin vs wheat as ratio", "lupin below 1e9", "(lupin+wheat) - lupin vs wheat", "lupin half the rise of wheat", "lupin lower than wheat", "next lupin below 3"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		_ = (&Folder{Study: s, Log: &Log{}}).Ask([]string{text})
		_, _ = s.ParseClaim(text)
		_, _ = s.pickQuestion(text)
		_, _ = ParseDate(text)
	})
}
