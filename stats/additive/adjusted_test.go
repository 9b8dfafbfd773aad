package additive

import (
	"math"
	"testing"
)

// Student's sleep data (R datasets::sleep; Student 1908, Biometrika 6:1).
var (
	sleep1 = []float64{0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0}
	sleep2 = []float64{1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4}
)

func sleep() (obs []Observation) {
	for i := range sleep1 {
		obs = append(obs, Observation{0, i, sleep1[i]}, Observation{1, i, sleep2[i]})
	}
	return obs
}

// R: t.test(extra ~ group, paired), and Welch's t.test without pairs: SE and
// interval -3.365483231 to 0.205483231 on 17.77647352 df (checks by R 4.2.2).
func TestBlockContrastAndSatterthwaiteOfTheSleepData(t *testing.T) {
	weights := []float64{1, -1}
	e, ok := BlockContrast(sleep(), weights)
	if !ok || e.DF != 9 || math.Abs(e.Value/e.SE+4.062127683382037) > 1e-12 {
		t.Errorf("paired %+v", e)
	}
	value, se, df, ok := Satterthwaite(sleep(), weights)
	if !ok || math.Abs(value+1.58) > 1e-12 || math.Abs(value/se+1.860813467) > 1e-8 || math.Abs(df-17.77647352) > 1e-7 {
		t.Errorf("Welch %g, t %g on %g", value, value/se, df)
	}
	if _, _, _, ok := Satterthwaite(sleep()[:3], weights); ok {
		t.Error("one observation has no spread")
	}
}

// Against lm and generalised least squares by hand: testdata/reference/adjusted.R.
func TestAdjustedAgainstR(t *testing.T) {
	y := []float64{10, 14, 13, 18, 15, 22, 19, 21}
	food := []int{0, 1, 0, 1, 1, 0, 0, 1}
	day := []float64{0, 1, 2, 3, 4, 5, 6, 7}
	var obs []Observation
	for i := range y {
		obs = append(obs, Observation{food[i], i / 2, y[i]})
	}
	f := NewFit(obs)
	e, err := f.Adjusted([]float64{-1, 1}, day)
	if err != nil || math.Abs(e.Value-wantTrend[0]) > 1e-9 || math.Abs(e.SE-wantTrend[1]) > 1e-9 || e.DF != 2 {
		t.Errorf("with the trend %+v %v, R has %v", e, err, wantTrend)
	}
	covariates := f.CarryOver()
	if len(covariates) != 1 {
		t.Fatalf("%d covariates", len(covariates))
	}
	e, err = f.Adjusted([]float64{-1, 1}, covariates...)
	if err != nil || math.Abs(e.Value-wantCarry[0]) > 1e-9 || math.Abs(e.SE-wantCarry[1]) > 1e-9 || e.DF != 2 {
		t.Errorf("with carry-over %+v %v, R has %v", e, err, wantCarry)
	}
	e, rho, err := f.Autoregressive([]float64{-1, 1})
	if err != nil || math.Abs(rho-wantRho[0]) > 1e-9 || math.Abs(e.Value-wantRho[1]) > 1e-9 || math.Abs(e.SE-wantRho[2]) > 1e-9 {
		t.Errorf("autoregressive ρ %.12g %+v %v, R has %v", rho, e, err, wantRho)
	}
}

// Printed by testdata/reference/adjusted.R with R 4.2.2.
var (
	wantTrend = []float64{-1.666666666666670, 0.881917103688197}
	wantCarry = []float64{-0.333333333333328, 3.382963855030741}
	wantRho   = []float64{-0.793296089385474, -1.282454557729799, 1.020368668008575}
)
