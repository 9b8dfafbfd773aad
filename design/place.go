package design

import "slices"

// place gives a day to every slot, the earliest that the slots before it allow,
// and returns the restriction that fails, or "". As every restriction on days
// but the wanted ones is a lower bound by earlier days, no other choice places
// more tests.
func (d *drawing) place() Restriction {
	if r := d.checkOrder(); r != "" {
		d.placed = 0
		return r
	}
	var days []int
	at := 0
	for i := range d.slots {
		s := &d.slots[i]
		if block := d.p.Blocks[s.Block].Days; i == 0 || s.Block != d.slots[i-1].Block {
			if i == 0 || !same(block, days) {
				days, at = block, 0
			}
		}
		at = d.earliest(i, days, at)
		if at == len(days) {
			d.placed = i
			return d.why(i, days)
		}
		s.Day = days[at]
		at++
	}
	d.placed = len(d.slots)
	for _, w := range d.p.Wanted {
		if !slices.ContainsFunc(d.slots, func(s Slot) bool { return s.Day == w }) {
			return WantedDays
		}
	}
	return ""
}

// same tells whether two blocks share one list of days.
func same(a, b []int) bool {
	return len(a) == len(b) && (len(a) == 0 || &a[0] == &b[0])
}

// earliest returns the index of the first day from at on that slot i may have.
func (d *drawing) earliest(i int, days []int, at int) int {
	lowest, latest := d.bounds(i)
	for ; at < len(days) && days[at] < lowest; at++ {
	}
	if at == len(days) || days[at] > latest {
		return len(days)
	}
	if later, ok := d.wanted(i, days, at); ok && days[later] <= latest {
		return later
	}
	return at
}

// bounds returns the first and last day that slot i may have by the slots
// before it and the availability of its treatment.
func (d *drawing) bounds(i int) (lowest, latest int) {
	const never, forever = -1 << 40, 1 << 40
	lowest, latest = never, forever
	t := d.slots[i].Treatment
	if before, ok := d.before(i, 1); ok {
		lowest = before.Day + 1 + d.gap(before.Treatment, t)
	}
	if w := d.p.Weekly; w > 0 {
		if first, ok := d.before(i, w); ok {
			lowest = max(lowest, first.Day+7)
		}
	}
	if d.p.Available != nil {
		lowest = max(lowest, d.p.Available[t].From)
		latest = d.p.Available[t].Until
	}
	return lowest, latest
}

// before returns the test that lies n tests before slot i.
func (d *drawing) before(i, n int) (test Held, ok bool) {
	if i >= n {
		return Held{d.slots[i-n].Day, d.slots[i-n].Treatment}, true
	}
	if at := len(d.p.Held) + i - n; at >= 0 {
		return d.p.Held[at], true
	}
	return Held{}, false
}

// gap returns the days kept free between a test of a and a test of b.
func (d *drawing) gap(a, b int) int {
	gap := d.p.Washout
	if d.p.After != nil {
		gap = max(gap, d.p.After[a])
	}
	if d.p.Before != nil {
		gap = max(gap, d.p.Before[b])
	}
	return gap
}

// wanted moves slot i to the next wanted day when the slot after it could not be
// held on that day, or when no more slots are left than wanted days.
func (d *drawing) wanted(i int, days []int, at int) (index int, ok bool) {
	ahead := 0
	next := -1
	for _, w := range d.p.Wanted {
		if w >= days[at] {
			if ahead++; next < 0 {
				next = w
			}
		}
	}
	if next < 0 || next == days[at] {
		return 0, false
	}
	if i+1 < len(d.slots) && len(d.slots)-i > ahead {
		d.slots[i].Day = days[at]
		if lowest, _ := d.bounds(i + 1); lowest <= next {
			return 0, false
		}
	}
	return slices.BinarySearch(days, next)
}

// why names the restriction that leaves slot i without a day.
func (d *drawing) why(i int, days []int) Restriction {
	t := d.slots[i].Treatment
	if d.p.Available != nil && (len(days) == 0 || d.p.Available[t].Until < days[len(days)-1] || d.p.Available[t].From > days[0]) {
		d.scarce = t
		return Availability
	}
	last, some := d.before(i, 1)
	if first, full := d.before(i, d.p.Weekly); d.p.Weekly > 0 && some && full && first.Day+7 > last.Day+1+d.gap(last.Treatment, t) {
		return Weekly
	}
	return Days
}

// checkOrder looks at the restrictions on the order alone.
func (d *drawing) checkOrder() Restriction {
	if d.p.NoRepeat {
		if before, ok := d.before(0, 1); ok && len(d.slots) > 0 && before.Treatment == d.slots[0].Treatment {
			return Consecutive
		}
		for i := 1; i < len(d.slots); i++ {
			if d.slots[i].Treatment == d.slots[i-1].Treatment {
				return Consecutive
			}
		}
	}
	if d.p.CarryOver != nil && carryOverImbalance(d.slots, d.p.Treatments) > *d.p.CarryOver {
		return CarryOver
	}
	if d.p.Trend != nil && trendImbalance(d.slots, d.p.Treatments) > *d.p.Trend {
		return TrendBalance
	}
	return ""
}

// Room returns how many tests the days hold with a washout between them, and at
// most so many in any seven days; 0 is no limit.
func Room(days []int, washout, weekly int) int {
	var taken []int
	for _, day := range days {
		n := len(taken)
		if (n == 0 || day > taken[n-1]+washout) && (weekly == 0 || n < weekly || day >= taken[n-weekly]+7) {
			taken = append(taken, day)
		}
	}
	return len(taken)
}
