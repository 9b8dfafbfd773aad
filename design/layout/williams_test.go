package layout

import (
	"strings"
	"testing"
)

// letters writes each row as ABC.
func letters(rows [][]int) string {
	words := make([]string, len(rows))
	for i, row := range rows {
		for _, treatment := range row {
			words[i] += string(rune('A' + treatment))
		}
	}
	return strings.Join(words, " ")
}

// The pair of squares for three treatments is published, quoted from Williams
// 1949, Aust. J. Sci. Res. A 2:149; the others follow his zig-zag rule and were
// written out by another program.
func TestWilliamsSquaresWrittenOut(t *testing.T) {
	for n, want := range map[int]string{
		2: "AB BA",
		3: "ABC BCA CAB CBA ACB BAC",
		4: "ABDC BCAD CDBA DACB",
		5: "ABECD BCADE CDBEA DECAB EADBC DCEBA EDACB AEBDC BACED CBDAE",
		6: "ABFCED BCADFE CDBEAF DECFBA EFDACB FAEBDC",
	} {
		if got := letters(Williams(n)); got != want {
			t.Errorf("%d treatments: %s, want %s", n, got, want)
		}
	}
}

func TestWilliamsSquaresAreBalanced(t *testing.T) {
	for n := 2; n <= 13; n++ {
		squares := 1 + n%2
		rows := Williams(n)
		if len(rows) != squares*n {
			t.Fatalf("%d treatments: %d rows", n, len(rows))
		}
		at := map[[2]int]int{}
		for _, row := range rows {
			for position, treatment := range row {
				at[[2]int{position, treatment}]++
			}
		}
		for where, times := range at {
			if times != squares || len(at) != n*n {
				t.Errorf("%d treatments: position and treatment %v occur %d times", n, where, times)
			}
		}
		balance := CarryOver(n, rows, Order{})
		for i, row := range balance.Counts {
			for j, times := range row {
				if i == j && times != 0 || i != j && times != squares {
					t.Errorf("%d treatments: %d follows %d %d times", n, j, i, times)
				}
			}
		}
		if balance.Deviation != 0 {
			t.Errorf("%d treatments: deviation %d", n, balance.Deviation)
		}
	}
}
