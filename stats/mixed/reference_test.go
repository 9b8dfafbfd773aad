package mixed

import (
	"encoding/json"
	"math"
	"os"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"mealtrial/stats/additive"
)

// reference is testdata/reference/mixed.json: R's lme4 and pbkrtest.
type reference struct {
	Cases []studyCase
	Units struct {
		studyRows
		Results []struct {
			Unit   float64
			SE, DF []float64
		}
	}
}

type studyRows struct {
	Food, Block []int
	Y           []float64
}

type studyCase struct {
	Name  string
	Foods int
	studyRows
	CriterionAt    []struct{ Theta, Criterion float64 } `json:"criterion_at"`
	LMER, Polished *fitted
}

type fitted struct {
	Theta, Criterion float64
	BlockVariance    float64 `json:"block_variance"`
	ErrorVariance    float64 `json:"error_variance"`
	Estimate, SE, DF []float64
	SEUnadjusted     []float64 `json:"se_unadjusted"`
}

func (r studyRows) observations() (obs []additive.Observation) {
	for k, y := range r.Y {
		obs = append(obs, additive.Observation{Treatment: r.Food[k] - 1, Block: r.Block[k] - 1, Value: y})
	}
	return obs
}

func readReference(t testing.TB) (ref reference) {
	t.Helper()
	data, err := os.ReadFile("../../testdata/reference/mixed.json")
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(data, &ref); err != nil {
		t.Fatal(err)
	}
	return ref
}

func (r reference) named(t testing.TB, name string) studyCase {
	for _, c := range r.Cases {
		if c.Name == name {
			return c
		}
	}
	t.Fatalf("the reference has no case %s", name)
	return studyCase{}
}

func mustFit(t testing.TB, obs []additive.Observation, treatments int) *Fit {
	t.Helper()
	f, err := NewFit(obs, treatments)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// pairs returns the weights of a − b for all pairs, the first treatment first.
func pairs(treatments int) (all [][]float64) {
	for a := range treatments {
		for b := a + 1; b < treatments; b++ {
			w := make([]float64, treatments)
			w[a], w[b] = 1, -1
			all = append(all, w)
		}
	}
	return all
}

// meansAndPairs returns what combinations of mixed.R does.
func meansAndPairs(t testing.TB, f *Fit, treatments int) fitted {
	t.Helper()
	got := fitted{Theta: f.Theta, Criterion: f.Criterion, BlockVariance: f.BlockVariance, ErrorVariance: f.ErrorVariance}
	add := func(weights []float64, e Estimate, err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		plain, m := f.layout.coordinates(weights)
		v, _, _ := f.layout.kenwardRoger(f.VarianceRatio(), plain, m)
		got.Estimate, got.SE, got.DF = append(got.Estimate, e.Value), append(got.SE, e.SE), append(got.DF, e.DF)
		got.SEUnadjusted = append(got.SEUnadjusted, math.Sqrt(v*f.ErrorVariance))
	}
	for i := range treatments {
		w := make([]float64, treatments)
		w[i] = 1
		e, err := f.Mean(i)
		add(w, e, err)
	}
	for _, w := range pairs(treatments) {
		e, err := f.Contrast(w)
		add(w, e, err)
	}
	return got
}

// The criterion at fixed ratios, so that a search that ends well cannot hide a
// wrong likelihood.
func TestCriterionAgainstR(t *testing.T) {
	for _, c := range readReference(t).Cases {
		f := mustFit(t, c.observations(), c.Foods)
		for _, at := range c.CriterionAt {
			if got := f.layout.criterion(at.Theta * at.Theta); math.Abs(got-at.Criterion) > 1e-10*math.Abs(at.Criterion) {
				t.Errorf("%s: criterion at %g is %.14g, lme4 has %.14g", c.Name, at.Theta, got, at.Criterion)
			}
		}
	}
}

// Against lmer as it comes: its estimate of θ has about 7 digits, being found
// from values of the criterion; ours is never worse by the criterion.
func TestFitsAgainstLMER(t *testing.T) {
	cases := readReference(t).Cases
	if len(cases) < 50 {
		t.Fatalf("%d cases, want at least 50", len(cases))
	}
	zero, lower := 0, 0
	for _, c := range cases {
		f := mustFit(t, c.observations(), c.Foods)
		got := meansAndPairs(t, f, c.Foods)
		// Both ratios by the criterion that TestCriterionAgainstR has checked:
		// lme4's own value has only ten digits where blocks differ by far more
		// than the error.
		theirs := f.layout.criterion(c.LMER.Theta * c.LMER.Theta)
		if got.Criterion > theirs+1e-14*math.Abs(theirs) {
			t.Errorf("%s: criterion %.16g, %.16g at lmer's theta", c.Name, got.Criterion, theirs)
		}
		if theirs > got.Criterion+1e-13*math.Abs(theirs) {
			lower++
		}
		if diff := cmp.Diff(c.LMER.Estimate, got.Estimate, cmpopts.EquateApprox(1e-7, 1e-7*got.SE[0])); diff != "" {
			t.Errorf("%s: estimates (-lmer +ours):\n%s", c.Name, diff)
		}
		if diff := cmp.Diff([][]float64{c.LMER.SE, c.LMER.SEUnadjusted, c.LMER.DF}, [][]float64{got.SE, got.SEUnadjusted, got.DF}, cmpopts.EquateApprox(1e-5, 0)); diff != "" {
			t.Errorf("%s: SE adjusted, unadjusted, DF (-pbkrtest +ours):\n%s", c.Name, diff)
		}
		if f.Boundary != (c.LMER.Theta < 1e-6) {
			t.Errorf("%s: boundary %v, lmer has theta %g", c.Name, f.Boundary, c.LMER.Theta)
		}
		if f.Boundary {
			zero++
		}
	}
	if zero < 8 || lower < 1 {
		t.Errorf("only %d cases at the boundary, %d where lmer stopped short", zero, lower)
	}
}

// Against lme4 and pbkrtest at the root of the score, where both have all their
// digits. With blocks 1000 times the error SD the dense matrices of the
// reference are the less exact side: there 7 digits.
func TestFitsAgainstRAtTheRootOfTheScore(t *testing.T) {
	polished := 0
	for _, c := range readReference(t).Cases {
		if c.Polished == nil {
			continue
		}
		polished++
		digits := 1e-11
		if c.Polished.Theta > 100 {
			digits = 1e-7
		}
		got := meansAndPairs(t, mustFit(t, c.observations(), c.Foods), c.Foods)
		if diff := cmp.Diff(*c.Polished, got, cmpopts.EquateApprox(digits, 1e-11*got.SE[0])); diff != "" {
			t.Errorf("%s (-R +ours):\n%s", c.Name, diff)
		}
	}
	if polished < 40 {
		t.Errorf("only %d cases were compared", polished)
	}
}

// Against the matrix formulas of the papers in 50 decimal digits.
func TestFitsAgainst50Digits(t *testing.T) {
	var digits struct{ Fits map[string]fitted }
	data, err := os.ReadFile("testdata/digits.json")
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(data, &digits); err != nil {
		t.Fatal(err)
	}
	if len(digits.Fits) < 7 {
		t.Fatalf("%d fits, want at least 7", len(digits.Fits))
	}
	ref := readReference(t)
	for name, want := range digits.Fits {
		c := ref.named(t, name)
		got := meansAndPairs(t, mustFit(t, c.observations(), c.Foods), c.Foods)
		if diff := cmp.Diff(want, got, cmpopts.EquateApprox(2e-12, 1e-12*got.SE[0])); diff != "" {
			t.Errorf("%s (-50 digits +ours):\n%s", name, diff)
		}
	}
}

// pbkrtest inverts the information on the variances approximately when an
// eigenvalue is below 1e-10 in the units of the responses. Before, we agree;
// we do so in every unit with ourselves.
func TestUnitDoesNotMatterWhereItDoesInPBKRTest(t *testing.T) {
	u := readReference(t).Units
	obs := u.observations()
	small := meansAndPairs(t, mustFit(t, obs, 4), 4)
	for k := range obs {
		obs[k].Value *= u.Results[1].Unit
	}
	large := meansAndPairs(t, mustFit(t, obs, 4), 4)
	approx := cmpopts.EquateApprox(1e-5, 0)
	if diff := cmp.Diff(u.Results[0].DF, small.DF, approx); diff != "" {
		t.Errorf("DF (-pbkrtest +ours):\n%s", diff)
	}
	if diff := cmp.Diff(small.DF, large.DF, cmpopts.EquateApprox(1e-12, 0)); diff != "" {
		t.Errorf("DF by unit (-1 +1000):\n%s", diff)
	}
	if cmp.Equal(u.Results[1].DF, large.DF, cmpopts.EquateApprox(1e-2, 0)) {
		t.Error("the reference agrees in both units, and shows nothing")
	}
}

// Davies and Goldsmith's dyestuff, variance components by REML as printed in
// lme4's documentation (Bates et al.; from memory): 1764 and 2451, mean 1527.5
// with standard error 19.38, criterion 319.654. One treatment and a balanced
// layout: 5 degrees of freedom, those of the batches.
func TestDyestuff(t *testing.T) {
	c := readReference(t).named(t, "Dyestuff")
	f := mustFit(t, c.observations(), 1)
	e, err := f.Mean(0)
	if err != nil {
		t.Fatal(err)
	}
	got := []float64{f.BlockVariance, f.ErrorVariance, f.Criterion, e.Value, e.SE, e.DF}
	want := []float64{1764.05, 2451.25, 319.654, 1527.5, 19.3834, 5}
	if diff := cmp.Diff(want, got, cmpopts.EquateApprox(3e-6, 0)); diff != "" {
		t.Errorf("(-published +ours):\n%s", diff)
	}
}
