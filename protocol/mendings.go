package protocol

import (
	"fmt"
	"math"
	"slices"
	"sort"
)

// A trial tries a change of a study out and tells whether its tests fit.
type trial func(change func(*Study)) bool

// tries returns the trial of a study with this seed. A change may change the plan
// and the foods, which are copies.
func (s *Study) tries(seed uint64) trial {
	return func(change func(*Study)) bool {
		copied, plan := *s, *s.Plan
		plan.quick = true
		copied.Plan, copied.Foods = &plan, slices.Clone(s.Foods)
		change(&copied)
		_, _, err := copied.draw(plan.Until, seed)
		return err == nil
	}
}

// mendings tries single changes of the study and returns the smallest of each
// kind with which the tests fit.
func (s *Study) mendings(seed uint64) (mends []string) {
	fits := s.tries(seed)
	kinds := []func(trial) string{s.laterUntil, s.fewerRepeats, s.shorterWashout, s.morePerWeek, s.fewerOfOne,
		s.longerAvailable, s.otherTime, s.moreSensors, s.fewerRestrictions}
	for i, try := range kinds {
		s.Watch.see(i, len(kinds)+1)
		if mend := try(fits); mend != "" {
			mends = append(mends, mend)
		}
	}
	if len(mends) == 0 {
		s.Watch.see(len(kinds), len(kinds)+1)
		mends = s.two(fits)
	}
	return mends
}

func (s *Study) laterUntil(fits trial) string {
	for _, longest := range []int{366, longestPlan / 5} { // calendars are read as far as that
		if fits(func(x *Study) { x.Plan.Until += Date(longest) }) {
			more := 1 + sort.Search(longest, func(n int) bool { return fits(func(x *Study) { x.Plan.Until += Date(n + 1) }) })
			return "until: " + (s.Plan.Until + Date(more)).String()
		}
	}
	return ""
}

func (s *Study) fewerRepeats(fits trial) string {
	if n := largest(s.Plan.Repeats-1, func(n int) bool { return n < leastRepeats || fits(func(x *Study) { x.Plan.Repeats = n }) }); n >= leastRepeats {
		return fmt.Sprintf("repeats: %d", n)
	}
	return ""
}

func (s *Study) shorterWashout(fits trial) string {
	if n := largest(s.Plan.Washout-1, func(n int) bool { return fits(func(x *Study) { x.Plan.Washout = n }) }); n >= 0 {
		return fmt.Sprintf("washout: %d", n)
	}
	return ""
}

func (s *Study) morePerWeek(fits trial) string {
	if s.Plan.PerWeek == 0 {
		return ""
	}
	for n := s.Plan.PerWeek + 1; n <= 7; n++ {
		if fits(func(x *Study) { x.Plan.PerWeek = n }) {
			return fmt.Sprintf("per_week: %d", n)
		}
	}
	return ""
}

// largest returns the largest number from 0 to most that fits, when what fits does
// so below it too; −1 where nothing does.
func largest(most int, fits func(int) bool) int {
	low := -1    // fits, as nothing is asked of −1
	var high int // does not fit
	if most < 0 {
		return -1
	}
	for n := min(1, most); ; n = min(2*n+1, most) { // small ones first: the plan is usually a little too large
		if !fits(n) {
			high = n
			break
		}
		low = n
		if n == most {
			return n
		}
	}
	for high-low > 1 {
		if middle := (low + high) / 2; middle >= 0 && fits(middle) {
			low = middle
		} else {
			high = middle
		}
	}
	return low
}

// leastRepeats is the smallest number of repeats that a mending asks for: one
// shows no spread.
const leastRepeats = 2

// mostTrials bounds the layouts that are tried out for one mending.
const mostTrials = 20

// fewerOfOne is the smallest cut of one test food's repeats.
func (s *Study) fewerOfOne(fits trial) string {
	wanted, trials := s.wantedRepeats(math.MaxInt), 0
	for cut := 1; cut < s.Plan.Repeats; cut++ {
		for i := len(s.Foods) - 1; i >= 0; i-- {
			if s.Foods[i].Role != RoleTest || wanted[i]-cut < leastRepeats {
				continue
			}
			if trials++; trials > mostTrials {
				return ""
			}
			if fits(func(x *Study) { x.Foods[i].Repeats = wanted[i] - cut }) {
				return fmt.Sprintf("%s of %s", Count(wanted[i]-cut, "repeat", "repeats"), s.Foods[i].ID)
			}
		}
	}
	return ""
}

// longerAvailable is the smallest change of the days on which one food may be had.
func (s *Study) longerAvailable(fits trial) string {
	for i, f := range s.Foods {
		if room := int(s.Plan.Until - f.Until); f.Until != 0 && room > 0 && fits(func(x *Study) { x.Foods[i].Until = 0 }) {
			more := 1 + sort.Search(room-1, func(n int) bool { return fits(func(x *Study) { x.Foods[i].Until += Date(n + 1) }) })
			return fmt.Sprintf("%s to be had until %s", f.ID, f.Until+Date(more))
		}
		if room := int(f.From - s.Plan.Start); f.From != 0 && room > 0 && fits(func(x *Study) { x.Foods[i].From = 0 }) {
			less := 1 + sort.Search(room-1, func(n int) bool { return fits(func(x *Study) { x.Foods[i].From -= Date(n + 1) }) })
			return fmt.Sprintf("%s to be had from %s", f.ID, f.From-Date(less))
		}
	}
	return ""
}

// otherTime is the nearest time of day at which calendars leave enough days.
func (s *Study) otherTime(fits trial) string {
	const step, furthest = 30, 180 // minutes
	if len(s.Plan.booked) == 0 {
		return ""
	}
	for by := step; by <= furthest; by += step {
		for _, move := range []int{-by, by} {
			to := int(s.Plan.Time) + move
			if to >= 0 && to < dayMinutes && fits(func(x *Study) { x.Plan.Time = Clock(to) }) {
				return fmt.Sprintf("time: %q", Clock(to).String())
			}
		}
	}
	return ""
}

// moreSensors is how many more sensors like the last one are needed, with the
// days until they end; none when ten are not enough.
func (s *Study) moreSensors(fits trial) string {
	if len(s.Plan.Sensors) == 0 {
		return ""
	}
	var until Date
	for more := 1; more <= 10; more++ {
		if fits(func(x *Study) {
			x.Plan.addSensors(more)
			until = x.Plan.Until
		}) {
			words := Count(more, "more sensor", "more sensors") + " after the last"
			if until > s.Plan.Until {
				words += fmt.Sprintf(" with until: %s", until)
			}
			return words
		}
	}
	return ""
}

// addSensors adds so many sensors like the last one, one after the other, and the
// days until they end.
func (p *Plan) addSensors(more int) {
	p.Sensors = slices.Clone(p.Sensors)
	for range more {
		last := p.Sensors[len(p.Sensors)-1]
		last.Start = last.end()
		p.Sensors = append(p.Sensors, last)
		p.Until = max(p.Until, NewDate(last.end()))
	}
}

// A lift takes one restriction away.
type lift struct {
	words string
	lift  func(*Study)
}

// lifts are the restrictions of the study that can be taken away, each by itself.
func (s *Study) lifts() (out []lift) {
	p := s.Plan
	for _, r := range []struct {
		there bool
		lift
	}{
		{p.CarryOver, lift{"carry_over: any", func(x *Study) { x.Plan.CarryOver = false }}},
		{p.Trend, lift{"trend: any", func(x *Study) { x.Plan.Trend = false }}},
		{!p.Consecutive, lift{"consecutive: allowed", func(x *Study) { x.Plan.Consecutive = true }}},
		{len(p.After) > 0, lift{"no washout_after", func(x *Study) { x.Plan.After = nil }}},
		{len(p.Before) > 0, lift{"no washout_before", func(x *Study) { x.Plan.Before = nil }}},
		{len(p.Filming) > 0, lift{"no filming days", func(x *Study) { x.Plan.Filming = nil }}},
		{len(p.Sensors) > 1 && !p.Straddle && p.BlockSize > 0, lift{"straddle: yes", func(x *Study) { x.Plan.Straddle = true }}},
		{len(p.Weekdays) > 0, lift{"all weekdays", func(x *Study) { x.Plan.Weekdays = nil }}},
		{p.RunIn > 0, lift{"no run_in", func(x *Study) { x.Plan.RunIn = 0 }}},
		{slices.ContainsFunc(s.Foods, func(f Food) bool { return f.From != 0 || f.Until != 0 }), lift{"every food to be had on every day", func(x *Study) {
			for i := range x.Foods {
				x.Foods[i].From, x.Foods[i].Until = 0, 0
			}
		}}},
	} {
		if r.there {
			out = append(out, r.lift)
		}
	}
	return out
}

// fewerRestrictions is the first restriction that alone stands in the way.
func (s *Study) fewerRestrictions(fits trial) string {
	for _, r := range s.lifts() {
		if fits(r.lift) {
			return r.words
		}
	}
	return ""
}

// two is for plans that no single change mends: a restriction lifted, or fewer
// repeats, with the until or the sensors that then fit.
func (s *Study) two(fits trial) []string {
	try := func(words string, first func(*Study)) []string {
		both := func(change func(*Study)) bool { return fits(func(x *Study) { first(x); change(x) }) }
		for _, second := range []func(trial) string{s.laterUntil, s.moreSensors} {
			if mend := second(both); mend != "" {
				return []string{words + " with " + mend}
			}
		}
		return nil
	}
	for _, r := range s.lifts() {
		if mends := try(r.words, r.lift); mends != nil {
			return mends
		}
	}
	for n := s.Plan.Repeats - 1; n >= leastRepeats; n = n / 2 {
		if mends := try(fmt.Sprintf("repeats: %d", n), func(x *Study) { x.Plan.Repeats = n }); mends != nil {
			return mends
		}
	}
	return nil
}
