package randomisation

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"mealtrial/design"
	"mealtrial/stats/linear"
)

// A pair tests the difference of two treatments for many orders of the two among
// the places of both.
//
// The fit of response = treatment + block + error has the same columns Z for every
// such order: blocks, the other treatments, and "one of the two"; only the column
// x changes, ½ where a stands, −½ where b does, 0 elsewhere. With M = I − Z(ZᵀZ)⁻Zᵀ,
//
//	a − b = xᵀMy / xᵀMx,  t²/df = r²/(1 − r²),  r = |xᵀMy| / √(xᵀMx · yᵀMy)
//
// (Frisch and Waugh 1933, Econometrica 1:387; from memory), so |t| grows with r.
// xᵀMx depends on x only by how many more responses of a than of b each block has.
type pair struct {
	a, b  int
	drawn []int
	at    []int // places with a response of one of the two
	block []int // of each of them

	response []float64 // My at these places
	total    float64   // yᵀMy
	self     []float64 // Mx at these places, for the x that was drawn
	size     float64   // xᵀx, the same for all
	varies   bool      // xᵀMx differs between orders
	square   float64   // xᵀMx, of the last order
	// link[j] is Qᵀ of a unit vector at a place of the two in block j, where QQᵀ = I − M.
	link [][]float64
	lead []float64 // of a before b by block, halved
	work []float64

	root     float64 // √xᵀMx of the drawn order
	observed float64 // xᵀMy / √xᵀMx of the drawn order
	estimate float64
	limits   limits
	ended    bool // of the last order: it leaves not every difference open
}

func newPair(places []design.Place, response []float64, a, b int) (*pair, error) {
	p := &pair{a: a, b: b, drawn: treatmentsOf(places)}
	var rows []int
	treatments, blocks := 0, 0
	for i, place := range places {
		one := place.Treatment == a || place.Treatment == b
		treatments, blocks = max(treatments, place.Treatment+1), max(blocks, place.Block+1)
		switch {
		case !place.Kept:
		case missing(response[i]):
			p.varies = p.varies || one
		case math.IsInf(response[i], 0):
			panic("randomisation: a response is infinite")
		default:
			rows = append(rows, i)
			if one {
				p.at, p.block = append(p.at, i), append(p.block, place.Block)
			}
		}
	}
	if len(p.at) == 0 {
		return nil, ErrNotEstimable
	}
	p.size = float64(len(p.at)) / 4
	p.fit(places, rows, response, treatments, blocks)
	c, g := p.measure(p.drawn)
	if p.square <= pivotTolerance*p.size {
		return nil, ErrNotEstimable
	}
	p.root = math.Sqrt(p.square)
	p.observed, p.estimate = c/p.root, c/g
	p.limits = limits{root: p.root, observed: p.observed}
	return p, nil
}

// fit takes Z out of the responses and of the drawn x.
func (p *pair) fit(places []design.Place, rows []int, response []float64, treatments, blocks int) {
	z := mat.NewDense(len(rows), treatments+blocks, nil)
	y, x := make([]float64, len(rows)), make([]float64, len(rows))
	for n, i := range rows {
		t := places[i].Treatment
		switch t {
		case p.a:
			x[n] = 0.5
		case p.b:
			x[n], t = -0.5, p.a
		}
		z.Set(n, t, 1)
		z.Set(n, treatments+places[i].Block, 1)
		y[n] = response[i] - response[rows[0]]
	}
	fit := linear.NewFit(z, y)
	fit.Residuals(x)
	fit.Residuals(x) // what the first pass left by rounding
	scale := 0.0
	p.link, p.lead = make([][]float64, blocks), make([]float64, blocks)
	for n, i := range rows {
		scale = math.Max(scale, math.Abs(y[n]))
		if t := places[i].Treatment; t != p.a && t != p.b {
			continue
		}
		p.response, p.self = append(p.response, fit.Residual[n]), append(p.self, x[n])
		if j := places[i].Block; p.link[j] == nil {
			unit := make([]float64, len(rows))
			unit[n] = 1
			p.link[j] = fit.Residuals(unit)
		}
	}
	p.work = make([]float64, fit.Rank)
	p.total = fit.RSS
	if p.total <= 1e-24*scale*scale*float64(len(rows)) { // rounding, and no response
		p.total = 0
	}
}

// measure returns xᵀMy and xᵀM times the drawn x, and keeps xᵀMx.
func (p *pair) measure(order []int) (c, g float64) {
	for n, i := range p.at {
		if order[i] == p.a {
			c += p.response[n]
			g += p.self[n]
		} else {
			c -= p.response[n]
			g -= p.self[n]
		}
	}
	if p.square == 0 || p.varies {
		p.squareOf(order)
	}
	return c / 2, g / 2
}

func (p *pair) squareOf(order []int) {
	clear(p.lead)
	for n, i := range p.at {
		if order[i] == p.a {
			p.lead[p.block[n]] += 0.5
		} else {
			p.lead[p.block[n]] -= 0.5
		}
	}
	clear(p.work)
	for j, lead := range p.lead {
		if lead != 0 {
			for i, x := range p.link[j] {
				p.work[i] += lead * x
			}
		}
	}
	p.square = p.size
	for _, x := range p.work {
		p.square -= x * x
	}
}

// look returns r of an order, and notes which differences it leaves open. It is 0
// where the order has no estimate.
func (p *pair) look(order []int) float64 {
	c, g := p.measure(order)
	if p.square <= pivotTolerance*p.size {
		p.ended = p.limits.add(0, 0)
		return 0
	}
	root := math.Sqrt(p.square)
	p.ended = p.limits.add(c/root, g/root)
	if p.total == 0 {
		return 0
	}
	return math.Abs(c) / root / math.Sqrt(p.total)
}

// alike tells of the order last looked at whether it is as extreme as the drawn
// one whatever the responses: its x is the drawn one or the opposite, but for what
// Z explains.
func (p *pair) alike([]int) bool { return !p.ended }
