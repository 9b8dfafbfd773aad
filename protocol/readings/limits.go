package readings

import (
	"cmp"
	"fmt"
	"slices"
)

// usualLimits are where sensors and meters stop reporting: common practice, no
// source. A file whose very lowest or highest value is one of them is taken to
// have stopped there.
var usualLimits = map[Unit]struct{ lowest, highest []float64 }{
	MgdL:  {[]float64{20, 40}, []float64{400, 500, 600}},
	MmolL: {[]float64{1.1, 2.2}, []float64{22.2, 25, 27.8, 33.3}},
}

// settleLimits finds the reporting limits: told, else usual ones that cells such
// as <40 and >400 name or that the file's values reach.
func (f *file) settleLimits() {
	r, m, x := &f.report, f.told.mapping, f.bounds
	usual := usualLimits[r.Unit]
	note := func(word string, value float64, key string) {
		r.Notes = append(r.Notes, fmt.Sprintf("The %s value is %s %s, where sensors often stop reporting; if this one does, write %s: %s under readings: in %s.",
			word, short(value), r.Unit, key, short(value), studyFile))
	}
	if r.Lowest = m.Lowest; r.Lowest == 0 {
		switch {
		case slices.Contains(usual.lowest, x.below) && (x.lowest == 0 || x.lowest >= x.below):
			r.Lowest = x.below
		case !slices.Contains(usual.lowest, x.lowest):
		case m.Fixed:
			note("lowest", x.lowest, "lowest")
		default:
			r.Lowest = x.lowest
		}
		if r.Lowest > 0 {
			r.Guessed = append(r.Guessed, "lowest")
		}
	}
	if r.Highest = m.Highest; r.Highest == 0 {
		switch {
		case slices.Contains(usual.highest, x.above) && x.highest <= x.above:
			r.Highest = x.above
		case !slices.Contains(usual.highest, x.highest):
		case m.Fixed:
			note("highest", x.highest, "highest")
		default:
			r.Highest = x.highest
		}
		if r.Highest > 0 {
			r.Guessed = append(r.Guessed, "highest")
		}
	}
	if r.Highest > 0 && x.highest > r.Highest {
		r.Notes = append(r.Notes, fmt.Sprintf("Values reach %s %s, beyond the reporting limit of %s; they count as bounds.", short(x.highest), r.Unit, short(r.Highest)))
	}
}

// censor turns a value at or beyond a reporting limit into a bound, and gives
// LOW and HIGH the bound that is known: the reporting limit, or else the lowest
// or highest number that the sensor did report, as its range reaches that far
// at least.
func (f *file) censor(e *entry) {
	r := &f.report
	if e.limit == NotLimited {
		switch {
		case r.Lowest > 0 && e.glucose <= r.Lowest:
			e.limit, e.glucose = BelowRange, r.Lowest
		case r.Highest > 0 && e.glucose >= r.Highest:
			e.limit, e.glucose = AboveRange, r.Highest
		}
		return
	}
	if e.glucose > 0 {
		return
	}
	if e.limit == BelowRange {
		e.glucose = cmp.Or(r.Lowest, f.bounds.below, f.bounds.lowest)
		return
	}
	e.glucose = cmp.Or(r.Highest, f.bounds.above, f.bounds.highest)
}
