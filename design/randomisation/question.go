package randomisation

import (
	"math"

	"mealtrial/design"
)

// An Answer is the test of one question, Σ weights·treatment = 0.
type Answer struct {
	Test
	// Estimate is the least-squares estimate of Σ weights·treatment in the fit of
	// Global, in the unit of the responses.
	Estimate float64
	Interval *Interval // nil: there is none, as under AllAlike
}

// An Interval is the set of differences that a test does not reject.
type Interval struct {
	Level float64 // coverage, at least; in (0, 1), for example 0.95
	// Bounded says that there are limits. Without them no difference is ruled out: Smallest exceeds
	// 1 − Level.
	Bounded   bool
	Low, High float64 // limits, both not rejected; 0 when not Bounded
}

// Question tests a question. Weights are one a treatment and sum to zero.
//
// A difference of two treatments a and b is tested under PairAlike: the others may
// differ as they like. Given the places of all others and the contents of each
// block, a and b change places within each block (in an amended schedule, among the
// tests of a block that were drawn at once), and each of these orders that the
// restrictions allow is equally likely; design.Exchange says why, and for what
// restrictions and layouts. So the test is exact. In incomplete blocks it uses what blocks that
// hold both tell; a block with one of the two has nothing to exchange. The statistic is
// |t| of a − b in the fit of Global, or what grows with it.
//
// The interval holds each difference δ that the test does not reject at 1 − level
// when δ is taken off the responses of a: it assumes that a shifts each response by
// the same δ against b, and then covers δ with a chance of at least level (Lehmann
// 1963, Ann Math Statist 34:1507; from memory). With as many responses as places an
// order x counts as long as δ lies between
//
//	(t₀ − tₓ) / (g₀ − gₓ)  and  (t₀ + tₓ) / (g₀ + gₓ)
//
// t being half the sums of the responses of a less those of b, and g what t is for
// the responses 1 for a and 0 for b of the drawn order. Of n pairs these are the
// means of the differences over each subset of the pairs, and the limits are
// certain ones of them in order of size. Where responses are missing each t and g is
// divided by the square root of its variance under the order.
//
// Any other question is tested under AllAlike by |t|: no exact test of it exists
// that leaves the other treatments free, and where they differ this one may reject
// for their sake. Null says which it was.
//
// Before the first response, with 0 for each, Orders and Smallest tell what a
// schedule can show.
//
// The errors are those of Global. Question panics when weights are not as many as
// treatments, all zero or do not sum to zero, and for a level outside (0, 1).
func Question(d Data, weights []float64, level float64, e Effort) (Answer, error) {
	if !(level > 0 && level < 1) {
		panic("randomisation: level must lie between 0 and 1")
	}
	asked := d.checkWeights(weights)
	if len(asked) == 2 {
		return d.pair(asked[0], asked[1], weights[asked[0]], level, e)
	}
	places := d.places()
	m := newModel(places, d.Response, d.treatments(), true, weights)
	drawn := treatmentsOf(places)
	if err := m.check(drawn); err != nil {
		return Answer{}, err
	}
	m.sum(drawn)
	_, estimate := m.solve()
	test, err := d.allAlike(weights, e)
	return Answer{Test: test, Estimate: estimate}, err
}

// checkWeights returns the treatments whose weight is not zero.
func (d Data) checkWeights(weights []float64) (asked []int) {
	sum, size := 0.0, 0.0
	for t, w := range weights {
		sum += w
		size += math.Abs(w)
		if w != 0 {
			asked = append(asked, t)
		}
	}
	if len(weights) != d.treatments() || !(size > 0) || !(math.Abs(sum) <= 1e-12*size) {
		panic("randomisation: weights of a question must sum to zero, one a treatment, not all zero")
	}
	return asked
}

// pair tests a − b, and returns the estimate and interval of weight·(a − b).
func (d Data) pair(a, b int, weight, level float64, e Effort) (Answer, error) {
	x, err := design.NewExchange(d.Parts, []int{a, b})
	if err != nil {
		return Answer{}, err
	}
	p, err := newPair(d.places(), d.Response, a, b)
	if err != nil {
		return Answer{}, err
	}
	t := tester{observed: p.look(p.drawn), statistic: p.look, alike: p.alike}
	p.limits.reset()
	answer := Answer{Test: t.run(exchanged{x}, e), Estimate: weight * p.estimate}
	answer.Null = PairAlike
	if !answer.Exact {
		p.limits.endless++ // the drawn order counts too
	}
	i := p.limits.interval(level)
	i.Low, i.High = weight*i.Low, weight*i.High
	if weight < 0 {
		i.Low, i.High = i.High, i.Low
	}
	answer.Interval = &i
	return answer, nil
}
