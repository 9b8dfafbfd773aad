package randomisation

import (
	"encoding/json"
	"fmt"
	"math"
	"math/big"
	"os"
	"slices"
	"strings"
	"testing"

	"mealtrial/design"
)

// A layout is a study as testdata/reference/randomisation.R writes it.
type layout struct {
	Name    string
	Y       []*float64
	Food    []string
	Block   []int
	Stratum []int
}

// weights of the difference of two foods, times w.
func (l layout) weights(a, b string, w float64) []float64 {
	foods := l.foods()
	out := make([]float64, len(foods))
	out[slices.Index(foods, a)], out[slices.Index(foods, b)] = w, -w
	return out
}

func (l layout) foods() []string { return slices.Compact(slices.Sorted(slices.Values(l.Food))) }

// data is the layout as drawn at once, on one day after the other; strata finer
// than blocks make it an amended one.
func (l layout) data() Data {
	foods := l.foods()
	d := Data{}
	first := 0
	for i := range l.Food {
		d.Response = append(d.Response, math.NaN())
		if l.Y[i] != nil {
			d.Response[i] = *l.Y[i]
		}
		last := i == len(l.Food)-1
		if last || l.Stratum != nil && l.Block[i+1] == l.Block[i] && l.Stratum[i+1] != l.Stratum[i] {
			d.Parts = append(d.Parts, part(foods, l.Food[first:i+1], l.Block[first:i+1], first))
			first = i + 1
		}
	}
	if strings.Contains(l.Name, "twice in a row") {
		d.Parts[0].Problem.NoRepeat = true
	}
	return d
}

func part(foods, food []string, block []int, day int) design.Part {
	p := design.Part{Problem: design.Problem{Treatments: len(foods)}}
	for i, f := range food {
		if i == 0 || block[i] != block[i-1] {
			p.Problem.Blocks = append(p.Problem.Blocks, design.Block{})
			p.Blocks = append(p.Blocks, block[i]-1)
		}
		b := &p.Problem.Blocks[len(p.Blocks)-1]
		t := slices.Index(foods, f)
		b.Contents, b.Days = append(b.Contents, t), append(b.Days, day+i)
		p.Slots = append(p.Slots, design.Slot{Day: day + i, Block: len(p.Blocks) - 1, Treatment: t})
	}
	return p
}

var reference struct {
	Pairs []struct {
		Name            string
		D               []float64
		Extreme, Orders int64
	}
	Questions []struct {
		layout
		A, B               string
		Level, P, Estimate float64
		Orders             int64
		Low, High          *float64
	}
	Globals []struct {
		layout
		P      float64
		Orders int64
	}
	Coin []struct {
		layout
		P, Draws float64
	}
	CoinExact []struct {
		layout
		P float64
	} `json:"coin_exact"`
}

func TestMain(m *testing.M) {
	data, err := os.ReadFile("../../testdata/reference/randomisation.json")
	if err == nil {
		err = json.Unmarshal(data, &reference)
	}
	if err != nil || len(reference.Pairs) != 3 || len(reference.Questions) < 11 || len(reference.Globals) < 4 || len(reference.Coin) < 2 || len(reference.CoinExact) < 2 {
		fmt.Println("testdata/reference/randomisation.json:", err)
		os.Exit(1)
	}
	os.Exit(m.Run())
}

// pairs are differences as blocks of two.
func pairs(differences []float64) layout {
	l := layout{}
	for j, d := range differences {
		zero := 0.0
		l.Y, l.Food, l.Block = append(l.Y, &d, &zero), append(l.Food, "A", "B"), append(l.Block, j+1, j+1)
	}
	return l
}

// Darwin's maize (Fisher 1935, The Design of Experiments, section 21: 863 of 32 768
// sums as large, 1726 both ways), Student's sleep data, and the shoes of Box, Hunter
// and Hunter; counts by R, and as published.
func TestPairsOfPublishedData(t *testing.T) {
	published := map[string]float64{"maize": 0.05267333984375, "sleep": 0.00390625, "shoes": 0.013671875}
	for _, p := range reference.Pairs {
		a, err := Question(pairs(p.D).data(), []float64{1, -1}, 0.95, Effort{})
		if err != nil {
			t.Fatal(err)
		}
		sum := 0.0
		for _, d := range p.D {
			sum += d
		}
		if want := float64(p.Extreme) / float64(p.Orders); a.P != want || a.P != published[p.Name] || !a.Exact || a.Error != 0 || a.Draws != 0 {
			t.Errorf("%s: %+v, want p = %v", p.Name, a, want)
		}
		if a.Orders.Number.Int64() != p.Orders || a.Smallest != 2/float64(p.Orders) || !near(a.Estimate, sum/float64(len(p.D)), 1e-12) || a.Null != PairAlike || a.DaysMove {
			t.Errorf("%s: %+v", p.Name, a)
		}
		g, err := Global(pairs(p.D).data(), Effort{})
		if err != nil || g.P != a.P || g.Null != AllAlike || g.Smallest != a.Smallest {
			t.Errorf("%s, F ratio of the two: %+v, %v", p.Name, g, err)
		}
	}
}

func near(a, b, tolerance float64) bool { return math.Abs(a-b) <= tolerance*math.Max(1, math.Abs(b)) }

// Questions in complete, incomplete, restricted and amended layouts with lost
// tests: every allowed order refitted in R, and the limits found there by bisection.
func TestQuestionsAgainstR(t *testing.T) {
	for _, q := range reference.Questions {
		for _, w := range []float64{1, -2} {
			a, err := Question(q.data(), q.weights(q.A, q.B, w), q.Level, Effort{})
			if err != nil {
				t.Fatal(q.Name, err)
			}
			if !near(a.P, q.P, 1e-12) || a.Orders.Number.Int64() != q.Orders || !near(a.Estimate, w*q.Estimate, 1e-9) || !a.Exact {
				t.Errorf("%s: %+v, want p = %v of %d orders, estimate %v", q.Name, a, q.P, q.Orders, w*q.Estimate)
			}
			i := *a.Interval
			if i.Level != q.Level || i.Bounded != (q.Low != nil) || i.Bounded != (q.High != nil) || i.Bounded != (a.Smallest <= 1-q.Level+1e-9) {
				t.Errorf("%s: %+v", q.Name, i)
			}
			if !i.Bounded {
				if i.Low != 0 || i.High != 0 {
					t.Errorf("%s: limits without meaning %+v", q.Name, i)
				}
				continue
			}
			low, high := w**q.Low, w**q.High
			if w < 0 {
				low, high = high, low
			}
			if !near(i.Low, low, 1e-7) || !near(i.High, high, 1e-7) {
				t.Errorf("%s: %v to %v, want %v to %v", q.Name, i.Low, i.High, low, high)
			}
		}
	}
}

// The F ratio over all orders, refitted in R.
func TestGlobalAgainstR(t *testing.T) {
	for _, g := range reference.Globals {
		r, err := Global(g.data(), Effort{})
		if err != nil || !near(r.P, g.P, 1e-12) || r.Orders.Number.Int64() != g.Orders || !r.Exact {
			t.Errorf("%s: %+v %v, want p = %v of %d orders", g.Name, r, err, g.P, g.Orders)
		}
	}
}

// The R package coin: its million random orders, and its exact distribution of two
// treatments in strata.
func TestGlobalAgainstCoin(t *testing.T) {
	for _, c := range reference.Coin {
		r, err := Global(c.data(), Effort{Seed: 4})
		if err != nil {
			t.Fatal(err)
		}
		slack := 5 * math.Sqrt(r.Error*r.Error+c.P*(1-c.P)/c.Draws)
		if math.Abs(r.P-c.P) > slack {
			t.Errorf("%s: p = %v, coin %v ± %.1g", c.Name, r.P, c.P, slack)
		}
		if !r.Exact && (r.Draws != 100_000 || r.Smallest != 1.0/100_001 || r.Error <= 0 || r.Orders.Number.Cmp(big.NewInt(2985984000000)) != 0) {
			t.Errorf("%s: %+v", c.Name, r)
		}
	}
	for _, c := range reference.CoinExact {
		r, err := Global(c.data(), Effort{})
		a, err2 := Question(c.data(), c.weights("A", "B", 1), 0.9, Effort{})
		if err != nil || err2 != nil || !near(r.P, c.P, 1e-9) || !near(a.P, c.P, 1e-9) {
			t.Errorf("%s: p = %v and %v, coin %v", c.Name, r.P, a.P, c.P)
		}
	}
}
