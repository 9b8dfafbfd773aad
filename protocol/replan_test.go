package protocol

import (
	"slices"
	"testing"
)

// A retest of one question is of two foods, whose blocks could only have one order if
// no food stood on two consecutive tests. Both orders are drawn, and the draw can be
// held against the answers.
func TestARetestOfTwoFoodsIsDrawnInBothOrders(t *testing.T) {
	f := eatenBlocks(t, "")
	f.Study.Plan.Until += 200
	for range 12 {
		f.extra = append(f.extra, 0, 1)
	}
	from := f.Schedule.Tests[len(f.Schedule.Tests)-1].Date + 2
	next, err := f.Replan(from, from, "tester", "retest of open questions", 0)
	if err != nil {
		t.Fatal(err)
	}
	var orders []string
	added := next.file.from(from)
	if len(added) != 24 {
		t.Fatalf("%d tests were added, want 24", len(added))
	}
	for i := 0; i < len(added); i += 2 {
		orders = append(orders, added[i].Food+added[i+1].Food)
	}
	if !slices.Contains(orders, "ab") || !slices.Contains(orders, "ba") {
		t.Errorf("the orders are %v", orders)
	}
	f.Schedule, f.extra = next.file, nil
	if _, ok := f.parts(); !ok {
		t.Error("the schedule cannot be drawn again")
	}
}
