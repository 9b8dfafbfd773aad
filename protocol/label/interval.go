package label

import (
	"encoding/json"
	"math"
	"strconv"
)

// An Interval is a range that a true amount lies in. It is a bound that follows
// from a rule, not a confidence interval: it has no level. Low ≤ High, both
// finite; an open end is not reached itself.
type Interval struct {
	Low, High         float64
	LowOpen, HighOpen bool
}

// exactly is the interval of a known number.
func exactly(x float64) Interval { return Interval{Low: x, High: x} }

// Contains tells whether x lies in the interval.
func (i Interval) Contains(x float64) bool {
	return (i.Low < x || i.Low == x && !i.LowOpen) && (x < i.High || x == i.High && !i.HighOpen)
}

// Overlaps tells whether the intervals have a number in common.
func (i Interval) Overlaps(j Interval) bool { return !i.below(j) && !j.below(i) }

// below tells whether every number of i lies below every number of j.
func (i Interval) below(j Interval) bool {
	return i.High < j.Low || i.High == j.Low && (i.HighOpen || j.LowOpen)
}

// plus returns the sums of a number of i and a number of j.
func (i Interval) plus(j Interval) Interval {
	return Interval{i.Low + j.Low, i.High + j.High, i.LowOpen || j.LowOpen, i.HighOpen || j.HighOpen}
}

// minus returns the differences, each number free of the other.
func (i Interval) minus(j Interval) Interval {
	return Interval{i.Low - j.High, i.High - j.Low, i.LowOpen || j.HighOpen, i.HighOpen || j.LowOpen}
}

// times returns the products of numbers that are not negative.
func (i Interval) times(j Interval) Interval {
	if i.Low < 0 || j.Low < 0 {
		panic("label: product of a negative interval")
	}
	p := Interval{Low: i.Low * j.Low, High: i.High * j.High}
	p.LowOpen = p.Low > 0 && (i.LowOpen || j.LowOpen)
	p.HighOpen = p.High > 0 && (i.HighOpen || j.HighOpen)
	return p
}

// over returns the quotients by numbers above zero.
func (i Interval) over(j Interval) Interval {
	if j.Low <= 0 {
		panic("label: division by an interval that reaches zero")
	}
	return i.times(Interval{1 / j.High, 1 / j.Low, j.HighOpen, j.LowOpen})
}

// atLeast cuts off what lies below x; where nothing is left, x alone remains.
func (i Interval) atLeast(x float64) Interval {
	if i.Low < x {
		i.Low, i.LowOpen = x, false
	}
	if i.High <= x {
		i.High, i.HighOpen = x, false
	}
	return i
}

// hull returns the smallest interval that holds both.
func (i Interval) hull(j Interval) Interval {
	if j.Low < i.Low || j.Low == i.Low && !j.LowOpen {
		i.Low, i.LowOpen = j.Low, j.LowOpen
	}
	if j.High > i.High || j.High == i.High && !j.HighOpen {
		i.High, i.HighOpen = j.High, j.HighOpen
	}
	return i
}

// MarshalJSON writes the ends with at most 12 significant digits, so that the
// same label gives the same bytes on every processor.
func (i Interval) MarshalJSON() ([]byte, error) {
	return json.Marshal(struct {
		Low      number `json:"low"`
		High     number `json:"high"`
		LowOpen  bool   `json:"low_open"`
		HighOpen bool   `json:"high_open"`
	}{number(i.Low), number(i.High), i.LowOpen, i.HighOpen})
}

// number is a number in JSON.
type number float64

func (x number) MarshalJSON() ([]byte, error) {
	if math.IsNaN(float64(x)) || math.IsInf(float64(x), 0) {
		panic("label: not a finite number in a result")
	}
	return []byte(strconv.FormatFloat(tidy(float64(x)), 'f', -1, 64)), nil
}

// tidy takes off what binary fractions add to short decimal numbers.
func tidy(x float64) float64 {
	y, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 12, 64), 64)
	if err != nil {
		panic("label: a number that does not read back")
	}
	return y
}

// Text writes the interval in words, rounded outwards, such as "10.5 to under
// 11.5". An open lower end is said only at zero, where it matters.
func (i Interval) Text() string {
	d := i.decimals()
	low, high := outward(i.Low, d, math.Floor), outward(i.High, d, math.Ceil)
	if low == high {
		return low
	}
	if i.LowOpen && i.Low == 0 {
		low = "over " + low
	}
	if i.HighOpen {
		high = "under " + high
	}
	return low + " to " + high
}

// decimals gives the ends two digits of the width, and at least one decimal
// while the width is below 100.
func (i Interval) decimals() int {
	switch width := i.High - i.Low; {
	case width >= 100:
		return 0
	case width >= 1 || width == 0:
		return 1
	default:
		return min(6, 1-int(math.Floor(math.Log10(width))))
	}
}

func outward(x float64, decimals int, to func(float64) float64) string {
	scale := math.Pow(10, float64(decimals))
	return plain(to(tidy(x*scale)) / scale)
}

// plain writes a number without an exponent and without superfluous zeros.
func plain(x float64) string {
	if x == 0 {
		return "0" // never "-0"
	}
	return strconv.FormatFloat(tidy(x), 'f', -1, 64)
}
