package design

import (
	"math"
	"math/big"
	"slices"
)

// mostEnumerated is the number of orders up to which CountOrders looks at each.
const mostEnumerated = 1 << 17

// A Count is a number of orders.
type Count struct {
	Number *big.Int // exact; nil when only estimated
	Log10  float64  // of the number
	// Share is the share of the orders without restrictions that is allowed, and
	// ShareError its standard error: 0 when Number is exact.
	Share, ShareError float64
}

// newCount returns the count of a share of a number of orders.
func newCount(unrestricted *big.Int, share, shareError float64) Count {
	return Count{Log10: log10(unrestricted) + math.Log10(share), Share: share, ShareError: shareError}
}

// ExactCount returns the count of orders of which all are known, out of a number
// without restrictions. It panics when there are none.
func ExactCount(number, unrestricted *big.Int) Count {
	if number.Sign() <= 0 || number.Cmp(unrestricted) > 0 {
		panic("design: not a number of orders")
	}
	share, _ := new(big.Rat).SetFrac(number, unrestricted).Float64()
	c := newCount(unrestricted, share, 0)
	c.Number, c.Log10 = new(big.Int).Set(number), log10(number)
	return c
}

// EstimatedCount returns the count of orders of which a share was allowed among
// those drawn, with its binomial standard error. It panics when none was.
func EstimatedCount(unrestricted *big.Int, t Tally) Count {
	if t.Draws < 1 || t.Draws > t.Tries {
		panic("design: no order was allowed")
	}
	share := float64(t.Draws) / float64(t.Tries)
	return newCount(unrestricted, share, math.Sqrt(share*(1-share)/float64(t.Tries)))
}

func log10(n *big.Int) float64 {
	const digits = 300
	if n.BitLen() < 1000 {
		f, _ := new(big.Float).SetInt(n).Float64()
		return math.Log10(f)
	}
	scale := new(big.Int).Exp(big.NewInt(10), big.NewInt(digits), nil)
	return digits + log10(new(big.Int).Quo(n, scale))
}

// Orders says how many orders a problem can draw.
type Orders struct {
	Count
	// SmallestP is the smallest p-value that a randomisation test of "no treatment
	// differs from any other" can give, when its statistic knows no names, as the F
	// ratio does: the order that was drawn, and those that differ from it only in
	// which treatment has which number, are as extreme as each other. Where AtMost is
	// set it is not larger than SmallestP.
	SmallestP float64
	AtMost    bool
}

// CountOrders counts the orders that Draw can give, each of them equally likely
// (see Exchange). Without restrictions the number is
//
//	|H| / |A| · Π_g (n_g! / Π m!) · Π_j (n_j! / Π_t n_jt!)
//
// H being the relabellings within classes and A those of them that give back the
// same contents; g runs over block sizes, with n_g blocks of which m hold the same
// treatments; n_jt are the tests of treatment t in block j of size n_j. With
// restrictions, up to 131 072 such orders are looked at one by one. For more, the
// share of allowed ones is estimated from so many orders drawn at random.
//
// For the smallest p the orders that are alike but for the numbers of treatments
// are counted where each order is looked at; else there are at most Treatments! of
// them. The error is DoesNotFit. It panics when tries is below 1.
func CountOrders(p Problem, seed uint64, tries int) (Orders, error) {
	p.check()
	if tries < 1 {
		panic("design: no orders to estimate from")
	}
	first, err := Draw(p, seed)
	if err != nil {
		return Orders{}, err
	}
	unrestricted := Unrestricted(p)
	if unrestricted.Cmp(big.NewInt(mostEnumerated)) <= 0 {
		return enumerated(p, unrestricted), nil
	}
	var o Orders
	if !p.Restricted() {
		o.Count = ExactCount(unrestricted, unrestricted)
	} else {
		done := Redraw(p, seed, tries, tries, func(Order) {})
		if done.Draws == 0 {
			return Orders{}, DoesNotFit{Needed: len(first), Tries: tries}
		}
		o.Count = EstimatedCount(unrestricted, done)
	}
	alike, _ := math.Lgamma(float64(p.Treatments + 1))
	o.SmallestP, o.AtMost = math.Min(1, math.Exp(alike-o.Log10*math.Ln10)), true
	return o, nil
}

// enumerated counts the orders one by one, and those that are alike but for the
// numbers of treatments.
func enumerated(p Problem, unrestricted *big.Int) Orders {
	number, alike := 0, map[string]int{}
	code, named := make([]int, p.Treatments), make([]int, p.Tests())
	EachOrder(p, func(o Order) {
		number++
		next := 0
		clear(code)
		for i, t := range o.Treatments() { // named by their first appearance
			if code[t] == 0 {
				next++
				code[t] = next
			}
			named[i] = code[t]
		}
		alike[name([][]int{named})]++
	})
	least := number
	for _, n := range alike {
		least = min(least, n)
	}
	return Orders{Count: ExactCount(big.NewInt(int64(number)), unrestricted), SmallestP: float64(least) / float64(number)}
}

// EachOrder shows every order that Draw can give, once each. It is for problems
// with few orders, see Unrestricted.
func EachOrder(p Problem, visit func(Order)) {
	p.check()
	d := newDrawing(&p)
	blocks := make([][]int, len(p.Blocks))
	for i, s := range d.slots {
		blocks[s.Block] = append(blocks[s.Block], i)
	}
	seen := false
	for _, contents := range p.contents() {
		d.order = slices.Concat(contents...)
		for more := true; more; {
			if d.fit() == "" {
				if !seen {
					d.settle()
					seen = true
				}
				visit(Order{d})
			}
			more = false
			for j := 0; j < len(blocks) && !more; j++ {
				more = nextAt(d.order, blocks[j])
			}
		}
	}
}

// contents returns the different ways in which the blocks can be filled, each
// block sorted: all that changes of labels within a class and of contents between
// blocks of one size lead to.
func (p *Problem) contents() [][][]int {
	d := newDrawing(p)
	first := make([][]int, len(p.Blocks))
	for j, b := range p.Blocks {
		first[j] = slices.Sorted(slices.Values(b.Contents))
	}
	found, seen := [][][]int{first}, map[string]bool{name(first): true}
	add := func(next [][]int) {
		if key := name(next); !seen[key] {
			seen[key] = true
			found = append(found, next)
		}
	}
	for i := 0; i < len(found); i++ {
		for _, class := range d.class {
			for k := range class[1:] {
				add(relabelled(found[i], class[k], class[k+1]))
			}
		}
		for _, blocks := range d.bySize {
			for k := range blocks[1:] {
				next := slices.Clone(found[i])
				next[blocks[k]], next[blocks[k+1]] = next[blocks[k+1]], next[blocks[k]]
				add(next)
			}
		}
	}
	return found
}

// name tells contents of the same block sizes apart.
func name(contents [][]int) string {
	var b []byte
	for _, block := range contents {
		for _, t := range block {
			b = append(b, byte(t), byte(t>>8))
		}
	}
	return string(b)
}

// relabelled returns the contents with two treatments changed, sorted again.
func relabelled(contents [][]int, a, b int) [][]int {
	out := make([][]int, len(contents))
	for j, block := range contents {
		out[j] = slices.Clone(block)
		for i, t := range block {
			switch t {
			case a:
				out[j][i] = b
			case b:
				out[j][i] = a
			}
		}
		slices.Sort(out[j])
	}
	return out
}
