package null

import "testing"

// 4 looks, 10 questions, 100 000 studies.
func BenchmarkFind(b *testing.B) {
	d := complete(5, 8).asking(allPairs(5, 5)).looks(10, 20, 30, 40)
	for b.Loop() {
		if _, err := Find(d, Constant, 0.05, 100_000, 1); err != nil {
			b.Fatal(err)
		}
	}
}
