package design

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// randomProblem draws a problem with every kind of restriction.
func randomProblem(t *rapid.T) Problem {
	k := rapid.IntRange(2, 5).Draw(t, "treatments")
	p := Problem{Treatments: k, Washout: rapid.IntRange(0, 2).Draw(t, "washout"), NoRepeat: rapid.Bool().Draw(t, "no repeat"),
		Weekly: rapid.SampledFrom([]int{0, 2, 3}).Draw(t, "weekly")}
	day := 0
	for range rapid.IntRange(0, 3).Draw(t, "held") {
		day += rapid.IntRange(1, 3).Draw(t, "step")
		p.Held = append(p.Held, Held{day, rapid.IntRange(0, k-1).Draw(t, "held treatment")})
	}
	if n := len(p.Held); n > 0 {
		day = p.Held[max(0, n-2)].Day // days that lie too early are for the draw to pass over
	}
	for range rapid.IntRange(1, 4).Draw(t, "blocks") {
		var b Block
		for range rapid.IntRange(1, k).Draw(t, "size") {
			b.Contents = append(b.Contents, rapid.IntRange(0, k-1).Draw(t, "treatment"))
		}
		for range rapid.IntRange(0, 40).Draw(t, "days") {
			day += rapid.IntRange(1, 2).Draw(t, "step")
			b.Days = append(b.Days, day)
		}
		p.Blocks = append(p.Blocks, b)
	}
	if rapid.Bool().Draw(t, "by food") {
		for range k {
			p.After = append(p.After, rapid.IntRange(0, 3).Draw(t, "after"))
			p.Before = append(p.Before, rapid.IntRange(0, 3).Draw(t, "before"))
			p.Available = append(p.Available, Range{From: rapid.IntRange(0, 10).Draw(t, "from"), Until: rapid.IntRange(30, 200).Draw(t, "until")})
		}
	}
	return p
}

// violation names the restriction that a schedule breaks, or "".
func violation(p Problem, drawn []Slot) string {
	held := len(p.Held)
	var slots []Slot
	for _, h := range p.Held {
		slots = append(slots, Slot{Day: h.Day, Treatment: h.Treatment, Block: -1})
	}
	slots = append(slots, drawn...)
	for i, s := range slots {
		if i < held {
			continue
		}
		if !slices.Contains(p.Blocks[s.Block].Days, s.Day) {
			return fmt.Sprintf("day %d is not one of block %d", s.Day, s.Block)
		}
		if p.Available != nil && (s.Day < p.Available[s.Treatment].From || s.Day > p.Available[s.Treatment].Until) {
			return fmt.Sprintf("treatment %d is not to be had on day %d", s.Treatment, s.Day)
		}
		if i == 0 {
			continue
		}
		before := slots[i-1]
		gap := p.Washout
		if p.After != nil {
			gap = max(gap, p.After[before.Treatment], p.Before[s.Treatment])
		}
		if s.Day-before.Day-1 < gap {
			return fmt.Sprintf("slots %v and %v with a washout of %d", before, s, gap)
		}
		if s.Block < before.Block {
			return "blocks out of order"
		}
		if p.NoRepeat && s.Treatment == before.Treatment {
			return "a treatment on two consecutive tests"
		}
		if p.Weekly > 0 && i >= p.Weekly && s.Day-slots[i-p.Weekly].Day < 7 {
			return "too many tests in seven days"
		}
	}
	return ""
}

func TestNoScheduleBreaksARestriction(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := randomProblem(t)
		seed := rapid.Uint64().Draw(t, "seed")
		slots, err := Draw(p, seed)
		var misfit DoesNotFit
		if errors.As(err, &misfit) {
			if misfit.Placed >= misfit.Needed {
				t.Fatalf("refused although placed: %+v", misfit)
			}
			return
		}
		if v := violation(p, slots); v != "" {
			t.Fatal(v)
		}
		for j, b := range p.Blocks {
			var got []int
			for _, s := range slots {
				if s.Block == j {
					got = append(got, s.Treatment)
				}
			}
			if len(got) != len(b.Contents) {
				t.Fatalf("block %d has %d tests, want %d", j, len(got), len(b.Contents))
			}
		}
		again, _ := Draw(p, seed)
		if !slices.Equal(slots, again) {
			t.Fatal("the same seed drew another schedule")
		}
	})
}

// Relabelled treatments give the relabelled schedule: the draw knows no names.
func TestRelabelledTreatmentsGiveTheRelabelledSchedule(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := randomProblem(t)
		label := rapid.Permutation(days(p.Treatments)).Draw(t, "labels")
		q := p
		q.Blocks = nil
		for _, b := range p.Blocks {
			var contents []int
			for _, x := range b.Contents {
				contents = append(contents, label[x])
			}
			q.Blocks = append(q.Blocks, Block{Contents: contents, Days: b.Days})
		}
		if p.After != nil {
			q.After, q.Before, q.Available = make([]int, p.Treatments), make([]int, p.Treatments), make([]Range, p.Treatments)
			for i, l := range label {
				q.After[l], q.Before[l], q.Available[l] = p.After[i], p.Before[i], p.Available[i]
			}
		}
		q.Held = nil
		for _, h := range p.Held {
			q.Held = append(q.Held, Held{h.Day, label[h.Treatment]})
		}
		seed := rapid.Uint64().Draw(t, "seed")
		a, errA := Draw(p, seed)
		b, errB := Draw(q, seed)
		if (errA == nil) != (errB == nil) {
			t.Fatalf("%v and %v", errA, errB)
		}
		for i := range a {
			if want := (Slot{a[i].Day, a[i].Block, label[a[i].Treatment]}); b[i] != want {
				t.Fatalf("slot %d is %v, want %v", i, b[i], want)
			}
		}
	})
}

// Orders that are allowed are equally likely, and only those: two blocks of
// three with no food on two consecutive tests and two days free after food 0,
// on days that leave room for one food 0 in mid-block at most. The allowed set
// is enumerated; Pearson's chi-square over 30 000 fixed seeds.
func TestDrawIsUniformOverTheAllowedOrders(t *testing.T) {
	p := CompleteBlocks(3, 2, days(9), 0)
	p.NoRepeat, p.After = true, []int{2, 0, 0}
	allowed := map[string]bool{}
	orders := [][]int{{0, 1, 2}, {0, 2, 1}, {1, 0, 2}, {1, 2, 0}, {2, 0, 1}, {2, 1, 0}}
	for _, a := range orders {
		for _, b := range orders {
			all := append(slices.Clone(a), b...)
			day, ok := 0, true
			for i, x := range all {
				if i > 0 {
					ok = ok && x != all[i-1]
					day += 1 + p.After[all[i-1]]
				}
			}
			if ok && day < 9 {
				allowed[strings.Trim(strings.ReplaceAll(fmt.Sprint(all), " ", ""), "[]")] = true
			}
		}
	}
	if n := len(allowed); n < 4 || n >= 30 {
		t.Fatalf("%d orders are allowed, the case is to have some and forbid some", n)
	}
	seen := countOrders(t, p, 30000)
	for order := range seen {
		if !allowed[order] {
			t.Fatalf("%s is not allowed", order)
		}
	}
	checkUniform(t, seen, len(allowed))
}

// In incomplete blocks foods of one class change places and blocks of one size
// change contents: all 3! × 3! × 2³ outcomes of three blocks of two out of three
// foods, which give 3! · 2³ = 48 different schedules, are equally likely.
func TestDrawIsUniformOverRelabelledBlocks(t *testing.T) {
	p := Problem{Treatments: 3, Class: []int{0, 0, 0}, Blocks: []Block{
		{Contents: []int{0, 1}, Days: days(6)}, {Contents: []int{0, 2}, Days: days(6)}, {Contents: []int{1, 2}, Days: days(6)}}}
	for i := range p.Blocks {
		p.Blocks[i].Days = p.Blocks[0].Days
	}
	checkUniform(t, countOrders(t, p, 48000), 48)
}

// Balanced orders are better balanced than free ones, and still many.
func TestBalance(t *testing.T) {
	p := CompleteBlocks(4, 4, days(16), 0)
	balanced, err := Balance(p, true, true)
	if err != nil {
		t.Fatal(err)
	}
	distinct := map[string]bool{}
	free, tied := 0.0, 0.0
	for seed := range uint64(200) {
		a, err := Draw(p, seed+5000)
		b, err2 := Draw(balanced, seed+5000)
		if err != nil || err2 != nil {
			t.Fatal(err, err2)
		}
		if carryOverImbalance(b, 4) > *balanced.CarryOver || trendImbalance(b, 4) > *balanced.Trend {
			t.Fatal("a balanced draw is beyond its limit")
		}
		free += carryOverImbalance(a, 4)
		tied += carryOverImbalance(b, 4)
		distinct[fmt.Sprint(b)] = true
	}
	if tied >= free || len(distinct) < 150 {
		t.Errorf("imbalance %g balanced, %g free; %d distinct of 200", tied/200, free/200, len(distinct))
	}
}

// For few foods a balanced draw is as even as the size allows: 11 successions
// over 6 ordered pairs of three foods (five twice, one once), over 12 of four
// (each at most once). Such sequences exist: Finney and Outhwaite 1956, type 2,
// 3 foods index 2 and 4 foods index 1, by exhaustive search.
func TestBalancedDrawsAreSeriallyBalanced(t *testing.T) {
	for _, c := range []struct {
		foods, blocks int
		want          float64
	}{{3, 4, 5*4 + 1}, {4, 3, 11}} {
		p := CompleteBlocks(c.foods, c.blocks, days(c.foods*c.blocks), 0)
		p.NoRepeat = true
		balanced, err := Balance(p, true, false)
		if err != nil {
			t.Fatal(err)
		}
		if *balanced.CarryOver != c.want {
			t.Errorf("%d foods in %d blocks: the most even order kept has imbalance %g, want %g", c.foods, c.blocks, *balanced.CarryOver, c.want)
		}
	}
}

// A Williams square of four is as balanced as can be: each ordered pair once.
// ABDC BCAD CDBA DACB (Williams 1949, Australian Journal of Scientific Research A 2:149).
func TestCarryOverImbalanceOfAWilliamsSquare(t *testing.T) {
	sum := 0.0
	for _, row := range [][]int{{0, 1, 3, 2}, {1, 2, 0, 3}, {2, 3, 1, 0}, {3, 0, 2, 1}} {
		var slots []Slot
		for _, x := range row {
			slots = append(slots, Slot{Treatment: x})
		}
		sum += carryOverImbalance(slots, 4)
	}
	if sum != 12 { // 12 ordered pairs, each once
		t.Errorf("the four rows have imbalance %g, want 12", sum)
	}
}

// A wanted day is used when the order leaves it free.
func TestWantedDays(t *testing.T) {
	p := CompleteBlocks(2, 3, days(40), 2)
	for wanted := range 15 {
		p.Wanted = []int{wanted}
		for seed := range uint64(20) {
			slots, err := Draw(p, seed+1)
			if err != nil {
				t.Fatal(err)
			}
			if v := violation(p, slots); v != "" {
				t.Fatal(v)
			}
			if !slices.ContainsFunc(slots, func(s Slot) bool { return s.Day == wanted }) {
				t.Errorf("no test on the wanted day %d: %v", wanted, slots)
			}
		}
	}
}
