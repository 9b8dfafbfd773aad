package exact

import "math"

// A Table is a two-by-two table: events and trials of two groups.
type Table struct {
	EventsA, TrialsA int
	EventsB, TrialsB int
}

// Fisher returns the two-sided p-value of Fisher's exact test of one table: given
// both margins, the probability of all tables that are no more likely than the one
// seen, if the rates are equal. Fisher 1935, The Design of Experiments, section 11
// (from memory).
func Fisher(t Table) float64 {
	return Stratified([]Table{t})
}

// Stratified returns the two-sided p-value of the exact conditional test that the
// odds of the two groups are equal within each of several tables, as of blocks:
// the events of A added over the tables, against their distribution when the
// margins of each table are held fixed. With one table it is Fisher's test; with
// pairs, a table of one trial of each, it is McNemar's exact test. A table whose
// margins leave nothing open says nothing. It is 1 without a table that says
// something, and panics for counts that cannot be. Gart 1970, Biometrika 57:471
// (from memory).
func Stratified(tables []Table) float64 {
	weights, seen := []float64{1}, 0
	for _, t := range tables {
		if t.EventsA < 0 || t.EventsA > t.TrialsA || t.EventsB < 0 || t.EventsB > t.TrialsB {
			panic("exact: events have to be 0 to the number of trials")
		}
		events := t.EventsA + t.EventsB
		low, high := max(0, events-t.TrialsB), min(events, t.TrialsA)
		next := make([]float64, len(weights)+high-low)
		for k := low; k <= high; k++ {
			w := math.Exp(logChoose(t.TrialsA, k) + logChoose(t.TrialsB, events-k) - logChoose(t.TrialsA+t.TrialsB, events))
			for i, x := range weights {
				next[i+k-low] += x * w
			}
		}
		weights = next
		seen += t.EventsA - low
	}
	return noMoreLikely(weights, seen)
}

// Smallest returns the smallest p-value that tables with these margins can give.
func Smallest(tables []Table) float64 {
	if len(tables) == 0 {
		return 1
	}
	most, least := make([]Table, len(tables)), make([]Table, len(tables))
	for i, t := range tables {
		events := t.EventsA + t.EventsB
		high, low := min(events, t.TrialsA), max(0, events-t.TrialsB)
		most[i] = Table{high, t.TrialsA, events - high, t.TrialsB}
		least[i] = Table{low, t.TrialsA, events - low, t.TrialsB}
	}
	return math.Min(Stratified(most), Stratified(least))
}
