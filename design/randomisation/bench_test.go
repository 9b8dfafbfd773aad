package randomisation

import (
	"math"
	"math/rand/v2"
	"testing"

	"mealtrial/design"
)

// drawn is a study of a problem with normal responses.
func drawn(b *testing.B, p design.Problem) Data {
	slots, err := design.Draw(p, 1)
	if err != nil {
		b.Fatal(err)
	}
	random := rand.New(rand.NewPCG(1, 1))
	d := Data{Parts: []design.Part{{Problem: p, Slots: slots}}}
	for range slots {
		d.Response = append(d.Response, random.NormFloat64())
	}
	return d
}

func incomplete() design.Problem {
	p := design.Problem{Treatments: 5, Class: make([]int, 5)}
	for i := range 10 {
		p.Blocks = append(p.Blocks, design.Block{Contents: []int{i % 5, (i + 1) % 5, (i + 2 + i/5) % 5}, Days: days(30)})
	}
	return p
}

// 100 000 random orders of five treatments in six blocks; the aim is 25 ms for
// complete blocks without restrictions.
func BenchmarkGlobal(b *testing.B) {
	noRepeats := design.CompleteBlocks(5, 6, days(30), 0)
	noRepeats.NoRepeat = true
	washout := design.CompleteBlocks(5, 6, days(90), 1)
	washout.NoRepeat, washout.After = true, []int{0, 2, 0, 0, 0}
	for _, c := range []struct {
		name string
		p    design.Problem
		lost bool
	}{{"complete", design.CompleteBlocks(5, 6, days(30), 0), false}, {"no repeats", noRepeats, false}, {"washout", washout, false},
		{"one lost", design.CompleteBlocks(5, 6, days(30), 0), true}, {"incomplete, one class", incomplete(), false}} {
		b.Run(c.name, func(b *testing.B) {
			d := drawn(b, c.p)
			if c.lost {
				d.Response[7] = math.NaN()
			}
			for b.Loop() {
				if r, err := Global(d, Effort{}); err != nil || r.Draws != 100_000 {
					b.Fatal(r, err)
				}
			}
		})
	}
}

// Every order of a pair, with its interval.
func BenchmarkQuestion(b *testing.B) {
	for _, c := range []struct {
		name     string
		blocks   int
		noRepeat bool
	}{{"6 blocks", 6, true}, {"12 blocks", 12, true}, {"20 blocks", 20, false}, {"20 blocks, no repeats", 20, true}} {
		b.Run(c.name, func(b *testing.B) {
			p := design.CompleteBlocks(3, c.blocks, days(3*c.blocks), 0)
			p.NoRepeat = c.noRepeat
			d := drawn(b, p)
			for b.Loop() {
				if r, err := Question(d, []float64{1, -1, 0}, 0.95, Effort{}); err != nil || !r.Exact {
					b.Fatal(r, err)
				}
			}
		})
	}
}
