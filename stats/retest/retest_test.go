package retest

import (
	"math"
	"math/rand/v2"
	"testing"

	"mealtrial/stats"
	"mealtrial/stats/additive"
)

// Old and new blocks put into one least squares fit give the estimate, standard
// error and degrees of freedom that Chance updates to.
func TestUpdateIsLeastSquaresOnAllTests(t *testing.T) {
	source := rand.New(rand.NewPCG(3, 3))
	var obs []additive.Observation
	for b := range 4 {
		for k := range 2 {
			obs = append(obs, additive.Observation{Treatment: k, Block: b, Value: float64(k) + source.NormFloat64()})
		}
	}
	state := stateOf(obs)
	var future Future
	state.Chance(3, 1, 7, func(f Future) bool {
		future = f
		future.Blocks = append([]float64(nil), f.Blocks...)
		return true
	})
	for i, x := range future.Blocks {
		obs = append(obs, additive.Observation{Treatment: 0, Block: 4 + i, Value: x}, additive.Observation{Treatment: 1, Block: 4 + i})
	}
	e, _ := additive.NewFit(obs).Contrast([]float64{1, -1})
	if math.Abs(e.Value-future.Estimate) > 1e-12 || math.Abs(e.SE-future.SE) > 1e-12 || float64(e.DF) != future.DF {
		t.Errorf("%+v, least squares on all tests has %+v", future, e)
	}
}

func stateOf(obs []additive.Observation) State {
	fit := additive.NewFit(obs)
	e, _ := fit.Contrast([]float64{1, -1})
	sd, _ := fit.SD()
	return State{Estimate: e.Value, Factor: e.Factor, SD: sd, DF: float64(e.DF), Size: 2}
}

// One further block, decided at a fixed limit, has a closed form: the mean of the
// next contrast is t distributed, so the chance that it exceeds a limit is a t
// tail (Box and Tiao 1973, predictive distribution).
func TestChanceOfTheNextBlockIsATTail(t *testing.T) {
	s := State{Estimate: 5, Factor: 0.8, SD: 4, DF: 6, Size: 2}
	const limit = 9.0
	got, se := s.Chance(1, 200_000, 1, func(f Future) bool { return f.Blocks[0] > limit })
	x := (limit - s.Estimate) / (s.SD * math.Sqrt(s.Factor*s.Factor+s.Size))
	want := stats.TwoSidedP(x, s.DF) / 2
	if math.Abs(got-want) > 4*se {
		t.Errorf("%.4f ± %.4f, the t tail is %.4f", got, se, want)
	}
}

// Over studies with truths from the prior, of the questions that were open as many
// are settled by the further tests as was predicted, within 3 points. The prior is
// flat in δ and in log σ; δ/σ is drawn flat, so each study has the weight σ, and only
// studies with an observed SD far from the ends of the range of σ are looked at.
func TestPredictedChanceComesTrue(t *testing.T) {
	const studies, further, most = 40_000, 4, 0.03
	source := rand.New(rand.NewPCG(11, 5))
	var predicted, settled, n float64
	for range studies {
		sigma := math.Exp(source.Float64()*6 - 3)
		delta := (source.Float64()*10 - 5) * sigma
		draw := func(blocks, first int) (obs []additive.Observation) {
			for b := range blocks {
				shift := 3 * source.NormFloat64()
				obs = append(obs, additive.Observation{Treatment: 0, Block: first + b, Value: delta + shift + sigma*source.NormFloat64()},
					additive.Observation{Treatment: 1, Block: first + b, Value: shift + sigma*source.NormFloat64()})
			}
			return obs
		}
		obs := draw(4, 0)
		state := stateOf(obs)
		if state.SD < 0.7 || state.SD > 1.4 {
			continue
		}
		open := func(estimate, se, df float64) bool {
			i := stats.TInterval(estimate, se, df, 0.95)
			return i.Low < 0 && i.High > 0
		}
		if !open(state.Estimate, state.Factor*state.SD, state.DF) {
			continue
		}
		p, _ := state.Chance(further, 40, source.Uint64(), func(f Future) bool { return !open(f.Estimate, f.SE, f.DF) })
		predicted += sigma * p
		n += sigma
		e, _ := additive.NewFit(append(obs, draw(further, 4)...)).Contrast([]float64{1, -1})
		if !open(e.Value, e.SE, float64(e.DF)) {
			settled += sigma
		}
	}
	t.Logf("predicted %.3f, settled %.3f", predicted/n, settled/n)
	if n < 500 || math.Abs(predicted/n-settled/n) > most {
		t.Errorf("weight %.0f of open questions: predicted %.3f, settled %.3f", n, predicted/n, settled/n)
	}
}
