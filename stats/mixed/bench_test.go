package mixed

import "testing"

// 30 tests, 6 treatments in 10 blocks of 3: the fit and all 15 differences. About
// 17 µs on one core of a server processor of 2026.
func BenchmarkFitAndAllPairs(b *testing.B) {
	c := readReference(b).named(b, "incomplete_6x10x3")
	benchmark(b, c)
}

// 60 tests, 12 treatments in 5 complete blocks: the fit and all 66 differences.
func BenchmarkFitAndAllPairsOf60Tests(b *testing.B) {
	c := readReference(b).named(b, "complete_12x5")
	benchmark(b, c)
}

func benchmark(b *testing.B, c studyCase) {
	obs, weights := c.observations(), pairs(c.Foods)
	b.ReportAllocs()
	for b.Loop() {
		f, err := NewFit(obs, c.Foods)
		if err != nil {
			b.Fatal(err)
		}
		for _, w := range weights {
			if _, err := f.Contrast(w); err != nil {
				b.Fatal(err)
			}
		}
	}
}
