package rank

import (
	"encoding/json"
	"math"
	"os"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// Every way to share out looked at in R, held there against wilcox.test, coin's
// exact distribution and binom.test: testdata/reference/counts.R.
func TestStratifiedAgainstR(t *testing.T) {
	data, err := os.ReadFile("../../testdata/reference/counts.json")
	if err != nil {
		t.Fatal(err)
	}
	var ref struct {
		Ranks []struct {
			Blocks                   []Block
			W, Expected, P, Smallest float64
		}
	}
	if err := json.Unmarshal(data, &ref); err != nil {
		t.Fatal(err)
	}
	if len(ref.Ranks) != 5 {
		t.Fatalf("%d cases", len(ref.Ranks))
	}
	for i, r := range ref.Ranks {
		got := Stratified(r.Blocks)
		for _, c := range [][2]float64{{got.W, r.W}, {got.Expected, r.Expected}, {got.P, r.P}, {got.Smallest, r.Smallest}} {
			if math.Abs(c[0]-c[1]) > 1e-12*math.Max(1, c[1]) {
				t.Errorf("case %d: %+v, R has W %g of %g, p %g, smallest %g", i, got, r.W, r.Expected, r.P, r.Smallest)
				break
			}
		}
	}
}

// Mann–Whitney 1.1 2.2 3.3 4.4 against 0.5 1.7 2.9 0.2: p 0.2, R wilcox.test; U is 13
// of 16 by counting.
func TestMannWhitney(t *testing.T) {
	b := []Block{{[]float64{1.1, 2.2, 3.3, 4.4}, []float64{0.5, 1.7, 2.9, 0.2}}}
	if r := Stratified(b); math.Abs(r.P-0.2) > 1e-12 {
		t.Errorf("p %g, want 0.2", r.P)
	}
	if share, pairs := Superiority(b); share != 13.0/16 || pairs != 16 {
		t.Errorf("share %g of %d pairs", share, pairs)
	}
}

// W and the share say the same in one block: U = W − m(m+1)/2.
func TestShareAndRankSumAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		values := rapid.SliceOfN(rapid.IntRange(0, 10), 1, 7)
		group := func(name string) (out []float64) {
			for _, v := range values.Draw(t, name) {
				out = append(out, float64(v))
			}
			return out
		}
		b := Block{group("a"), group("b")}
		r := Stratified([]Block{b})
		share, pairs := Superiority([]Block{b})
		m := float64(len(b.A))
		if math.Abs(share*float64(pairs)-(r.W-m*(m+1)/2)) > 1e-9 {
			t.Fatalf("U %g, W %g", share*float64(pairs), r.W)
		}
		turned := Stratified([]Block{{b.B, b.A}})
		if r.P <= 0 || r.P > 1 || r.Smallest > r.P+1e-12 || math.Abs(turned.P-r.P) > 1e-12 {
			t.Fatalf("p %g and %g, smallest %g", r.P, turned.P, r.Smallest)
		}
	})
}

func TestMidranks(t *testing.T) {
	if got := Midranks([]float64{3, 1, 3, 2}); !slices.Equal(got, []float64{3.5, 1, 3.5, 2}) {
		t.Errorf("%v", got)
	}
	if r := Stratified([]Block{{[]float64{1}, nil}}); r.P != 1 {
		t.Errorf("one group alone: %+v", r)
	}
	defer func() {
		if recover() == nil {
			t.Error("NaN: no panic")
		}
	}()
	Midranks([]float64{math.NaN()})
}

// The same blocks give the same p to the last digit, however often they are asked.
func TestStratifiedIsDeterministic(t *testing.T) {
	blocks := []Block{{[]float64{1, 4, 4}, []float64{2, 3, 4, 7}}, {[]float64{5, 2}, []float64{2, 6, 6}}, {[]float64{1, 9, 3}, []float64{8, 8, 4}}}
	first := Stratified(blocks)
	for range 300 {
		if again := Stratified(blocks); again != first {
			t.Fatalf("%v, then %v", first, again)
		}
	}
}
