package additive

import (
	"encoding/json"
	"errors"
	"math"
	"os"
	"testing"

	"mealtrial/stats"
	"mealtrial/stats/linear"
)

func near(got, want, relative float64) bool {
	return math.Abs(got-want) <= relative*math.Max(1, math.Abs(want))
}

type row struct {
	Food  string
	Block int
	Y     float64
}

type difference struct {
	A, B                        string
	Estimable                   *bool
	Estimate, SE, Low, High, DF float64
}

// blocked is testdata/reference/blocked.json: R's lm and emmeans.
type blocked struct {
	Layouts []struct {
		Name          string
		Rows          []row
		DF            int
		Sigma         float64
		SDLow         float64 `json:"sd_low"`
		SDHigh        float64 `json:"sd_high"`
		Repeatability float64
		Means         []struct{ Mean, SE, Low, High float64 }
		Differences   []difference
		FoodTest      struct{ F, DF1, DF2 float64 } `json:"food_test"`
		Outlier       *outlierRow
		Trend         *trendRow
	}
	Disconnected struct {
		Rows        []row
		DF          int
		Differences []difference
	}
}

type outlierRow struct {
	MaxAbsT float64 `json:"max_abs_t"`
	DF      int
	P       float64 `json:"p_bonferroni"`
}

type trendRow struct{ Estimate, SE, DF float64 }

// checkChecks compares the checks of the model with R's; it returns how many
// trends it compared.
func checkChecks(t *testing.T, f *Fit, outlier *outlierRow, trend *trendRow, df int, check func(string, float64, float64)) int {
	t.Helper()
	if outlier != nil && df >= 3 {
		worst, _ := f.WorstOutlier()
		check("largest studentized residual", math.Abs(worst.T), outlier.MaxAbsT)
		check("its p", worst.P, outlier.P)
	}
	if trend == nil || trend.DF <= 0 {
		return 0
	}
	at := make([]float64, len(f.obs))
	for i := range at {
		at[i] = float64(i + 1)
	}
	e, err := f.Trend(at)
	if err != nil {
		t.Fatalf("trend: %v", err)
	}
	check("trend", e.Value, trend.Estimate)
	check("se of trend", e.SE, trend.SE)
	return 1
}

func readJSON(t *testing.T, path string, into any) {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(data, into); err != nil {
		t.Fatal(err)
	}
}

// observations numbers foods in order of appearance.
func observations(rows []row) (obs []Observation, index map[string]int) {
	index = map[string]int{}
	blocks := map[int]int{}
	for _, r := range rows {
		if _, known := index[r.Food]; !known {
			index[r.Food] = len(index)
		}
		if _, known := blocks[r.Block]; !known {
			blocks[r.Block] = len(blocks)
		}
		obs = append(obs, Observation{Treatment: index[r.Food], Block: blocks[r.Block], Value: r.Y})
	}
	return obs, index
}

// Complete, incomplete and unbalanced layouts, with lost tests, against R 4.2.2
// (lm, emmeans with equal weights, rstudent, qchisq).
func TestLayoutsAgainstR(t *testing.T) {
	var ref blocked
	readJSON(t, "../../testdata/reference/blocked.json", &ref)
	if len(ref.Layouts) < 20 {
		t.Fatalf("%d layouts, want at least 20", len(ref.Layouts))
	}
	const digits = 1e-10
	outliers, trends := 0, 0
	for _, l := range ref.Layouts {
		obs, index := observations(l.Rows)
		f := NewFit(obs)
		check := func(what string, got, want float64) {
			t.Helper()
			if !near(got, want, digits) {
				t.Errorf("%s: %s %.14g, R has %.14g", l.Name, what, got, want)
			}
		}
		sd, ok := f.SD()
		if !ok || f.DF != l.DF {
			t.Fatalf("%s: SD %v on %d degrees of freedom, R has %g on %d", l.Name, sd, f.DF, l.Sigma, l.DF)
		}
		df := float64(f.DF)
		check("sigma", sd, l.Sigma)
		spread := stats.SDInterval(sd, df, 0.95)
		check("sd_low", spread.Low, l.SDLow)
		check("sd_high", spread.High, l.SDHigh)
		check("repeatability", stats.RepeatabilityLimit(sd, df, 0.95), l.Repeatability)
		for i, m := range l.Means {
			e, err := f.Mean(i)
			if err != nil {
				t.Fatal(err)
			}
			interval := stats.TInterval(e.Value, e.SE, df, 0.95)
			check("mean", e.Value, m.Mean)
			check("se of mean", e.SE, m.SE)
			check("low of mean", interval.Low, m.Low)
			check("high of mean", interval.High, m.High)
		}
		for _, d := range l.Differences {
			checkDifference(t, f, index, d, check)
		}
		trends += checkChecks(t, f, l.Outlier, l.Trend, l.DF, check)
		if l.Outlier != nil && l.DF >= 3 {
			outliers++
		}
		if test, ok := f.TreatmentTest(); !ok || test.TreatmentDF != int(l.FoodTest.DF1) || test.ResidueDF != int(l.FoodTest.DF2) {
			t.Errorf("%s: F test %+v, R has %+v", l.Name, test, l.FoodTest)
		} else {
			check("F", test.F, l.FoodTest.F)
		}
	}
	if outliers < 10 || trends < 10 {
		t.Errorf("only %d outliers and %d trends were compared", outliers, trends)
	}
}

func checkDifference(t *testing.T, f *Fit, index map[string]int, d difference, check func(string, float64, float64)) {
	t.Helper()
	weights := make([]float64, f.Treatments)
	weights[index[d.A]], weights[index[d.B]] = 1, -1
	e, err := f.Contrast(weights)
	if d.Estimable != nil && !*d.Estimable {
		if !errors.Is(err, linear.ErrNotEstimable) {
			t.Errorf("%s - %s: %v, want ErrNotEstimable", d.A, d.B, err)
		}
		return
	}
	if err != nil {
		t.Fatalf("%s - %s: %v", d.A, d.B, err)
	}
	interval := stats.TInterval(e.Value, e.SE, float64(e.DF), 0.95)
	check("difference", e.Value, d.Estimate)
	check("se of difference", e.SE, d.SE)
	check("low of difference", interval.Low, d.Low)
	check("high of difference", interval.High, d.High)
}

// Two pairs of foods that never meet: within a pair all is as usual, between
// the pairs nothing can be said.
func TestDisconnectedLayoutAgainstR(t *testing.T) {
	var ref blocked
	readJSON(t, "../../testdata/reference/blocked.json", &ref)
	obs, index := observations(ref.Disconnected.Rows)
	f := NewFit(obs)
	if f.DF != ref.Disconnected.DF {
		t.Errorf("%d degrees of freedom, R has %d", f.DF, ref.Disconnected.DF)
	}
	refused := 0
	for _, d := range ref.Disconnected.Differences {
		if d.Estimable != nil && !*d.Estimable {
			refused++
		}
		checkDifference(t, f, index, d, func(what string, got, want float64) {
			if !near(got, want, 1e-10) {
				t.Errorf("%s of %s - %s: %g, R has %g", what, d.A, d.B, got, want)
			}
		})
	}
	if refused == 0 {
		t.Error("no difference in the reference is inestimable")
	}
	if _, err := f.Mean(0); !errors.Is(err, linear.ErrNotEstimable) {
		t.Errorf("mean over all blocks: %v, want ErrNotEstimable", err)
	}
}

type oneWay struct {
	Rows []struct {
		Group int
		Value float64
	}
	MSWithin      float64 `json:"ms_within"`
	DFWithin      int     `json:"df_within"`
	F             float64
	SW            float64 `json:"s_w"`
	SWLow         float64 `json:"s_w_low"`
	SWHigh        float64 `json:"s_w_high"`
	Repeatability float64 `json:"repeatability_t"`
}

// Peak flow (Bland and Altman 1996, BMJ 313:744; within-subject variance
// 460.52, s_w 21.5 l/min as published, from memory) and Rail (Devore 2000),
// both in R by testdata/reference/classic.R.
func TestClassicOneWayLayouts(t *testing.T) {
	var ref struct {
		PeakFlow oneWay `json:"peak_flow"`
		Rail     oneWay
	}
	readJSON(t, "../../testdata/reference/classic.json", &ref)
	for name, c := range map[string]oneWay{"peak flow": ref.PeakFlow, "rail": ref.Rail} {
		var obs []Observation
		for _, r := range c.Rows {
			obs = append(obs, Observation{Treatment: r.Group - 1, Value: r.Value})
		}
		f := NewFit(obs)
		sd, _ := f.SD()
		test, _ := f.TreatmentTest()
		limits := stats.SDInterval(sd, float64(f.DF), 0.95)
		for _, v := range []struct {
			what      string
			got, want float64
		}{
			{"mean square within", f.RSS / float64(f.DF), c.MSWithin}, {"F", test.F, c.F}, {"s_w", sd, c.SW},
			{"low", limits.Low, c.SWLow}, {"high", limits.High, c.SWHigh},
			{"repeatability limit", stats.RepeatabilityLimit(sd, float64(f.DF), 0.95), c.Repeatability},
		} {
			if !near(v.got, v.want, 1e-11) {
				t.Errorf("%s: %s %.13g, R has %.13g", name, v.what, v.got, v.want)
			}
		}
		if f.DF != c.DFWithin {
			t.Errorf("%s: %d degrees of freedom, R has %d", name, f.DF, c.DFWithin)
		}
	}
	if math.Abs(ref.PeakFlow.MSWithin-460.520833333) > 1e-8 {
		t.Errorf("the reference has a within-subject variance of %g", ref.PeakFlow.MSWithin)
	}
}

// Student's sleep data (Cushny and Peebles 1905; Student 1908) as a blocked
// layout: people are blocks, and the difference is that of the paired t-test.
func TestSleepDataAsBlocks(t *testing.T) {
	var ref struct {
		Sleep struct {
			Rows []struct {
				Block     int
				Treatment string
				Value     float64
			}
			Difference difference
		}
	}
	readJSON(t, "../../testdata/reference/classic.json", &ref)
	var rows []row
	for _, r := range ref.Sleep.Rows {
		rows = append(rows, row{r.Treatment, r.Block, r.Value})
	}
	obs, index := observations(rows)
	f := NewFit(obs)
	if f.DF != 9 {
		t.Errorf("%d degrees of freedom, want 9", f.DF)
	}
	checkDifference(t, f, index, ref.Sleep.Difference, func(what string, got, want float64) {
		if !near(got, want, 1e-12) {
			t.Errorf("%s: %.15g, R has %.15g", what, got, want)
		}
	})
}

// One test of each food leaves nothing to estimate the spread from; equal
// repeats show no believable spread.
func TestNoSpread(t *testing.T) {
	if sd, ok := NewFit([]Observation{{0, 0, 12}, {1, 0, 15}}).SD(); ok {
		t.Errorf("SD %g from one test of each food", sd)
	}
	if sd, ok := NewFit([]Observation{{0, 0, 12}, {0, 0, 12}, {1, 0, 15.1}, {1, 0, 15.1}}).SD(); ok {
		t.Errorf("SD %g from repeats that agree exactly", sd)
	}
	if sd, ok := NewFit([]Observation{{0, 0, 12}, {0, 0, 12}}).SD(); ok {
		t.Errorf("SD %g from equal values", sd)
	}
}
