package linear

import (
	"errors"
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

// lre is the log relative error, −log10(|c−t|/|t|): about the number of
// correct digits. NIST Statistical Reference Datasets, frequently asked questions.
func lre(got, certified float64) float64 {
	if got == certified {
		return 16
	}
	return -math.Log10(math.Abs(got-certified) / math.Abs(certified))
}

// Norris: 36 points, y and x. NIST Statistical Reference Datasets.
var norris = [][]float64{
	{0.1, 0.2}, {338.8, 337.4}, {118.1, 118.2}, {888.0, 884.6}, {9.2, 10.1}, {228.1, 226.5},
	{668.5, 666.3}, {998.5, 996.3}, {449.1, 448.6}, {778.9, 777.0}, {559.2, 558.2}, {0.3, 0.4},
	{0.1, 0.6}, {778.1, 775.5}, {668.8, 666.9}, {339.3, 338.0}, {448.9, 447.5}, {10.8, 11.6},
	{557.7, 556.0}, {228.3, 228.1}, {998.0, 995.8}, {888.8, 887.6}, {119.6, 120.2}, {0.3, 0.3},
	{0.6, 0.3}, {557.6, 556.8}, {339.3, 339.1}, {888.0, 887.2}, {998.5, 999.0}, {778.9, 779.0},
	{10.2, 11.1}, {117.6, 118.3}, {228.9, 229.2}, {668.4, 669.1}, {449.2, 448.9}, {0.2, 0.5},
}

// Longley: y and six predictors that nearly depend on each other. NIST
// Statistical Reference Datasets; the data as shipped with R, in NIST's units.
var longley = [][]float64{
	{60323, 83.0, 234289, 2356, 1590, 107608, 1947},
	{61122, 88.5, 259426, 2325, 1456, 108632, 1948},
	{60171, 88.2, 258054, 3682, 1616, 109773, 1949},
	{61187, 89.5, 284599, 3351, 1650, 110929, 1950},
	{63221, 96.2, 328975, 2099, 3099, 112075, 1951},
	{63639, 98.1, 346999, 1932, 3594, 113270, 1952},
	{64989, 99.0, 365385, 1870, 3547, 115094, 1953},
	{63761, 100.0, 363112, 3578, 3350, 116219, 1954},
	{66019, 101.2, 397469, 2904, 3048, 117388, 1955},
	{67857, 104.6, 419180, 2822, 2857, 118734, 1956},
	{68169, 108.4, 442769, 2936, 2798, 120445, 1957},
	{66513, 110.8, 444546, 4681, 2637, 121950, 1958},
	{68655, 112.6, 482704, 3813, 2552, 123366, 1959},
	{69564, 114.2, 502601, 3931, 2514, 125368, 1960},
	{69331, 115.7, 518173, 4806, 2572, 127852, 1961},
	{70551, 116.9, 554894, 4007, 2827, 130081, 1962},
}

// regression has an intercept before the predictors.
func regression(rows [][]float64) (x *mat.Dense, y []float64) {
	x = mat.NewDense(len(rows), len(rows[0]), nil)
	for i, row := range rows {
		y = append(y, row[0])
		x.Set(i, 0, 1)
		for j := 1; j < len(row); j++ {
			x.Set(i, j, row[j])
		}
	}
	return x, y
}

// Certified coefficients, their standard errors and the residual SD, to at
// least ten digits.
func TestNISTLinearRegression(t *testing.T) {
	for _, c := range []struct {
		name   string
		rows   [][]float64
		b, se  []float64
		sd     float64
		digits float64
	}{
		{"Norris", norris, []float64{-0.262323073774029, 1.00211681802045}, []float64{0.232818234301152, 0.000429796848199937}, 0.884796396144373, 10},
		{"Longley", longley,
			[]float64{-3482258.63459582, 15.0618722713733, -0.0358191792925910, -2.02022980381683, -1.03322686717359, -0.0511041056535807, 1829.15146461355},
			[]float64{890420.383607373, 84.9149257747669, 0.0334910077722432, 0.488399681651699, 0.214274163161675, 0.226073200069370, 455.478499142212},
			304.854073561965, 10},
	} {
		x, y := regression(c.rows)
		f := NewFit(x, y)
		sd, _ := f.SD()
		if got := lre(sd, c.sd); got < c.digits {
			t.Errorf("%s: residual SD %.15g, %.1f digits", c.name, sd, got)
		}
		for j := range c.b {
			e := make([]float64, len(c.b))
			e[j] = 1
			b, u, err := f.Combine(e)
			if err != nil {
				t.Fatalf("%s: %v", c.name, err)
			}
			if got := lre(b, c.b[j]); got < c.digits {
				t.Errorf("%s: coefficient %d is %.15g, certified %.15g: %.1f digits", c.name, j, b, c.b[j], got)
			}
			if got := lre(u*sd, c.se[j]); got < c.digits {
				t.Errorf("%s: standard error %d is %.15g, certified %.15g: %.1f digits", c.name, j, u*sd, c.se[j], got)
			}
		}
	}
}

// A column that is the sum of two others adds nothing: the fit is the same, and
// only what the other columns determine can be estimated.
func TestDesignWithoutFullRank(t *testing.T) {
	x := mat.NewDense(5, 3, []float64{1, 0, 1, 1, 0, 1, 0, 1, 1, 0, 1, 1, 0, 1, 1})
	y := []float64{1, 3, 10, 11, 12}
	f := NewFit(x, y)
	if f.Rank != 2 || f.DF != 3 {
		t.Fatalf("rank %d, df %d; want 2, 3", f.Rank, f.DF)
	}
	if math.Abs(f.RSS-4) > 1e-12 { // (1−2)² + (3−2)² + (10−11)² + 0 + (12−11)²
		t.Errorf("RSS %g, want 4", f.RSS)
	}
	if b, _, err := f.Combine([]float64{1, -1, 0}); err != nil || math.Abs(b+9) > 1e-12 {
		t.Errorf("difference %g, %v; want -9", b, err)
	}
	if _, _, err := f.Combine([]float64{1, 0, 0}); !errors.Is(err, ErrNotEstimable) {
		t.Errorf("%v, want ErrNotEstimable", err)
	}
	if y[0] != 1 || x.At(0, 0) != 1 {
		t.Error("the input was changed")
	}
}

// Residuals are orthogonal to every column, and leverages sum to the rank.
func TestFitIsAProjection(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n, p := rapid.IntRange(1, 12).Draw(t, "n"), rapid.IntRange(1, 5).Draw(t, "p")
		x, y := mat.NewDense(n, p, nil), make([]float64, n)
		for i := range n {
			y[i] = rapid.Float64Range(-100, 100).Draw(t, "y")
			for j := range p {
				x.Set(i, j, float64(rapid.IntRange(-2, 2).Draw(t, "x")))
			}
		}
		f := NewFit(x, y)
		leverage := 0.0
		for i := range n {
			leverage += f.Leverage[i]
		}
		if math.Abs(leverage-float64(f.Rank)) > 1e-9 {
			t.Fatalf("leverages sum to %g, rank %d", leverage, f.Rank)
		}
		for j := range p {
			dot := 0.0
			for i := range n {
				dot += x.At(i, j) * f.Residual[i]
			}
			if math.Abs(dot) > 1e-8 {
				t.Fatalf("residuals and column %d have product %g", j, dot)
			}
		}
	})
}
