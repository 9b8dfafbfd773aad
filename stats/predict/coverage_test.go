package predict

import (
	"math"
	"math/rand/v2"
	"testing"

	"mealtrial/stats/additive"
)

// plan is a simulated study: each treatment once in each block, lost ones left
// out by their number; without blocks, the repeats of one-way data.
type plan struct {
	name               string
	treatments, blocks int
	lost               map[int]bool
	oneWay             bool
}

// draw returns the responses, and the true mean of treatment 0 in the average
// of the blocks drawn. Block effects have SD 6, the error SD 2.
func (p plan) draw(random *rand.Rand) (obs []additive.Observation, mean float64) {
	mean = 10
	for b := range p.blocks {
		shift := 0.0
		if !p.oneWay {
			shift = 6 * random.NormFloat64()
			mean += shift / float64(p.blocks)
		}
		for i := range p.treatments {
			if p.lost[b*p.treatments+i] {
				continue
			}
			o := additive.Observation{Treatment: i, Block: b, Value: 10 + 3*float64(i) + shift + 2*random.NormFloat64()}
			if p.oneWay {
				o.Block = 0
			}
			obs = append(obs, o)
		}
	}
	return obs, mean
}

var plans = []plan{
	{name: "one-way, 3 treatments of 4", treatments: 3, blocks: 4, oneWay: true},
	{name: "one-way, responses lost", treatments: 3, blocks: 4, oneWay: true, lost: map[int]bool{0: true, 3: true, 4: true}},
	{name: "3 treatments in 3 blocks", treatments: 3, blocks: 3},
	{name: "4 treatments in 4 blocks, three lost", treatments: 4, blocks: 4, lost: map[int]bool{0: true, 5: true, 6: true}},
}

// tally holds shares of studies: the next response in a block like the average
// lies in the 0.95 interval, below the upper and above the lower 0.9 bound; a
// mean at the limit is shown below it and above it at 0.95; the next response
// in a new block lies in the 0.95 interval of each kind.
type tally struct{ two, upper, lower, below, above, newOwn, newPooled float64 }

func (p plan) tally(studies int, seed uint64) (s tally) {
	random := rand.New(rand.NewPCG(seed, 1))
	add := func(to *float64, yes bool) {
		if yes {
			*to += 1 / float64(studies)
		}
	}
	for range studies {
		obs, truth := p.draw(random)
		pooled, err := FromFit(additive.NewFit(obs), 0)
		if err != nil {
			panic(err)
		}
		next := truth + 2*random.NormFloat64()
		bounds, place := NextBounds(pooled, 0.9), MeanBounds(pooled, 0.95).Place(truth)
		add(&s.two, Next(pooled, 0.95).Contains(next))
		add(&s.upper, next < bounds.Upper)
		add(&s.lower, next > bounds.Lower)
		add(&s.below, place == Below)
		add(&s.above, place == Above)

		var responses []float64
		for _, o := range obs {
			if o.Treatment == 0 {
				responses = append(responses, o.Value)
			}
		}
		own, err := FromResponses(responses)
		if err != nil {
			panic(err)
		}
		shift := 6 * random.NormFloat64()
		if p.oneWay {
			shift = 0
		}
		next = 10 + shift + 2*random.NormFloat64()
		add(&s.newOwn, Next(own, 0.95).Contains(next))
		add(&s.newPooled, Next(pooled, 0.95).Contains(next))
	}
	return s
}

// Every probability is the one promised, within four standard errors of 4000
// studies. In a new block with an effect of its own FromResponses keeps its
// promise and FromFit does not: the reason for the warning in its comment.
func TestCoverage(t *testing.T) {
	const studies = 4000
	for _, p := range plans {
		got := p.tally(studies, 3)
		for _, c := range []struct {
			what      string
			got, want float64
		}{
			{"next response, two-sided", got.two, 0.95},
			{"next response below the upper bound", got.upper, 0.9},
			{"next response above the lower bound", got.lower, 0.9},
			{"mean at the limit shown below", got.below, 0.05},
			{"mean at the limit shown above", got.above, 0.05},
			{"next response in a new block, own spread", got.newOwn, 0.95},
		} {
			if slack := 4 * math.Sqrt(c.want*(1-c.want)/studies); math.Abs(c.got-c.want) > slack {
				t.Errorf("%s, %s: %.4f, want %.2f ± %.4f", p.name, c.what, c.got, c.want, slack)
			}
		}
		if !p.oneWay && got.newPooled > 0.85 {
			t.Errorf("%s: %.4f with the residual spread in a new block, expected far below 0.95", p.name, got.newPooled)
		}
	}
}
