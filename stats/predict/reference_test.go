package predict

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"gonum.org/v1/gonum/mat"

	"mealtrial/stats/additive"
	"mealtrial/stats/linear"
)

func near(got, want float64) bool { return math.Abs(got-want) <= 1e-11*math.Max(1, math.Abs(want)) }

// readTable returns the rows of a table of testdata by column name.
func readTable(t *testing.T, path string) (rows []map[string]string) {
	t.Helper()
	file, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	reader := csv.NewReader(file)
	reader.Comment = '#'
	records, err := reader.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, record := range records[1:] {
		row := map[string]string{}
		for i, name := range records[0] {
			row[name] = record[i]
		}
		rows = append(rows, row)
	}
	return rows
}

func number(t *testing.T, text string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// layouts reads the responses; treatments from 0, blocks made to start at 0.
func layouts(t *testing.T) map[string][]additive.Observation {
	obs := map[string][]additive.Observation{}
	for _, r := range readTable(t, "testdata/responses.csv") {
		obs[r["layout"]] = append(obs[r["layout"]], additive.Observation{
			Treatment: int(number(t, r["treatment"])), Block: int(number(t, r["block"])) - 1, Value: number(t, r["value"])})
	}
	return obs
}

// inBlock is the mean of a treatment in one of the blocks observed, which
// the package does not offer: its limits check the formulas at other factors.
func inBlock(t *testing.T, obs []additive.Observation, treatment, block int) Mean {
	t.Helper()
	f := additive.NewFit(obs)
	x, c := mat.NewDense(len(obs), f.Treatments+f.Blocks, nil), make([]float64, f.Treatments+f.Blocks)
	var y []float64
	for i, o := range obs {
		x.Set(i, o.Treatment, 1)
		x.Set(i, f.Treatments+o.Block, 1)
		y = append(y, o.Value)
	}
	c[treatment], c[f.Treatments+block] = 1, 1
	fit := linear.NewFit(x, y)
	value, u, err := fit.Combine(c)
	if err != nil {
		t.Fatal(err)
	}
	sd, _ := fit.SD()
	return Mean{Value: value, Factor: u, SD: sd, DF: float64(fit.DF)}
}

// Every limit of predict.lm, R 4.2.2: testdata/predict.R.
func TestLimitsAgainstR(t *testing.T) {
	all, compared := layouts(t), map[string]int{}
	for _, r := range readTable(t, "testdata/predict.csv") {
		obs, treatment := all[r["layout"]], int(number(t, r["treatment"]))
		var m Mean
		var err error
		kind := r["block"]
		switch kind {
		case "none", "mean":
			m, err = FromFit(additive.NewFit(obs), treatment)
		case "own":
			var own []float64
			for _, o := range obs {
				if o.Treatment == treatment {
					own = append(own, o.Value)
				}
			}
			m, err = FromResponses(own)
		default:
			m, kind = inBlock(t, obs, treatment, int(number(t, kind))-1), "block"
		}
		if err != nil {
			t.Fatal(err)
		}
		compared[kind]++
		two, mean, next := Next(m, 0.95), MeanBounds(m, 0.95), NextBounds(m, 0.95)
		for name, got := range map[string]float64{
			"value": m.Value, "factor": m.Factor, "sd": m.SD, "df": m.DF, "low": two.Low, "high": two.High,
			"mean_lower": mean.Lower, "mean_upper": mean.Upper, "next_lower": next.Lower, "next_upper": next.Upper,
		} {
			if want := number(t, r[name]); !near(got, want) {
				t.Errorf("%s, treatment %d, block %s: %s %.13g, R has %.13g", r["layout"], treatment, r["block"], name, got, want)
			}
		}
		if two.Level != 0.95 || mean.Level != 0.95 || next.Level != 0.95 {
			t.Errorf("levels %g, %g and %g", two.Level, mean.Level, next.Level)
		}
	}
	for kind, least := range map[string]int{"none": 6, "mean": 8, "own": 8, "block": 32} {
		if compared[kind] != least {
			t.Errorf("%d rows of %q, want %d", compared[kind], kind, least)
		}
	}
}

// Protein of broccoli, guide of the US Food and Drug Administration for
// nutrition labelling databases, 1998: mean 4.6003, SD 0.6165770, 12 samples.
// The lower bound of one further composite, times 5/4, is printed as 4.309638
// with t rounded to 1.796; with all digits of t it is 4.309730.
func TestPublishedLowerBound(t *testing.T) {
	b := NextBounds(Mean{Value: 4.6003, Factor: 1 / math.Sqrt(12), SD: 0.6165770, DF: 11}, 0.95)
	if got := b.Lower * 5 / 4; math.Abs(got-4.309730) > 6e-7 || math.Abs(got-4.309638) > 1e-4 {
		t.Errorf("%.6f", got)
	}
}

// Student's sleep data, differences of the two drugs: t.test of R 4.2.2 gives
// −0.7001142367230175 as the upper limit at 0.95 two-sided, so at 0.975
// one-sided.
func TestMeanBoundOfTheSleepData(t *testing.T) {
	m, err := FromResponses([]float64{-1.2, -2.4, -1.3, -1.3, 0.0, -1.0, -1.8, -0.8, -4.6, -1.4})
	if err != nil {
		t.Fatal(err)
	}
	if b := MeanBounds(m, 0.975); !near(b.Upper, -0.7001142367230175) || !near(b.Lower, -2.459885763276982) {
		t.Errorf("%+v", b)
	}
}
