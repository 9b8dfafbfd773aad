package design

import (
	"math/big"
	"slices"
)

// arrangements returns in how many ways the values at some places can be
// arranged: n! / Π nₜ!.
func arrangements(values, places []int) *big.Int {
	number, count := big.NewInt(1), map[int]int64{}
	for i, at := range places {
		count[values[at]]++
		number.Mul(number, big.NewInt(int64(i+1)))
		number.Quo(number, big.NewInt(count[values[at]])) // a multinomial of the places so far: no remainder
	}
	return number
}

// sortAt sorts the values at some places.
func sortAt(values, places []int) {
	picked := make([]int, len(places))
	for i, at := range places {
		picked[i] = values[at]
	}
	slices.Sort(picked)
	for i, at := range places {
		values[at] = picked[i]
	}
}

// nextAt puts the values at some places into their next arrangement in
// lexicographic order. After the last one it returns to the first, which is
// sorted, and says false (Knuth, The Art of Computer Programming 4A, section
// 7.2.1.2, algorithm L; from memory).
func nextAt(values, places []int) bool {
	j := len(places) - 2
	for j >= 0 && values[places[j]] >= values[places[j+1]] {
		j--
	}
	if j >= 0 {
		l := len(places) - 1
		for values[places[l]] <= values[places[j]] {
			l--
		}
		values[places[j]], values[places[l]] = values[places[l]], values[places[j]]
	}
	for a, b := j+1, len(places)-1; a < b; a, b = a+1, b-1 {
		values[places[a]], values[places[b]] = values[places[b]], values[places[a]]
	}
	return j >= 0
}
