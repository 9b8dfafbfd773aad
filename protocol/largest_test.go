package protocol

import "testing"

func TestLargest(t *testing.T) {
	for most := -1; most <= 12; most++ {
		for edge := -1; edge <= 13; edge++ {
			want := min(edge, most)
			if got := largest(most, func(n int) bool {
				if n < 0 || n > most {
					t.Fatalf("asked for %d of %d", n, most)
				}
				return n <= edge
			}); got != max(want, -1) {
				t.Errorf("most %d, fits up to %d: %d", most, edge, got)
			}
		}
	}
}
