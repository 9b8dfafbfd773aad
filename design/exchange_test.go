package design

import (
	"errors"
	"math/big"
	"slices"
	"strings"
	"testing"
)

// givenTheRest lists the orders of a problem that differ from a drawn one only in
// where some treatments stand within each block.
func givenTheRest(p Problem, drawn []Slot, among []int) map[string]bool {
	rest := func(slots []Slot) string {
		key := ""
		for first := 0; first < len(slots); {
			var held []int
			end := first
			for ; end < len(slots) && slots[end].Block == slots[first].Block; end++ {
				if slices.Contains(among, slots[end].Treatment) {
					held, key = append(held, slots[end].Treatment), key+"?"
				} else {
					key += orderOf(slots[end : end+1])
				}
			}
			slices.Sort(held)
			for _, h := range held {
				key += string(rune('a' + h))
			}
			first = end
		}
		return key
	}
	want, found := rest(drawn), map[string]bool{}
	EachOrder(p, func(o Order) {
		slots := o.Slots()
		if rest(slots) == want {
			found[orderOf(slots)] = true
		}
	})
	return found
}

func text(treatments []int) string {
	var b strings.Builder
	for _, t := range treatments {
		b.WriteByte(byte('0' + t))
	}
	return b.String()
}

// The exchanges are those of all orders that leave the rest as it is, each once;
// random ones are uniform over them.
func TestExchangesAreTheOrdersGivenTheRest(t *testing.T) {
	for name, p := range smallProblems() {
		for seed := range uint64(5) {
			slots, err := Draw(p, seed)
			if err != nil {
				t.Fatal(name, err)
			}
			for _, among := range [][]int{{0, 1}, days(p.Treatments)} {
				want := givenTheRest(p, slots, among)
				x, err := NewExchange([]Part{{Problem: p, Slots: slots}}, among)
				if err != nil {
					t.Fatal(name, err)
				}
				seen := map[string]int{}
				x.Each(func(treatments []int) { seen[text(treatments)]++ })
				for order := range want {
					if seen[order] != 1 {
						t.Fatalf("%s: %s shown %d times", name, order, seen[order])
					}
				}
				if len(seen) != len(want) || seen[orderOf(slots)] != 1 {
					t.Fatalf("%s: %d orders shown, want %d, the drawn one among them", name, len(seen), len(want))
				}
				free, _ := NewExchange([]Part{{Problem: p, Slots: slots}}, among)
				for i := range free.parts {
					free.parts[i].free = true
				}
				all := 0
				free.Each(func([]int) { all++ })
				if x.Orders().Cmp(big.NewInt(int64(all))) != 0 || !x.Restricted() && all != len(seen) {
					t.Errorf("%s: %v orders without restrictions, want %d", name, x.Orders(), all)
				}
				if len(want) > 1 && seed == 0 {
					checkSample(t, x, want)
				}
			}
		}
	}
}

func checkSample(t *testing.T, x *Exchange, want map[string]bool) {
	t.Helper()
	seen := map[string]int{}
	done := x.Sample(9, 60*len(want), 0, func(treatments []int) { seen[text(treatments)]++ })
	if done.Draws != 60*len(want) || done.Tries < done.Draws {
		t.Fatalf("%+v", done)
	}
	for order := range seen {
		if !want[order] {
			t.Fatalf("%s is not allowed", order)
		}
	}
	checkEven(t, seen, len(want))
}

func shown(t *testing.T, parts []Part, among ...int) (orders []string, moved bool) {
	t.Helper()
	x, err := NewExchange(parts, among)
	if err != nil {
		t.Fatal(err)
	}
	x.Each(func(treatments []int) { orders = append(orders, text(treatments)) })
	slices.Sort(orders)
	return orders, x.Moved()
}

// amended is a schedule of blocks 012 and 021, the second of which was drawn again
// after its first test, whose treatment 0 stays.
func amended() []Part {
	first := CompleteBlocks(3, 2, days(12), 0)
	var slots []Slot
	for i, t := range []int{0, 1, 2, 0, 2, 1} {
		slots = append(slots, Slot{i, i / 3, t})
	}
	rest := Problem{Treatments: 3, Blocks: []Block{{[]int{1, 2}, []int{8, 9}}}, Held: []Held{{2, 2}, {3, 0}}}
	return []Part{
		{Problem: first, Slots: slots, Fate: []Fate{Kept, Kept, Kept, Kept, Replaced, Replaced}},
		{Problem: rest, Slots: []Slot{{8, 0, 2}, {9, 0, 1}}, Blocks: []int{1}}}
}

// In an amended schedule treatments change places within block and draw only, what
// was replaced or planned again stays, and so does what a later draw looked back to.
func TestExchangesOfAnAmendedSchedule(t *testing.T) {
	expect := func(what string, parts []Part, among []int, want ...string) {
		t.Helper()
		if got, _ := shown(t, parts, among...); !slices.Equal(got, want) {
			t.Errorf("%s: %v, want %v", what, got, want)
		}
	}
	expect("two of three", amended(), []int{1, 2}, "01202112", "01202121", "02102112", "02102121")
	expect("another two", amended(), []int{0, 1}, "01202121", "10202121")

	again := amended()
	again[0].Fate[1] = PlannedAgain
	expect("one planned again", again, []int{1, 2}, "01202112", "01202121")

	back := amended()
	back[0].Fate = []Fate{Kept, Kept, Kept, Replaced, Replaced, Replaced}
	expect("nothing looks back", back, []int{1, 2}, "01202112", "01202121", "02102112", "02102121")
	back[1].Problem.After, back[1].Problem.Blocks = []int{0, 3, 0}, []Block{{[]int{1, 2}, []int{8, 9, 12}}}
	expect("a washout looks back", back, []int{1, 2}, "01202112", "01202121")
	back[1].Problem.After, back[1].Problem.NoRepeat = nil, true
	back[1].Problem.Held = []Held{{2, 2}}
	back[1].Slots[0].Treatment, back[1].Slots[1].Treatment = 1, 2
	expect("repeats look back", back, []int{1, 2}, "01202112") // 21 would repeat 2

	// In the first draw 1 keeps a day free: 021 0 21 would move days that are past.
	moving := amended()
	moving[0].Problem.After = []int{0, 1, 0}
	for i, day := range []int{0, 1, 3, 4, 5, 6} {
		moving[0].Slots[i].Day = day
	}
	expect("days that are past stay", moving, []int{1, 2}, "01202112", "01202121")

	// An order that the first problem forbids beside what was replaced.
	forbidden := amended()
	forbidden[0].Problem.NoRepeat = true
	expect("another two, no repeats", forbidden, []int{0, 2}, "01202121") // 21001… repeats 0

	places := Places(amended())
	if p := places[3]; p != (Place{0, 1, true}) || places[4].Kept || places[6] != (Place{2, 1, true}) {
		t.Errorf("places %v", places)
	}
}

func TestMovedDaysAreTold(t *testing.T) {
	p := CompleteBlocks(2, 2, days(12), 0)
	slots, _ := Draw(p, 1)
	if orders, moved := shown(t, []Part{{Problem: p, Slots: slots}}, 0, 1); moved || len(orders) != 4 {
		t.Errorf("%v, moved %t", orders, moved)
	}
	p.After = []int{2, 0}
	slots, _ = Draw(p, 1)
	if orders, moved := shown(t, []Part{{Problem: p, Slots: slots}}, 0, 1); !moved || len(orders) != 4 {
		t.Errorf("%v, moved %t", orders, moved)
	}
}

// A schedule that its problem does not draw is refused.
func TestExchangeOfAnotherSchedule(t *testing.T) {
	p := CompleteBlocks(3, 2, days(12), 0)
	slots, _ := Draw(p, 1)
	later := slices.Clone(slots)
	later[5].Day++
	repeated := slices.Clone(slots)
	repeated[3].Treatment = repeated[2].Treatment
	strict := p
	strict.NoRepeat = true
	for _, part := range []Part{{Problem: p, Slots: later}, {Problem: strict, Slots: repeated}} {
		if _, err := NewExchange([]Part{part}, []int{0, 1}); !errors.Is(err, ErrNotDrawn) {
			t.Errorf("%v", err)
		}
	}
	func() {
		defer func() {
			if recover() == nil {
				t.Error("slots of another size")
			}
		}()
		NewExchange([]Part{{Problem: p, Slots: slots[1:]}}, []int{0, 1})
	}()
}
