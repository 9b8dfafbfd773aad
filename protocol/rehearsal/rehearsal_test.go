package rehearsal

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"

	"mealtrial/protocol"
	"mealtrial/stats"
)

func planned(t *testing.T, text string) (*protocol.Study, *protocol.Schedule) {
	t.Helper()
	study, err := protocol.ParseStudy([]byte(text))
	if err != nil {
		t.Fatal(err)
	}
	schedule, err := protocol.DrawSchedule(study, 1)
	if err != nil {
		t.Fatal(err)
	}
	return study, schedule
}

const threeNoodles = `
zone: Europe/Vienna
endpoint: {name: peak_rise, unit: mg/dL, window: 120m}
margin: 8
foods: [{id: wheat, role: reference}, {id: lupin}, {id: konjac}]
questions: [lupin vs wheat, konjac vs lupin]
plan: {start: 2027-03-20, until: 2027-05-12, repeats: 4, washout: 1}
`

func truth() Truth {
	tr := Usual
	tr.Rise = map[string]float64{"wheat": 50, "lupin": 38, "konjac": 38}
	tr.SD = 8
	return tr
}

// From simulated readings, across a change of the clocks, to intervals: they hold
// the truth 95 times in 100, and the share of verdicts is what the closed form
// of power says, both within four standard errors of 600 studies. The sensors'
// gain and the readings' noise make the simulated spread a little larger than
// the tester's, so the closed form gets the SD that the studies found.
func TestRehearsalAgreesWithPower(t *testing.T) {
	study, schedule := planned(t, threeNoodles)
	const studies = 600
	r, err := Rehearse(study, schedule, truth(), studies, 1, nil)
	if err != nil {
		t.Fatal(err)
	}
	power, err := protocol.NewPower(study, protocol.PowerOptions{SD: 8.2, DF: math.Inf(1), Difference: 12, Least: 4, Most: 4})
	if err != nil {
		t.Fatal(err)
	}
	for _, q := range r.Questions {
		if slack := 4 * math.Sqrt(0.05*0.95/studies); math.Abs(float64(q.Holds)-0.95) > slack {
			t.Errorf("%s: the truth is held by %.3f of the intervals", q.Question, float64(q.Holds))
		}
	}
	closed := power.Rows[0].Chances
	for i, want := range map[int]protocol.Number{0: closed[2].Different, 1: closed[0].Different} {
		got := r.Questions[i].Verdicts[stats.Different]
		if slack := 4*math.Sqrt(float64(want)*(1-float64(want))/studies) + 0.01; math.Abs(float64(got-want)) > slack {
			t.Errorf("%s: %.3f different in the rehearsal, %.3f by the closed form", r.Questions[i].Question, float64(got), float64(want))
		}
	}
}

func TestRehearsalIsDeterministic(t *testing.T) {
	study, schedule := planned(t, threeNoodles)
	a, errA := Rehearse(study, schedule, truth(), 5, 9, nil)
	b, errB := Rehearse(study, schedule, truth(), 5, 9, nil)
	if errA != nil || errB != nil {
		t.Fatal(errA, errB)
	}
	if diff := cmp.Diff(a, b); diff != "" {
		t.Error(diff)
	}
}

// Lost tests widen intervals.
func TestLostTestsWidenIntervals(t *testing.T) {
	study, schedule := planned(t, threeNoodles)
	whole, err := Rehearse(study, schedule, truth(), 60, 1, nil)
	if err != nil {
		t.Fatal(err)
	}
	losing := truth()
	losing.Lost = 0.25
	lost, err := Rehearse(study, schedule, losing, 60, 1, nil)
	if err != nil {
		t.Fatal(err)
	}
	if lost.Questions[0].HalfWidth <= whole.Questions[0].HalfWidth {
		t.Errorf("half-width %v with a quarter lost, %v with none", lost.Questions[0].HalfWidth, whole.Questions[0].HalfWidth)
	}
}

// The simulated truth in the endpoint's unit: a noise-free peak is its rise, in
// mmol/L with the molar mass of glucose, and the area grows with it.
func TestTrueResponse(t *testing.T) {
	study, _ := planned(t, threeNoodles)
	if got := trueResponse(study, 40); math.Abs(got-40) > 0.05 {
		t.Errorf("peak of a rise of 40: %g", got)
	}
	study.Endpoint.GlucoseUnit = "mmol/L"
	if got := trueResponse(study, 36.0312); math.Abs(got-2) > 0.005 {
		t.Errorf("peak of a rise of 36 mg/dL: %g mmol/L, want 2", got)
	}
	study.Endpoint.Name = protocol.IncrementalArea
	if one, two := trueResponse(study, 20), trueResponse(study, 40); math.Abs(two-2*one) > 1e-9 {
		t.Errorf("areas %g and %g", one, two)
	}
}

// A difference too small to matter is a difference: where foods are equal it lies on
// the wrong side as well.
func TestTooSmallToMatterCanBeWrong(t *testing.T) {
	study, _ := planned(t, threeNoodles)
	low, high := protocol.Number(1), protocol.Number(4)
	c := newTally(study, truth())
	c.add(&protocol.Analysis{Questions: []protocol.Answer{
		{Verdict: stats.TooSmallToMatter, Low: &low, High: &high}, // the truth is -12
		{Verdict: stats.TooSmallToMatter, Low: &low, High: &high}, // the truth is 0
	}}, truth())
	for i, o := range c.outcomes() {
		if o.Wrong != 1 {
			t.Errorf("question %d: wrong in %v", i+1, o.Wrong)
		}
	}
}
