package stats

// A Verdict is what an interval of a difference allows to be said.
type Verdict string

// The verdicts. Their texts are part of the JSON contract.
const (
	// Different: the interval excludes zero, and reaches the margin or beyond.
	Different Verdict = "different"
	// TooSmallToMatter: the interval excludes zero but lies within the margin.
	TooSmallToMatter Verdict = "too_small_to_matter"
	// NoDifferenceThatMatters: the interval holds zero and lies within the margin.
	NoDifferenceThatMatters Verdict = "no_difference_that_matters"
	// Open: the interval holds zero and reaches the margin, or there is none.
	Open Verdict = "open"
	// ShownBelow and ShownAbove: a one-sided bound lies on this side of a limit.
	ShownBelow Verdict = "below"
	ShownAbove Verdict = "above"
)

// Words gives the verdict as a person says it.
func (v Verdict) Words() string {
	switch v {
	case Different:
		return "different"
	case TooSmallToMatter:
		return "different, but too small to matter"
	case NoDifferenceThatMatters:
		return "no difference that matters"
	case ShownBelow:
		return "shown below the limit"
	case ShownAbove:
		return "shown above the limit"
	}
	return "still open"
}

// Decide places the interval of a difference against zero and against ±margin,
// the smallest difference that matters. An interval lies within the margin
// when −margin < Low and High < margin. A margin of 0 means that none was
// declared: then nothing is too small to matter. It panics for margin < 0.
//
// Deciding by the place of a confidence interval is the usual reading of
// equivalence and non-inferiority trials (ICH E9 1998, section 3.3.2; Piaggio
// et al. 2012, JAMA 308:2594; both from memory).
func Decide(i Interval, margin float64) Verdict {
	if !(margin >= 0) {
		panic("stats: margin must not be negative")
	}
	excludesZero := i.Low > 0 || i.High < 0
	within := -margin < i.Low && i.High < margin
	switch {
	case excludesZero && within:
		return TooSmallToMatter
	case excludesZero:
		return Different
	case within:
		return NoDifferenceThatMatters
	default:
		return Open
	}
}

// DecideSame decides whether a difference lies within the margin, by two one-sided
// tests at a rate α: narrow is the 1 − 2α interval, wide the 1 − α one. Only the wide
// one can tell a difference from zero, as leaving zero out of the narrow one happens
// with a chance of 2α where there is none. It panics for margin < 0.
func DecideSame(narrow, wide Interval, margin float64) Verdict {
	v := Decide(narrow, margin)
	if wide.Contains(0) {
		switch v {
		case Different:
			return Open
		case TooSmallToMatter:
			return NoDifferenceThatMatters
		}
	}
	return v
}

// Beyond tells whether the whole interval lies at or beyond the margin, on one
// side of zero: only then is the difference shown to be one that matters.
func Beyond(i Interval, margin float64) bool {
	return margin > 0 && (i.Low >= margin || i.High <= -margin)
}
