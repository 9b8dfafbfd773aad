package null

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"
)

const few = 2000

// margin is the relative distance of two answers at the last look that chance
// does not explain: the chance of passing rises at least as the 0.7th power of
// the level, and 6 standard errors never happen.
func margin(a, b Bound) float64 {
	return 6 * math.Hypot(a.LevelError, b.LevelError) / a.Alpha / 0.7
}

func last(b Bound) float64 { return b.Level[len(b.Level)-1] }

func TestLevelsLieBetweenBonferroniAndAlpha(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := anyDesign(t)
		shape := Shape(rapid.IntRange(0, 1).Draw(t, "shape"))
		alpha := rapid.Float64Range(0.005, 0.3).Draw(t, "alpha")
		b, err := Find(d, shape, alpha, few, rapid.Uint64().Draw(t, "seed"))
		if errors.Is(err, ErrNoStatistic) {
			return
		}
		statistics := 0
		for k, level := range b.Level {
			asked := 0
			for _, yes := range b.Estimable[k] {
				if yes {
					asked++
				}
			}
			statistics += asked
			if (asked > 0) != (level > 0) && !math.IsInf(b.Critical[k], 1) {
				t.Fatalf("look %d: %d statistics, level %g", k, asked, level)
			}
			if level > alpha || k > 0 && level < b.Level[k-1]*(1-1e-12) || !(b.Price[k] >= 1-1e-9) || !(b.CriticalError[k] >= 0) {
				t.Fatalf("look %d: level %g, price %g, error %g", k, level, b.Price[k], b.CriticalError[k])
			}
			if shape == Constant && level > 0 && level != last(b) {
				t.Fatalf("constant level is %g and %g", level, last(b))
			}
		}
		if floor := alpha / float64(statistics); last(b) < floor*(1-margin(b, b)) {
			t.Fatalf("level %g is below Bonferroni's %g", last(b), floor)
		}
	})
}

func TestMoreQuestionsNeverRaiseTheLevel(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := anyDesign(t)
		all := d.Contrasts
		d.Contrasts = all[:rapid.IntRange(1, len(all)).Draw(t, "questions")]
		some, err := Find(d, Constant, 0.05, few, 1)
		if err != nil {
			return
		}
		d.Contrasts = all
		more, _ := Find(d, Constant, 0.05, few, 2)
		if last(more) > last(some)*(1+margin(some, more)) {
			t.Fatalf("level %g with all questions, %g with some", last(more), last(some))
		}
	})
}

func TestLabelsAndOrderWithinALookDoNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := anyDesign(t)
		shape := Shape(rapid.IntRange(0, 1).Draw(t, "shape"))
		before, err := Find(d, shape, 0.05, few, 1)
		after, err2 := Find(shuffled(t, d), shape, 0.05, few, 2)
		if !errors.Is(err2, err) {
			t.Fatalf("%v, after shuffling %v", err, err2)
		}
		if err == nil && math.Abs(last(after)/last(before)-1) > margin(before, after) {
			t.Fatalf("level %g, after shuffling %g", last(before), last(after))
		}
	})
}

// shuffled relabels treatments and blocks, turns contrasts round, changes
// their size, and reorders tests within looks.
func shuffled(t *rapid.T, d Design) Design {
	treatment := rapid.Permutation(indexes(d.Treatments)).Draw(t, "labels")
	var blocks int
	for _, test := range d.Tests {
		blocks = max(blocks, test.Block+1)
	}
	block := rapid.Permutation(indexes(blocks)).Draw(t, "blocks")
	s := Design{Treatments: d.Treatments, Looks: d.Looks, Tests: make([]Test, len(d.Tests))}
	from := 0
	for _, n := range d.Looks {
		for i, place := range rapid.Permutation(indexes(n-from)).Draw(t, "order") {
			test := d.Tests[from+i]
			s.Tests[from+place] = Test{Treatment: treatment[test.Treatment], Block: 3*block[test.Block] + 1}
		}
		from = n
	}
	for q, c := range d.Contrasts {
		turned := make([]float64, d.Treatments)
		for i, w := range c {
			turned[treatment[i]] = -w * float64(q+1) / 7
		}
		s.Contrasts = append(s.Contrasts, turned)
	}
	return s
}

func indexes(n int) (all []int) {
	for i := range n {
		all = append(all, i)
	}
	return all
}

// What Find promises, Achieved confirms with other random numbers.
func TestAchievedConfirmsFind(t *testing.T) {
	for _, shape := range []Shape{Constant, OBrienFleming} {
		for _, alpha := range []float64{0.01, 0.1} {
			b := find(t, crippled(), shape, alpha, 50_000)
			got, se, err := Achieved(crippled(), b.Level, 50_000, 4)
			if err != nil || math.Abs(got-alpha) > 4*math.Hypot(se, b.LevelError) {
				t.Errorf("shape %d: %.5f ± %.5f, %v, want %g", shape, got, se, err, alpha)
			}
		}
	}
}

// The spread of answers over seeds must be what the errors say.
func TestStandardErrorsTellTheSpread(t *testing.T) {
	const seeds = 60
	d := crippled()
	var sum, squares, claimed [4]float64
	for seed := range uint64(seeds) {
		b, _ := Find(d, Constant, 0.05, 1000, seed)
		for k, c := range b.Critical {
			sum[k] += math.Log(c)
			squares[k] += math.Log(c) * math.Log(c)
			claimed[k] += b.CriticalError[k] / seeds
		}
	}
	for k := range sum {
		mean := sum[k] / seeds
		sd := math.Sqrt((squares[k] - seeds*mean*mean) / (seeds - 1))
		// An SD from 60 values is known to about 9 %.
		if ratio := sd / claimed[k]; ratio < 0.65 || ratio > 1.4 {
			t.Errorf("look %d: answers spread by %.5f, claimed %.5f", k, sd, claimed[k])
		}
	}
}
