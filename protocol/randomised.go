package protocol

import (
	"errors"
	"fmt"
	"math"

	"mealtrial/design"
	"mealtrial/design/randomisation"
)

// Orders is a number of equally likely orders.
type Orders struct {
	Number string `json:"number,omitempty"` // in decimal; absent where it is estimated or has more than 18 digits
	Log10  Number `json:"log10"`
	// LogError is the standard error of Log10; 0: the number is exact.
	LogError Number `json:"log10_error"`
}

func newOrders(c design.Count) Orders {
	const digits = 18
	o := Orders{Log10: Number(c.Log10)}
	if c.Number == nil {
		o.LogError = Number(c.ShareError / c.Share / math.Ln10)
	} else if text := c.Number.String(); len(text) <= digits {
		o.Number = text
	}
	return o
}

// A Randomisation is the test of one question against the draw of the schedule:
// package design/randomisation. It is for this question alone and this look alone.
type Randomisation struct {
	Null     randomisation.Null `json:"null_hypothesis"`
	P        *Number            `json:"p"` // two-sided; nil: see Missing
	Exact    bool               `json:"exact"`
	Draws    int                `json:"random_orders"`         // 0: every order was looked at
	PError   Number             `json:"p_error"`               // Monte Carlo standard error
	Seed     uint64             `json:"seed,omitempty"`        // of the random orders
	Orders   *Orders            `json:"orders"`                // equally likely ones under the null hypothesis
	Smallest *Number            `json:"smallest_p"`            // that this schedule can give
	LeftOut  int                `json:"tests_off_schedule"`    // that count, but stand at no place of the draw
	Days     bool               `json:"days_move"`             // other orders lie on other days
	Estimate *Number            `json:"estimate"`              // by least squares, of the tests that are in it
	Low      *Number            `json:"low"`                   // of the differences that are not rejected; nil also where not asked for
	High     *Number            `json:"high"`                  //
	Level    *Number            `json:"interval_level"`        // of Low and High; nil: not asked for
	NoLimits string             `json:"no_interval,omitempty"` // why there are no Low and High where they were asked for
	Missing  string             `json:"missing,omitempty"`     // why there is no p
}

// An inverter returns the differences that a randomisation test does not reject; not
// ok: at this level it rejects none. Nil: there is no such test of the question.
type inverter func(level float64) (answer randomisation.Answer, ok bool)

// randomisationSeed is that of the random orders, where not all are looked at.
const randomisationSeed = 1

// effort looks at every order where the answer takes milliseconds, and else at so
// many that a p-value of 0.05 has a standard error of 0.0015.
var effort = randomisation.Effort{Orders: 1 << 16, Draws: 20_000, Seed: randomisationSeed}

// judge is what the randomisation tests of an analysis share.
type judge struct {
	f         *Folder
	parts     []design.Part
	why       string // there is no test
	responses []Response
}

func (f *Folder) judge(counted []Response) judge {
	j := judge{f: f, responses: counted}
	if f.Schedule == nil {
		j.why = "no schedule was drawn, so there is nothing to hold the order against"
		return j
	}
	parts, ok := f.parts()
	if j.parts = parts; !ok {
		j.why = "the seeds do not draw this schedule from the study file as it is now, so the orders that were possible are not known"
	}
	return j
}

// data puts the responses at the places where they were drawn; without the blank
// where a question leaves it out, as the model does. off counts the tests that
// stand at no place.
func (j judge) data(blank bool) (d randomisation.Data, off int) {
	d.Parts = j.parts
	used := 0
	for _, p := range j.parts {
		for i, slot := range p.Slots {
			y := math.NaN()
			block := p.Blocks[slot.Block] + 1
			for _, r := range j.responses {
				if int(r.Date) == slot.Day && r.food == slot.Treatment && r.Block == block && p.Fate[i] == design.Kept && j.counts(r, blank) {
					y = float64(*r.Value)
					used++
				}
			}
			d.Response = append(d.Response, y)
		}
	}
	for _, r := range j.responses {
		if j.counts(r, blank) {
			off++
		}
	}
	return d, off - used
}

func (j judge) counts(r Response, blank bool) bool {
	return blank || j.f.Study.Foods[r.food].Role != RoleBlank
}

// schedules counts the schedules that the first draw could have given.
func (j judge) schedules() *Orders {
	if j.why != "" {
		return nil
	}
	return possible(j.parts[0].Problem)
}

// Possible counts the schedules that the draw could have given instead; nil for one
// from a file.
func (s *Schedule) Possible() *Orders {
	if s.layout == nil {
		return nil
	}
	return possible(s.layout.Problem)
}

func possible(p design.Problem) *Orders {
	const tries = 10_000
	n, err := design.CountOrders(p, randomisationSeed, tries)
	if err != nil {
		return nil
	}
	o := newOrders(n.Count)
	return &o
}

// test holds a comparison against the draw. A contrast is tested against "no food
// differs from any other", for which the blank stays in.
func (j judge) test(q Question) (*Randomisation, inverter) {
	s := j.f.Study
	out := &Randomisation{Missing: j.why}
	if out.Missing != "" {
		return out, nil
	}
	weights := s.Weights(q)
	blank := q.Kind == Contrast
	for _, i := range s.foodsOf(q) {
		blank = blank || s.Foods[i].Role == RoleBlank
	}
	d, off := j.data(blank)
	at := func(level float64) (randomisation.Answer, error) {
		return randomisation.Question(d, weights, level, effort)
	}
	answer, err := at(s.Level)
	switch {
	case errors.Is(err, randomisation.ErrNotEstimable):
		out.Missing = "no block has tests of both foods that count"
	case errors.Is(err, randomisation.ErrNoResidual):
		out.Missing = "no degrees of freedom are left for the spread"
	case err != nil:
		out.Missing = "the schedule is not one that the study file as it is now can draw"
	}
	if err != nil {
		return out, nil
	}
	orders := newOrders(answer.Orders)
	out.Null, out.P, out.Exact, out.Draws, out.PError = answer.Null, some(answer.P), answer.Exact, answer.Draws, Number(answer.Error)
	out.Orders, out.Smallest, out.LeftOut, out.Days, out.Estimate = &orders, some(answer.Smallest), off, answer.DaysMove, some(answer.Estimate)
	if !answer.Exact {
		out.Seed = effort.Seed
	}
	if answer.Null != randomisation.PairAlike || q.Kind == Ratio {
		return out, nil
	}
	return out, func(level float64) (randomisation.Answer, bool) {
		again, err := at(level)
		return again, err == nil && again.Interval != nil && again.Interval.Bounded
	}
}

// randomise tests every comparison against the draw, and inverts the tests where
// that was asked for. It returns the inverters, one a question.
func (a *Analysis) randomise(f *Folder, counted []Response) []inverter {
	j := f.judge(counted)
	inverters := make([]inverter, len(a.Questions))
	a.Schedules = j.schedules()
	for i, q := range append(f.Study.Questions[:len(f.Study.Questions):len(f.Study.Questions)], f.later...) {
		out := &a.Questions[i]
		if !q.Kind.compares() || out.Estimate == nil {
			continue
		}
		out.Randomisation, inverters[i] = j.test(q)
		if f.Invert {
			out.Randomisation.invert(inverters[i], 1-q.Kind.tails()*(1-f.Study.Level))
		}
	}
	return inverters
}

// invert fills in the differences that the test does not reject.
func (r *Randomisation) invert(interval inverter, level float64) {
	if r.P == nil {
		return
	}
	r.Level = some(level)
	if interval == nil {
		r.NoLimits = "only the difference of two foods has an interval by this test"
		return
	}
	if again, ok := interval(level); ok {
		r.Low, r.High = some(again.Interval.Low), some(again.Interval.High)
		return
	}
	r.NoLimits = fmt.Sprintf("nothing can be rejected at %s: the smallest p is %s", Percent(1-level), PValue(float64(*r.Smallest)))
}
