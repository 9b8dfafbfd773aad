package stats

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"os"
	"testing"
)

// bartlett.test of R 4.2.2, InsectSprays among the cases:
// testdata/reference/bartlett.R.
func TestBartlettAgainstR(t *testing.T) {
	data, err := os.ReadFile("../testdata/reference/bartlett.json")
	if err != nil {
		t.Fatal(err)
	}
	var ref struct {
		Cases []struct {
			SD           []float64
			DF           []int
			Statistic, P float64
		}
	}
	if err := json.Unmarshal(data, &ref); err != nil {
		t.Fatal(err)
	}
	for _, c := range ref.Cases {
		got := Bartlett(c.SD, c.DF)
		if math.Abs(got.Statistic-c.Statistic) > 1e-10*math.Max(1, c.Statistic) || math.Abs(got.P/c.P-1) > 1e-9 || got.DF != len(c.SD)-1 {
			t.Errorf("%v on %v: %+v, R has %v and %v", c.SD, c.DF, got, c.Statistic, c.P)
		}
	}
}

// With few degrees of freedom the chi-squared approximation still holds.
func TestBartlettFalseAlarms(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	const studies = 40_000
	for _, df := range [][]int{{4, 4}, {11, 3}, {6, 12, 20}} {
		rejected := 0
		for range studies {
			var sds []float64
			for _, n := range df {
				squares := 0.0
				for range n {
					x := random.NormFloat64()
					squares += x * x
				}
				sds = append(sds, math.Sqrt(squares/float64(n)))
			}
			if Bartlett(sds, df).P < 0.05 {
				rejected++
			}
		}
		if share := float64(rejected) / studies; share < 0.045 || share > 0.055 {
			t.Errorf("%v: rejected in %.4f", df, share)
		}
	}
}
