package rehearsal

import (
	"fmt"
	"slices"
	"time"

	"mealtrial/protocol"
	"mealtrial/protocol/readings"
	"mealtrial/stats"
	"mealtrial/stats/curve"
)

// A Rehearsal is a study run many times on simulated testers with one truth. As
// JSON it is a contract like an analysis.
type Rehearsal struct {
	Studies   int                `json:"studies"`
	Seed      uint64             `json:"seed"`
	Unit      string             `json:"unit"`
	Truth     map[string]float64 `json:"true_rises"` // by food, in mg/dL
	SD        float64            `json:"true_sd"`    // of the rise, in mg/dL
	Questions []Outcome          `json:"questions"`
	SD95      protocol.Number    `json:"sd_interval_holds_truth"` // share of studies; only for the peak rise
	Failed    int                `json:"failed"`                  // studies without an analysis
	Warnings  []string           `json:"warnings"`
	Caution   string             `json:"caution"`
}

// An Outcome is how often each verdict on a question came out. Shares are of the
// studies that were analysed.
type Outcome struct {
	Question  string                            `json:"question"`
	Truth     protocol.Number                   `json:"truth"` // in the endpoint's unit
	Verdicts  map[stats.Verdict]protocol.Number `json:"verdicts"`
	Holds     protocol.Number                   `json:"interval_holds_truth"`
	HalfWidth protocol.Number                   `json:"median_half_width"`
	Wrong     protocol.Number                   `json:"different_on_the_wrong_side"`
}

// Rehearse runs a study's schedule on simulated testers, seeds seed, seed+1, …,
// from readings to verdicts, and counts. Monte Carlo error of a share p of n
// studies is √(p(1−p)/n). The error says why no study could be analysed. watch may be nil.
func Rehearse(study *protocol.Study, schedule *protocol.Schedule, truth Truth, studies int, seed uint64, watch protocol.Watch) (*Rehearsal, error) {
	r := &Rehearsal{Studies: studies, Seed: seed, Unit: study.Endpoint.Unit(), Truth: truth.Rise, SD: truth.SD, Warnings: []string{}, Caution: protocol.ShortCaution}
	tally := newTally(study, truth)
	var failure error
	levels := (&protocol.Folder{Study: study, Schedule: schedule}).PlannedLevels()
	for i := range studies {
		if watch != nil {
			watch(int64(i), int64(studies))
		}
		f, err := once(study, schedule, truth, seed+uint64(i))
		if err != nil {
			return nil, err
		}
		a, err := f.Answers(levels)
		if err != nil {
			r.Failed++
			failure = err
			continue
		}
		tally.add(a, truth)
	}
	if r.Failed == studies {
		return nil, fmt.Errorf("none of %d rehearsed studies could be analysed: %w", studies, failure)
	}
	for _, q := range study.Questions {
		if !isDifference(q.Kind) {
			r.Warnings = append(r.Warnings, fmt.Sprintf("%s is not counted: a rehearsal counts questions about differences.", q.Text))
		}
	}
	r.Questions, r.SD95 = tally.outcomes(), tally.spread()
	if r.Failed > 0 {
		r.Warnings = append(r.Warnings, fmt.Sprintf("%d of %d studies lost so many tests that they could not be analysed.", r.Failed, studies))
	}
	return r, nil
}

// once makes one study in memory, with readings near the tests only.
func once(study *protocol.Study, schedule *protocol.Schedule, truth Truth, seed uint64) (*protocol.Folder, error) {
	w := newWorld(study, truth, seed)
	var log []byte
	var bites []time.Time
	for i, t := range schedule.Tests {
		e := w.eat(i, t, schedule.Tests[0].Date, nil)
		if truth.Lost > 0 && w.random.Float64() < truth.Lost {
			lost := "lost in the rehearsal"
			e.Exclude = &lost
		}
		log = append(log, e.Format()...)
		bites = append(bites, w.meals[len(w.meals)-1].at)
	}
	slices.SortFunc(w.meals, func(a, b meal) int { return a.at.Compare(b.at) })
	parsed, err := protocol.ParseLog(log, study)
	if err != nil {
		return nil, err
	}
	f := &protocol.Folder{Study: study, Schedule: schedule, Log: parsed}
	reach := minutes(study.Endpoint.Window + study.Endpoint.Baseline + study.Quality.MaxGap)
	near := func(at time.Time) bool {
		i, _ := slices.BinarySearchFunc(bites, at.Add(-reach), func(b, t time.Time) int { return b.Compare(t) })
		return i < len(bites) && bites[i].Sub(at).Abs() <= reach
	}
	for _, s := range w.sensors(schedule) {
		f.Recording.Readings = append(f.Recording.Readings, w.readings(s, near)...)
	}
	return f, nil
}

// trueResponse is the endpoint of a noise-free curve with this rise, on a dense
// grid of readings, in the study's unit.
func trueResponse(study *protocol.Study, rise float64) float64 {
	w := &world{study: study, meals: []meal{{at: time.Unix(0, 0), rise: rise, peak: peakMinute}}}
	var points []curve.Point
	for minute := -study.Endpoint.Baseline; minute <= study.Endpoint.Window; minute++ {
		glucose := readings.Convert(fasting+w.raised(time.Unix(0, 0).Add(minutes(minute))), readings.MgdL, study.Endpoint.GlucoseUnit)
		points = append(points, curve.Point{Minute: minute, Glucose: glucose})
	}
	span := curve.Window{BaselineFrom: -study.Endpoint.Baseline, Length: study.Endpoint.Window, MaxGap: study.Quality.MaxGap}
	f, err := curve.Measure(points, span)
	if err != nil {
		panic("rehearsal: a whole curve could not be measured")
	}
	x, _, ok := study.Endpoint.Of(f, points, span)
	if !ok {
		panic("rehearsal: a whole curve does not give the endpoint")
	}
	return x
}

// A tally counts over studies.
type tally struct {
	study    *protocol.Study
	analysed int
	sdHolds  int
	counts   []count
}

type count struct {
	truth        float64
	verdicts     map[stats.Verdict]int
	holds, wrong int
	widths       []float64
}

func newTally(study *protocol.Study, truth Truth) *tally {
	t := &tally{study: study}
	for _, q := range study.Questions {
		c := count{verdicts: map[stats.Verdict]int{}}
		if isDifference(q.Kind) {
			for i, w := range study.Weights(q) {
				c.truth += w * trueResponse(study, truth.Rise[study.Foods[i].ID])
			}
		}
		t.counts = append(t.counts, c)
	}
	return t
}

// isDifference tells whether the answer is a difference in the endpoint's unit.
func isDifference(kind protocol.QuestionKind) bool {
	return kind == protocol.Difference || kind == protocol.SameAs || kind == protocol.Contrast
}

func (t *tally) add(a *protocol.Analysis, truth Truth) {
	t.analysed++
	sd := a.WithinPersonSD
	want := readings.Convert(truth.SD, readings.MgdL, t.study.Endpoint.GlucoseUnit)
	if sd.Low != nil && float64(*sd.Low) <= want && want <= float64(*sd.High) {
		t.sdHolds++
	}
	for i, q := range a.Questions {
		c := &t.counts[i]
		c.verdicts[q.Verdict]++
		if q.Low == nil {
			continue
		}
		low, high := float64(*q.Low), float64(*q.High)
		if low <= c.truth && c.truth <= high {
			c.holds++
		}
		differs := q.Verdict == stats.Different || q.Verdict == stats.TooSmallToMatter
		if differs && (low > 0 && c.truth <= 0 || high < 0 && c.truth >= 0) {
			c.wrong++
		}
		c.widths = append(c.widths, (high-low)/2)
	}
}

func (t *tally) share(n int) protocol.Number {
	return protocol.Number(float64(n) / float64(t.analysed))
}

func (t *tally) spread() protocol.Number { return t.share(t.sdHolds) }

func (t *tally) outcomes() []Outcome {
	out := []Outcome{}
	for i, q := range t.study.Questions {
		if !isDifference(q.Kind) {
			continue
		}
		c := t.counts[i]
		o := Outcome{Question: q.Text, Truth: protocol.Number(c.truth), Verdicts: map[stats.Verdict]protocol.Number{},
			Holds: t.share(c.holds), Wrong: t.share(c.wrong)}
		for _, v := range []stats.Verdict{stats.Different, stats.TooSmallToMatter, stats.NoDifferenceThatMatters, stats.Open} {
			o.Verdicts[v] = t.share(c.verdicts[v])
		}
		slices.Sort(c.widths)
		if n := len(c.widths); n > 0 {
			o.HalfWidth = protocol.Number((c.widths[(n-1)/2] + c.widths[n/2]) / 2)
		}
		out = append(out, o)
	}
	return out
}
