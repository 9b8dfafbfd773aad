package layout

// Williams returns sequences of n treatments, one a row, in which every
// treatment stands once in each position, and every treatment follows each
// other one equally often: once when n is even, with n sequences; twice when n
// is odd, with 2n sequences, the second half being the mirror images of the
// first. A single square cannot be made this way for odd n.
//
// The first sequence goes zig-zag, 0, 1, n−1, 2, n−2, …, so that its n−1 steps
// are all different modulo n; sequence i adds i to each treatment modulo n.
// Rows and labels are for the caller to randomise.
//
// It panics for n < 2. Williams 1949, Aust. J. Sci. Res. A 2:149.
func Williams(n int) [][]int {
	if n < 2 {
		panic("layout: fewer than two treatments")
	}
	first := make([]int, n)
	for position := range first {
		first[position] = (position + 1) / 2
		if position%2 == 0 {
			first[position] = (n - position/2) % n
		}
	}
	var rows [][]int
	for i := range n {
		row := make([]int, n)
		for position, treatment := range first {
			row[position] = (treatment + i) % n
		}
		rows = append(rows, row)
	}
	if n%2 == 0 {
		return rows
	}
	for _, row := range rows[:n:n] {
		mirror := make([]int, n)
		for position, treatment := range row {
			mirror[n-1-position] = treatment
		}
		rows = append(rows, mirror)
	}
	return rows
}
