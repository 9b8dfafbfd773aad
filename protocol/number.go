package protocol

import (
	"fmt"
	"math"
	"strconv"
)

// A Number is a number in a result. In JSON it has at most 12 significant
// digits, so that the same study gives the same bytes on every processor.
type Number float64

// MarshalJSON writes the number; NaN and infinities are errors.
func (x Number) MarshalJSON() ([]byte, error) {
	if math.IsNaN(float64(x)) || math.IsInf(float64(x), 0) {
		return nil, fmt.Errorf("protocol: %v in a result", float64(x))
	}
	rounded, err := strconv.ParseFloat(strconv.FormatFloat(float64(x), 'g', 12, 64), 64)
	if err != nil {
		return nil, err
	}
	return []byte(strconv.FormatFloat(rounded, 'f', -1, 64)), nil
}

// some makes a Number that is there; a nil *Number is one that could not be had.
func some(x float64) *Number {
	n := Number(x)
	return &n
}

// plain writes a number for a sentence, with as few digits as its size needs and a
// true minus sign, as tables have it.
func plain(x float64) string {
	if x < 0 {
		return "−" + plain(-x)
	}
	digits := 0
	switch x = math.Abs(x); { // no minus before a zero
	case x == 0 || x >= 100:
	case x >= 10:
		digits = 1
	case x >= 1:
		digits = 2
	default:
		return strconv.FormatFloat(x, 'g', 2, 64)
	}
	text := strconv.FormatFloat(x, 'f', digits, 64)
	if digits > 0 {
		for text[len(text)-1] == '0' {
			text = text[:len(text)-1]
		}
		if text[len(text)-1] == '.' {
			text = text[:len(text)-1]
		}
	}
	return text
}

// Percent writes a share such as 0.95 as "95 %".
func Percent(share float64) string {
	return strconv.FormatFloat(100*share, 'g', 3, 64) + " %"
}

// Count writes "1 test" and "3 tests".
func Count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + many
}
