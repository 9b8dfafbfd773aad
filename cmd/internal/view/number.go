package view

import (
	"io"
	"math"
	"strconv"
	"strings"

	"mealtrial/protocol"
)

// missing stands in a table where there is no number.
const missing = "–"

// fixed writes a number with the given decimals, with a true minus sign.
func fixed(x float64, decimals int) string {
	text := strconv.FormatFloat(x, 'f', decimals, 64)
	if zero := strings.Trim(text, "-0."); zero == "" {
		text = strings.TrimPrefix(text, "-")
	}
	return strings.Replace(text, "-", "−", 1)
}

// cell writes a number that may be missing.
func cell(x *protocol.Number, decimals int) string {
	if x == nil {
		return missing
	}
	return fixed(float64(*x), decimals)
}

// decimalsFor returns the decimals with which a number keeps so many
// significant digits of its uncertainty: digits beyond that are noise.
func decimalsFor(uncertainty float64, significant int) int {
	if !(uncertainty > 0) {
		return 1
	}
	return min(6, max(0, significant-1-int(math.Floor(math.Log10(uncertainty)))))
}

func tests(n int) string { return protocol.Count(n, "test", "tests") }

// value writes a free-standing number with as many digits as its size asks for.
func value(x float64) string {
	a := math.Abs(x)
	decimals := 0
	switch {
	case a == 0 || a >= 100 || a == math.Trunc(a):
	case a >= 10:
		decimals = 1
	default:
		decimals = decimalsFor(a, 2)
	}
	return fixed(x, decimals)
}

// Caution writes the short caution below a result.
func Caution(w io.Writer) error {
	_, err := io.WriteString(w, "\n"+screenOf(w).prose(protocol.ShortCaution)+"\n")
	return err
}

// declared writes a number as the person declared it.
func declared(x float64) string {
	return strings.Replace(strconv.FormatFloat(x, 'f', -1, 64), "-", "−", 1)
}

// mostExtra bounds the decimals that guarded adds.
const mostExtra = 4

// guarded returns the decimals, at least d, with which rounded limits stay on
// their side of each mark: an interval that excludes zero must not be printed as
// touching it.
func guarded(d int, limits, marks []float64) int {
	for most := d + mostExtra; d < most; d++ {
		kept := true
		for _, x := range limits {
			r, _ := strconv.ParseFloat(strconv.FormatFloat(x, 'f', d, 64), 64)
			for _, m := range marks {
				kept = kept && (x == m || (r < m) == (x < m) && r != m)
			}
		}
		if kept {
			break
		}
	}
	return d
}

// marksOf are the places that an interval is read against: zero and the margin.
func marksOf(margin *protocol.Number) []float64 {
	if margin == nil {
		return []float64{0}
	}
	return []float64{0, float64(*margin), -float64(*margin)}
}
