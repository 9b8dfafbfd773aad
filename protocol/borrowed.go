package protocol

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"mealtrial/protocol/problem"
	"mealtrial/protocol/readings"
	"mealtrial/protocol/store"
	"mealtrial/protocol/yamldoc"
	"mealtrial/stats"
)

// An Earlier spread is the within-person SD of an earlier study of one's own, as
// the study file declares it.
type Earlier struct {
	Study    string        `json:"study"` // a name for it
	Endpoint EndpointName  `json:"endpoint"`
	Unit     readings.Unit `json:"unit"`       // of glucose
	Window   float64       `json:"window_min"` // minutes
	Sensor   string        `json:"sensor"`     // kind of sensor, in the tester's words
	InBlocks bool          `json:"in_blocks"`  // the SD is that within blocks
	SD       float64       `json:"sd"`         // in the endpoint's unit
	DF       int           `json:"df"`
	Digest   string        `json:"study_sha256"` // of its study file
}

// EndpointUnit is the unit of the SD.
func (e Earlier) EndpointUnit() string {
	return Endpoint{Name: e.Endpoint, GlucoseUnit: e.Unit}.Unit()
}

// Entry writes the spread as an entry of the study file.
func (e Earlier) Entry() string {
	return fmt.Sprintf("{study: %s, endpoint: %s, unit: %s, window: %s, sensor: %s, in_blocks: %s, sd: %s, df: %d, study_sha256: %s}",
		quoted(e.Study), e.Endpoint, e.Unit, plain(e.Window)+"m", quoted(e.Sensor), yesNo(e.InBlocks), plainDigits(e.SD), e.DF, e.Digest)
}

// plainDigits writes a number with six significant digits.
func plainDigits(x float64) string { return fmt.Sprintf("%.6g", x) }

func readEarlier(n yamldoc.Node) (all []Earlier) {
	for _, item := range n.List() {
		m := item.Map("study", "endpoint", "unit", "window", "sensor", "in_blocks", "sd", "df", "study_sha256")
		e := Earlier{Study: m["study"].Text(), Sensor: m["sensor"].Text(), InBlocks: m["in_blocks"].YesNo(), Digest: m["study_sha256"].Text(),
			Endpoint: EndpointName(m["endpoint"].OneOf(endpointNames...)), Unit: readUnit(m["unit"]),
			Window: readUpTo(m["window"], defaultWindow, 12*60), DF: m["df"].Whole(1, 1e4, 0)}
		const sd = "a within-person SD above zero"
		if x, ok := m["sd"].Number(sd); ok {
			if e.SD = x; !(x > 0 && x < 1e6) {
				m["sd"].Reject(m["sd"].Found(), sd, "")
			}
		}
		for _, field := range []string{"study", "unit", "sd", "df"} {
			if !m[field].Present() {
				item.Reject("an earlier spread without "+field, "study, endpoint, unit, window, sensor, in_blocks, sd and df", "let mealtrial spread write the entry")
				break
			}
		}
		all = append(all, e)
	}
	return all
}

// fits says why the spread cannot be pooled with that of a study; "": it can.
func (e Earlier) fits(s *Study, blocks bool) string {
	alike := func(a, b string) bool {
		return strings.EqualFold(strings.Join(strings.Fields(a), " "), strings.Join(strings.Fields(b), " "))
	}
	switch {
	case e.Endpoint != s.Endpoint.Name:
		return "its endpoint is the " + e.Endpoint.Words()
	case e.Endpoint == TimeAboveLevel:
		return "the level that it is a time above is not recorded with it"
	case e.Window != s.Endpoint.Window:
		return fmt.Sprintf("its window is %s min", plain(e.Window))
	case e.Sensor == "" || s.Sensor == "":
		return "the kind of sensor is not named in both studies"
	case !alike(e.Sensor, s.Sensor):
		return "its kind of sensor is " + e.Sensor
	case e.InBlocks != blocks:
		return "one of the two SDs is within blocks and the other is not"
	}
	return ""
}

// in returns the SD in the unit of a study.
func (e Earlier) in(s *Study) float64 {
	if e.EndpointUnit() == s.Endpoint.Unit() {
		return e.SD // also of a time
	}
	return readings.Convert(e.SD, e.Unit, s.Endpoint.GlucoseUnit)
}

// PlannedSpread is the pooled SD of the earlier studies that a planned study can
// pool its spread with, and what they are called; 0: there is none.
func (s *Study) PlannedSpread() (sd float64, df int, from string) {
	var names []string
	squares := 0.0
	for _, e := range s.Earlier {
		if e.fits(s, len(s.Foods) > 1) == "" {
			squares, df, names = squares+float64(e.DF)*e.in(s)*e.in(s), df+e.DF, append(names, e.Study)
		}
	}
	if df == 0 {
		return 0, 0, ""
	}
	return math.Sqrt(squares / float64(df)), df, "declared, from " + list(names)
}

// Borrowed says what became of the spreads of earlier studies.
type Borrowed struct {
	Studies []BorrowedStudy `json:"studies"`
	OwnSD   *Number         `json:"own_sd"`
	OwnDF   int             `json:"own_df"`
	AddedDF int             `json:"added_df"` // 0: the spread is that of this study alone
	// Statistic, of Bartlett's test that own and earlier spreads are alike, on one
	// degree of freedom less than there are spreads; nil where it cannot be made.
	Statistic *Number `json:"bartlett"`
	P         *Number `json:"bartlett_p"`
	Pooled    bool    `json:"pooled"`
	Why       string  `json:"why"`
}

// A BorrowedStudy is one of the earlier studies.
type BorrowedStudy struct {
	Study string `json:"study"`
	SD    Number `json:"sd"` // in this study's unit
	DF    int    `json:"df"`
	Fits  bool   `json:"fits"`
	Why   string `json:"why,omitempty"` // it does not fit
}

// poolLevel is the p-value from which on spreads are taken to be alike without
// more ado. Below it the pooled interval is taken only where it is not the narrower
// one, so that a chance agreement cannot shorten intervals: coverage is 95.0 to
// 95.5 % where spreads are alike, and where they differ by a factor of 1.5 it is
// 90.6 to 94.0 % (testdata/reference/pooling.csv). Preliminary tests at such levels:
// Bancroft and Han 1983, J Am Stat Assoc 78:981; from memory.
const poolLevel = 0.25

// borrow pools the spread with those of earlier studies that fit.
func (m *sample) borrow(s *Study) {
	if len(s.Earlier) == 0 || !m.excludesBlank(s) {
		return
	}
	b := &Borrowed{OwnDF: m.fit.DF}
	m.borrowed = b
	if m.ok {
		b.OwnSD = some(m.sd)
	}
	squares, added := 0.0, 0
	var sds []float64
	var dfs []int
	if m.ok {
		sds, dfs = []float64{m.sd}, []int{m.fit.DF}
	}
	for _, e := range s.Earlier {
		why := e.fits(s, len(m.blocks) > 0)
		sd := e.in(s)
		b.Studies = append(b.Studies, BorrowedStudy{Study: e.Study, SD: Number(sd), DF: e.DF, Fits: why == "", Why: why})
		if why == "" {
			squares, added = squares+float64(e.DF)*sd*sd, added+e.DF
			sds, dfs = append(sds, sd), append(dfs, e.DF)
		}
	}
	switch {
	case added == 0:
		b.Why = "no earlier study fits"
		return
	case !m.ok && m.fit.DF > 0:
		b.Why = "the repeats of this study agree exactly, which is no believable spread"
		return
	}
	pooled := m.fit.Pool(math.Sqrt(squares/float64(added)), added)
	b.Why = "this study has no spread of its own yet, so it rests on the earlier ones alone"
	if len(sds) > 1 {
		test := stats.Bartlett(sds, dfs)
		b.Statistic, b.P = some(test.Statistic), some(test.P)
		b.Why = "the spreads are alike as far as can be seen"
	}
	if m.ok && *b.P < poolLevel {
		b.Why = "the spreads may differ, so the wider of the two intervals is taken: the pooled one"
		width := func(sd float64, df int) float64 { return sd * stats.TQuantile((1+s.Level)/2, float64(df)) }
		together, _ := pooled.SD()
		if width(m.sd, m.fit.DF) > width(together, pooled.SpreadDF()) {
			b.Why = "the spreads may differ, so the wider of the two intervals is taken: that of this study alone"
			return
		}
	}
	b.Pooled, b.AddedDF = true, added
	m.fit = pooled
	m.sd, m.ok = pooled.SD()
}

// words says in a sentence what the spread rests on.
func (b *Borrowed) words() string {
	var fit, not []string
	for _, x := range b.Studies {
		if x.Fits {
			fit = append(fit, x.Study)
		} else {
			not = append(not, x.Study+" ("+x.Why+")")
		}
	}
	var out string
	switch {
	case b.Pooled:
		out = fmt.Sprintf("The spread is pooled with that of %s, which adds %s", list(fit), Count(b.AddedDF, "degree of freedom", "degrees of freedom"))
	case len(fit) > 0:
		out = "The spread is not pooled with that of " + list(fit)
	default:
		out = "The spread is that of this study alone"
	}
	out += ": " + b.Why
	if b.P != nil {
		out += fmt.Sprintf(" (Bartlett's test, p %s)", PValue(float64(*b.P)))
	}
	if len(not) > 0 {
		out += "; left out: " + list(not)
	}
	return out + "."
}

// SpreadToLend is the spread of a study in the form in which a later one takes it.
// It tells nothing of any food. The error is a problem.List.
func (f *Folder) SpreadToLend() (Earlier, error) {
	x, err := f.answer()
	if err != nil {
		return Earlier{}, err
	}
	m := x.main
	s := f.Study
	e := Earlier{Study: s.Title, Endpoint: s.Endpoint.Name, Unit: s.Endpoint.GlucoseUnit, Window: s.Endpoint.Window, Sensor: s.Sensor,
		InBlocks: len(m.blocks) > 0, DF: m.fit.DF, Digest: s.Digest}
	own, ok := m.fit.OwnSD()
	if !ok {
		return e, noSpreadToLend(m.noSpread())
	}
	e.SD = own
	return e, nil
}

func noSpreadToLend(why string) error {
	return problem.List{{File: LogFile, Found: why, Expected: "a food with at least two tests that count and differ", Mend: "repeat one food"}}
}

// DeclareSpread adds the spread of an earlier study to the study file in a folder,
// whose other lines stay as they were typed. The error is a problem.List: a
// schedule was drawn already, the study is declared already, or the spread could
// not be pooled.
func DeclareSpread(dir string, e Earlier) error {
	f, err := Load(dir)
	if err != nil {
		return err
	}
	refuse := func(file, found, expected, mend string) error {
		return problem.List{{File: file, Field: "spread", Found: found, Expected: expected, Mend: mend}}
	}
	switch {
	case f.Schedule != nil:
		return refuse(ScheduleFile, "a schedule that is drawn", "a spread that is declared before the draw, as all else", "delete "+ScheduleFile+" while nothing is eaten, declare the spread, and plan again")
	case slices.ContainsFunc(f.Study.Earlier, func(x Earlier) bool { return x.Digest == e.Digest && e.Digest != "" }):
		return refuse(StudyFile, "this earlier study already", "each one once", "nothing is to be done")
	}
	if why := e.fits(f.Study, len(f.Study.Foods) > 1); why != "" {
		return refuse(StudyFile, "a study with which that spread cannot be pooled: "+why, "the same endpoint, window and kind of sensor", "see the endpoint and the sensor in both study files")
	}
	old, err := readOptional(dir, StudyFile)
	if err != nil {
		return err
	}
	text, ok := yamldoc.AppendItem(old, "spread", e.Entry())
	if ok {
		var again *Study
		again, err = ParseStudy(text)
		ok = err == nil && len(again.Earlier) == len(f.Study.Earlier)+1
	}
	if !ok {
		return refuse(StudyFile, "a list that the entry cannot be added to", "spread as a list with one item a line", "add it yourself: spread:\n  - "+e.Entry())
	}
	return f.save("spread", []string{StudyFile, ScheduleFile}, func() error {
		return f.write(store.File{Name: StudyFile, Data: text})
	})
}
