package randomisation

import (
	"math/big"
	"slices"

	"mealtrial/design"
)

// Global tests that no treatment differs from any other (AllAlike). The
// statistic is the F ratio of the treatments in the least-squares fit of
//
//	response = treatment + block + error
//
// to the tests that count. It is held against the F ratios that the same
// responses give with other orders: of a schedule drawn at once, all that
// design.Draw can give, with labels and contents of blocks drawn again where they
// were. Draw being uniform over the allowed orders (see design.Exchange), the test is
// exact.
//
// Of an amended schedule the later draws depend on the earlier ones by what was
// lost and planned again. Given which treatments stood in each block of each
// draw, and what else design.Exchange keeps, every allowed order within these
// strata is equally likely; so treatments are only exchanged there, and the test is
// exact too.
//
// The errors are ErrNotEstimable, when no two treatments can be compared,
// ErrNoResidual and design.ErrNotDrawn.
func Global(d Data, e Effort) (Test, error) {
	return d.allAlike(nil, e)
}

// allAlike is Global, or with weights the test of a contrast by its t statistic.
func (d Data) allAlike(weights []float64, e Effort) (Test, error) {
	places := d.places()
	o, varies, err := d.wholeOrders(places)
	if err != nil {
		return Test{}, err
	}
	m := newModel(places, d.Response, d.treatments(), varies, weights)
	drawn := treatmentsOf(places)
	if err := m.check(drawn); err != nil {
		return Test{}, err
	}
	t := tester{observed: m.statistic(drawn), statistic: m.statistic, alike: func(treatments []int) bool {
		return m.alike(drawn, treatments)
	}}
	r := t.run(o, e)
	r.Null = AllAlike
	return r, nil
}

func (d Data) places() []design.Place {
	places := design.Places(d.Parts)
	if len(places) != len(d.Response) {
		panic("randomisation: one response a place is needed")
	}
	return places
}

func (d Data) treatments() int {
	k := 0
	for _, p := range d.Parts {
		k = max(k, p.Problem.Treatments)
	}
	return k
}

func treatmentsOf(places []design.Place) []int {
	out := make([]int, len(places))
	for i, p := range places {
		out[i] = p.Treatment
	}
	return out
}

// wholeOrders returns the orders of a test of all treatments, and whether the
// treatments of which responses count in a block vary among them.
func (d Data) wholeOrders(places []design.Place) (o orders, varies bool, err error) {
	missing := slices.ContainsFunc(sequence(len(places)), func(i int) bool { return places[i].Kept && missing(d.Response[i]) })
	exchange, err := design.NewExchange(d.Parts, sequence(d.treatments()))
	if err != nil {
		return nil, false, err
	}
	once := len(d.Parts) == 1 && !slices.ContainsFunc(places, func(p design.Place) bool { return !p.Kept })
	if !once {
		return exchanged{exchange}, missing, nil
	}
	return redrawn{d.Parts[0].Problem}, missing || !d.Parts[0].Problem.FixedContents(), nil
}

func sequence(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	return out
}

// redrawn are the orders of a problem that was drawn at once.
type redrawn struct{ problem design.Problem }

func (r redrawn) number() *big.Int { return design.Unrestricted(r.problem) }
func (r redrawn) restricted() bool { return r.problem.Restricted() }
func (r redrawn) moved() bool      { return !r.problem.FixedDays() }

func (r redrawn) each(visit func([]int)) { design.EachOrder(r.problem, seen(visit)) }

func (r redrawn) sample(seed uint64, draws, tries int, visit func([]int)) design.Tally {
	return design.Redraw(r.problem, seed, draws, tries, seen(visit))
}

func seen(visit func([]int)) func(design.Order) {
	return func(o design.Order) { visit(o.Treatments()) }
}

// exchanged are the orders that an exchange within strata leads to.
type exchanged struct{ *design.Exchange }

func (x exchanged) number() *big.Int { return x.Orders() }
func (x exchanged) restricted() bool { return x.Restricted() }
func (x exchanged) moved() bool      { return x.Moved() }

func (x exchanged) each(visit func([]int)) { x.Each(visit) }

func (x exchanged) sample(seed uint64, draws, tries int, visit func([]int)) design.Tally {
	return x.Sample(seed, draws, tries, visit)
}
