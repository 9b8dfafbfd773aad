package layout

// An exchange moves one test of treatment i from block a to block b and one of
// treatment j from b to a. Replicates and block sizes stay as they are.
type exchange struct{ i, a, j, b int }

// A state is a layout under search, with what is needed to score every exchange
// in constant time. With G the (regularised) inverse of C and M = GWG it holds,
// for each pair of blocks, the products of their columns nₐ/kₐ in G and in M.
type state struct {
	*incidence
	least, most []int
	weights     []float64 // W, v×v
	ridge       float64

	value float64 // tr(WG), the average variance

	g, m, c, work  []float64 // v×v
	gn, mn         []float64 // b×v: row a is G nₐ/kₐ, and M nₐ/kₐ
	ngn, nmn       []float64 // b×b: (nₐ/kₐ)ᵀ G (n_b/k_b), and with M
	present        [][]int   // distinct treatments of each block
	half           []float64 // b: 1/(2kₐ)
	refreshingWork int       // cost of refresh, in scored exchanges
}

func newState(p Problem, weights []float64, ridge float64) *state {
	v, b := p.treatments(), len(p.BlockSizes)
	s := &state{least: p.least(), most: p.most(), weights: weights, ridge: ridge}
	for _, square := range []*[]float64{&s.g, &s.m, &s.c, &s.work} {
		*square = make([]float64, v*v)
	}
	s.gn, s.mn = make([]float64, b*v), make([]float64, b*v)
	s.ngn, s.nmn = make([]float64, b*b), make([]float64, b*b)
	s.present = make([][]int, b)
	s.half = make([]float64, b)
	for j, k := range p.BlockSizes {
		s.half[j] = 0.5 / float64(k)
	}
	// A scored exchange takes as long as some twenty steps of a matrix product.
	s.refreshingWork = 1 + (3*v*v*v+(2*v+b)*sum(p.BlockSizes))/20
	return s
}

// refresh computes everything anew from the counts. An update of rank two would
// be cheaper, and would gather rounding errors along the search.
func (s *state) refresh() {
	v, b := s.v, s.b
	s.informationInto(s.c)
	// 11ᵀ makes a connected C regular without touching contrasts; the ridge
	// gives what a disconnected layout cannot estimate a large finite variance,
	// so that the search is led away from it.
	for i := range v {
		for j := range v {
			s.c[i*v+j]++
		}
		s.c[i*v+i] += s.ridge
	}
	if !invert(v, s.c, s.g, s.work) {
		panic("layout: regularised information matrix is not positive definite")
	}
	multiply(v, s.weights, s.g, s.work)
	multiply(v, s.g, s.work, s.m)
	s.value = 0
	for i := range v {
		s.value += s.work[i*v+i]
	}
	for a := range b {
		s.present[a] = s.present[a][:0]
		for i := range v {
			if s.counts[i*b+a] > 0 {
				s.present[a] = append(s.present[a], i)
			}
		}
		s.columnProduct(a, s.g, s.gn)
		s.columnProduct(a, s.m, s.mn)
	}
	for a := range b {
		for d := range a + 1 {
			x, y := s.blockProduct(a, d, s.gn), s.blockProduct(a, d, s.mn)
			s.ngn[a*b+d], s.ngn[d*b+a] = x, x
			s.nmn[a*b+d], s.nmn[d*b+a] = y, y
		}
	}
}

// columnProduct writes matrix·nₐ/kₐ into row a of out.
func (s *state) columnProduct(a int, matrix, out []float64) {
	row := out[a*s.v : a*s.v+s.v]
	clear(row)
	for _, i := range s.present[a] {
		x := float64(s.counts[i*s.b+a]) / float64(s.sizes[a])
		for h, y := range matrix[i*s.v : i*s.v+s.v] {
			row[h] += float64(x * y)
		}
	}
}

// blockProduct returns (nₐ/kₐ)ᵀ times row d of products.
func (s *state) blockProduct(a, d int, products []float64) float64 {
	t := 0.0
	for _, i := range s.present[a] {
		t += float64(float64(s.counts[i*s.b+a]) * products[d*s.v+i])
	}
	return t / float64(s.sizes[a])
}

// allows says whether the bounds of the cells allow an exchange between two
// different blocks.
func (n *incidence) allows(e exchange, least, most []int) bool {
	return e.i != e.j &&
		n.counts[e.i*n.b+e.a] > least[e.i] && n.counts[e.j*n.b+e.b] > least[e.j] &&
		n.counts[e.i*n.b+e.b] < most[e.i] && n.counts[e.j*n.b+e.a] < most[e.j]
}

func (n *incidence) swap(e exchange) {
	n.counts[e.i*n.b+e.a]--
	n.counts[e.i*n.b+e.b]++
	n.counts[e.j*n.b+e.b]--
	n.counts[e.j*n.b+e.a]++
}

// change returns by how much an exchange would change the average variance.
//
// With d = eⱼ − eᵢ the columns become nₐ + d and n_b − d, and
//
//	C' = C − dwᵀ − wdᵀ,   w = nₐ/kₐ − n_b/k_b + (1/kₐ + 1/k_b) d/2
//
// so that by the identity of Sherman, Morrison and Woodbury, with U = [d w] and
// S the 2×2 exchange matrix, tr(WG') − tr(WG) = tr((S − UᵀGU)⁻¹ UᵀMU).
func (s *state) change(e exchange) float64 {
	v, b := s.v, s.b
	ia, ib := e.i*v, e.j*v
	h := s.half[e.a] + s.half[e.b]

	dGd := s.g[ia+e.i] + s.g[ib+e.j] - 2*s.g[ia+e.j]
	dGu := s.gn[e.a*v+e.j] - s.gn[e.a*v+e.i] - s.gn[e.b*v+e.j] + s.gn[e.b*v+e.i]
	uGu := s.ngn[e.a*b+e.a] + s.ngn[e.b*b+e.b] - 2*s.ngn[e.a*b+e.b]
	hd := float64(h * dGd)
	dGw := dGu + hd
	wGw := uGu + float64(h*(dGu+dGw))

	dMd := s.m[ia+e.i] + s.m[ib+e.j] - 2*s.m[ia+e.j]
	dMu := s.mn[e.a*v+e.j] - s.mn[e.a*v+e.i] - s.mn[e.b*v+e.j] + s.mn[e.b*v+e.i]
	uMu := s.nmn[e.a*b+e.a] + s.nmn[e.b*b+e.b] - 2*s.nmn[e.a*b+e.b]
	dMw := dMu + float64(h*dMd)
	wMw := uMu + float64(h*(dMu+dMw))

	off := 1 - dGw
	// det(C')/det(C); at most 0 only through rounding, next to a singular C'.
	ratio := float64(off*off) - float64(dGd*wGw)
	if !(ratio > 1e-12) {
		return infinite
	}
	return (float64(wGw*dMd) + float64(2*float64(off*dMw)) + float64(dGd*wMw)) / ratio
}

// infinite stands for the change to a layout that estimates nothing.
const infinite = 1e300

// apply carries out an exchange and refreshes the state.
func (s *state) apply(e exchange) {
	s.swap(e)
	s.refresh()
}
