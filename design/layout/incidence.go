package layout

// An incidence is the v×b table of how often each treatment stands in each block.
type incidence struct {
	v, b       int
	counts     []int // counts[i*b+j]: tests of treatment i in block j
	replicates []int // row totals
	sizes      []int // column totals
}

func newIncidence(v, b int, counts []int) *incidence {
	n := &incidence{v: v, b: b, counts: counts, replicates: make([]int, v), sizes: make([]int, b)}
	for i := range v {
		for j := range b {
			n.replicates[i] += counts[i*b+j]
			n.sizes[j] += counts[i*b+j]
		}
	}
	return n
}

// information returns C = R − N K⁻¹ Nᵀ by rows.
func (n *incidence) information() []float64 {
	c := make([]float64, n.v*n.v)
	n.informationInto(c)
	return c
}

func (n *incidence) informationInto(c []float64) {
	clear(c)
	for j := range n.b {
		for i := range n.v {
			x := n.counts[i*n.b+j]
			if x == 0 {
				continue
			}
			for h := range n.v {
				if y := n.counts[h*n.b+j]; y != 0 {
					c[i*n.v+h] -= float64(x*y) / float64(n.sizes[j])
				}
			}
		}
	}
	for i, r := range n.replicates {
		c[i*n.v+i] += float64(r)
	}
}

// components numbers the connected components of the treatments, two
// treatments being joined when they share a block.
func (n *incidence) components() (component []int, components int) {
	component = make([]int, n.v)
	for i := range component {
		component[i] = -1
	}
	for start := range n.v {
		if component[start] >= 0 {
			continue
		}
		component[start] = components
		for queue := []int{start}; len(queue) > 0; {
			i := queue[0]
			queue = queue[1:]
			for j := range n.b {
				if n.counts[i*n.b+j] == 0 {
					continue
				}
				for h := range n.v {
					if component[h] < 0 && n.counts[h*n.b+j] > 0 {
						component[h] = components
						queue = append(queue, h)
					}
				}
			}
		}
		components++
	}
	return component, components
}

// blocks lists the treatments of each block in ascending order.
func (n *incidence) blocks() [][]int {
	blocks := make([][]int, n.b)
	for j := range n.b {
		for i := range n.v {
			for range n.counts[i*n.b+j] {
				blocks[j] = append(blocks[j], i)
			}
		}
	}
	return blocks
}
