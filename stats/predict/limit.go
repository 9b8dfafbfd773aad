package predict

import "mealtrial/stats"

// A Place is where something is shown to lie. The texts are part of the JSON
// contract.
type Place string

// The places.
const (
	// Below: the upper bound is below the limit.
	Below Place = "below"
	// Above: the lower bound is above the limit.
	Above Place = "above"
	// Open: neither; the data do not show on which side.
	Open Place = "open"
)

// Words gives the place as a person says it.
func (p Place) Words() string {
	switch p {
	case Below:
		return "shown below the limit"
	case Above:
		return "shown above the limit"
	}
	return "still open"
}

// Bounds are two one-sided bounds. Each holds with probability Level; both
// together with 2·Level − 1, so that they are also a two-sided interval of that
// level.
type Bounds struct {
	Lower, Upper float64
	Level        float64 // of each bound alone, in [0.5, 1), for example 0.95
}

// Place compares the bounds with a limit, strictly: a bound that equals the
// limit shows nothing. A mean can be wrongly placed on one side only, so that
// the probability of a wrong answer is at most 1 − Level without a correction
// for asking about both sides. For a next response, either wrong answer has at
// most that probability. It panics for a limit that is not finite.
func (b Bounds) Place(limit float64) Place {
	if !finite(limit) {
		panic("predict: limit must be finite")
	}
	switch {
	case b.Upper < limit:
		return Below
	case b.Lower > limit:
		return Above
	default:
		return Open
	}
}

// MeanBounds returns the one-sided bounds of the mean response,
//
//	Value − q and Value + q,  q = t(level; DF)·SD·Factor
//
// The place Below then is what a one-sided t test at 1 − level says that rejects
// a mean at the limit or above it. A mean below the limit says little of a
// single response; for that take NextBounds.
//
// It panics as Next does, and for a level outside [0.5, 1), where the bounds
// would cross.
func MeanBounds(m Mean, level float64) Bounds {
	return bounds(m, m.meanError(), level)
}

// NextBounds returns the one-sided bounds of the next response, with
// q = t(level; DF)·SD·√(1 + Factor²) in the formula of MeanBounds: before the
// data are seen, the next response has probability level of lying below Upper,
// and the same of lying above Lower. The assumptions are those of Next; it
// panics where MeanBounds does.
//
// The one-sided form for a composite sample is in the guide of the US Food and
// Drug Administration for nutrition labelling databases, 1998.
func NextBounds(m Mean, level float64) Bounds {
	return bounds(m, m.nextError(), level)
}

func bounds(m Mean, se, level float64) Bounds {
	q := stats.TQuantile(between(level, 0.5), m.DF) * se
	return Bounds{Lower: m.Value - q, Upper: m.Value + q, Level: level}
}
