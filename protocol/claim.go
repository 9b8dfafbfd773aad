package protocol

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"mealtrial/protocol/problem"
)

// A Claim is a sentence held against the tests. As JSON it is a contract like
// Analysis.
type Claim struct {
	Text     string    `json:"claim"`
	Kind     ClaimKind `json:"kind"`
	A        string    `json:"a"`
	B        string    `json:"b,omitempty"`
	Value    Number    `json:"value"` // the ratio, the limit, or the difference that is claimed
	Unit     string    `json:"unit"`  // of the interval; none for a ratio
	Finding  Finding   `json:"finding"`
	Estimate *Number   `json:"estimate"`
	Low      *Number   `json:"low"`
	High     *Number   `json:"high"`
	Level    Number    `json:"level"`
	Method   string    `json:"method"`
	Tests    int       `json:"tests"`
	Later    bool      `json:"asked_after_the_data"`
	Why      string    `json:"why"`
	Warnings []string  `json:"warnings"`
	Caution  string    `json:"caution"`
}

// A ClaimKind is what is claimed.
type ClaimKind string

// The kinds of claims.
const (
	ClaimAtMost  ClaimKind = "ratio_at_most"  // the rise after A is at most this many times that after B
	ClaimAtLeast ClaimKind = "ratio_at_least" // at least
	ClaimSame    ClaimKind = "same"           // A and B differ by less than the margin
	ClaimUnder   ClaimKind = "under"          // the mean of A lies under a limit
	ClaimOrder   ClaimKind = "order"          // A is lower, or higher, than B, as two numbers say
)

// A Finding is what the tests say of a claim.
type Finding string

// The findings. Not shown is neither true nor false.
const (
	Supported    Finding = "supported"
	Contradicted Finding = "contradicted"
	NotShown     Finding = "not_shown"
)

// Words gives the finding as a person says it.
func (x Finding) Words() string {
	if x == NotShown {
		return "not shown by these tests"
	}
	return string(x)
}

var (
	claimShare   = regexp.MustCompile(`^(\d+(?:\.\d+)?) ?% (lower|less|higher|more) than (\S+)$`)
	claimUnder   = regexp.MustCompile(`^(?:under|below) (-?\d+(?:\.\d+)?)(?: .*)?$`)
	claimAgainst = regexp.MustCompile(`^(-?\d+(?:\.\d+)?) against (\S+) (-?\d+(?:\.\d+)?)$`)
	claimPart    = regexp.MustCompile(`^(half|a third|a quarter|two thirds|three quarters|twice|three times) (?:of )?(?:the )?(?:rise|area|response) (?:of|as) (\S+)$`)
)

var parts = map[string]float64{"half": 0.5, "a third": 1.0 / 3, "a quarter": 0.25, "two thirds": 2.0 / 3, "three quarters": 0.75, "twice": 2, "three times": 3}

const claimExpected = "a claim such as \"lupin half the rise of wheat\", \"lupin 50 % lower than wheat\", \"lupin same as wheat\", \"lupin under 30\" or \"lupin 12 against wheat 15\""

// ParseClaim reads a claim. The error is a problem.List.
func (s *Study) ParseClaim(text string) (c Claim, err error) {
	words := strings.Fields(strings.ReplaceAll(text, "%", " % "))
	bad := func(found string, mend string) (Claim, error) {
		return c, problem.List{{File: "claim", Found: found, Expected: claimExpected, Mend: mend}}
	}
	if len(words) < 2 {
		return bad(strconv.Quote(text), "")
	}
	c = Claim{Text: strings.Join(strings.Fields(text), " "), A: words[0]}
	rest := strings.Join(words[1:], " ")
	number := func(t string) float64 { x, _ := strconv.ParseFloat(t, 64); return x }
	switch {
	case claimPart.MatchString(rest):
		m := claimPart.FindStringSubmatch(rest)
		c.Value, c.B = Number(parts[m[1]]), m[2]
		c.Kind = ClaimAtMost
		if c.Value > 1 {
			c.Kind = ClaimAtLeast
		}
	case claimShare.MatchString(rest):
		m := claimShare.FindStringSubmatch(rest)
		c.B, c.Kind, c.Value = m[3], ClaimAtMost, Number(1-number(m[1])/100)
		if m[2] == "higher" || m[2] == "more" {
			c.Kind, c.Value = ClaimAtLeast, Number(1+number(m[1])/100)
		} else if c.Value < 0 {
			return bad(strconv.Quote(text), "nothing is more than 100 % lower")
		}
	case strings.HasPrefix(rest, "same as "):
		c.Kind, c.B, c.Value = ClaimSame, strings.TrimPrefix(rest, "same as "), Number(s.Margin)
		if s.Margin <= 0 {
			return c, problem.List{{File: StudyFile, Field: "margin", Found: "no margin", Expected: "the smallest difference that matters, as nothing can be shown to be exactly the same", Mend: "declare one in the next study"}}
		}
	case claimUnder.MatchString(rest):
		c.Kind, c.Value = ClaimUnder, Number(number(claimUnder.FindStringSubmatch(rest)[1]))
	case claimAgainst.MatchString(rest):
		m := claimAgainst.FindStringSubmatch(rest)
		c.Kind, c.B, c.Value = ClaimOrder, m[2], Number(number(m[1])-number(m[3]))
		if c.Value == 0 {
			return bad("two equal numbers", "equal results do not show that foods are the same; claim \""+c.A+" same as "+c.B+"\"")
		}
	default:
		return bad(strconv.Quote(text), "")
	}
	for _, id := range []string{c.A, c.B} {
		if id != "" && s.Food(id) < 0 {
			return bad("the food "+strconv.Quote(id), "name one of "+strings.Join(s.foodIDs(), ", "))
		}
	}
	if c.A == c.B {
		return bad("the food "+c.A+" twice", "")
	}
	return c, nil
}

// Claim holds a claim against the tests. A comparison that was declared is decided
// at the level that keeps the study's promise, any other by itself, and marked.
// At a look that was not declared only the order of two foods can be shown. The
// error is a problem.List or that of Analyse.
func (f *Folder) Claim(text string) (*Claim, *Analysis, error) {
	c, err := f.Study.ParseClaim(text)
	if err != nil {
		return nil, nil, err
	}
	x, err := f.analyse()
	if err != nil {
		return nil, nil, err
	}
	c.Finding, c.Caution, c.Level, c.Warnings = NotShown, ShortCaution, Number(f.Study.Level), x.Warnings
	f.judgeClaim(&c, x.models, x.levels, x.Looks.Anytime)
	return &c, x.Analysis, nil
}

// judgeClaim answers the question behind a claim and places its interval.
func (f *Folder) judgeClaim(c *Claim, m models, levels Levels, anytime bool) {
	s := f.Study
	q := Question{Kind: Difference, A: c.A, B: c.B, Text: c.Text}
	switch c.Kind {
	case ClaimAtMost, ClaimAtLeast:
		q.Kind = Ratio
	case ClaimSame:
		q.Kind = SameAs
	case ClaimUnder:
		q.Kind, q.Limit = Below, float64(c.Value)
	}
	same := func(o Question) bool {
		return o.A == q.A && o.B == q.B || q.B != "" && o.A == q.B && o.B == q.A
	}
	declared := slices.ContainsFunc(s.Questions, same)
	// A ratio of two foods whose difference was declared has the level of the
	// differences, but is another question.
	c.Later = !slices.ContainsFunc(s.Questions, func(o Question) bool { return same(o) && (o.Kind == Ratio) == (q.Kind == Ratio) })
	answer := m.answer(s, q)
	if answer.Method == methodNone {
		c.Why = answer.Missing
		return
	}
	switch alpha := levels.of(s, q); {
	case anytime:
		share := Levels{anytime: 1 - s.Level, anytimeLimits: 1 - s.Level}
		if declared {
			share = levels
		}
		m.anytime(s, q, &answer, share)
	case !q.Kind.compares() && declared:
		m.limit(s, q, &answer, levels.limits)
	case q.Kind.compares() && declared:
		m.compare(s, q, &answer, alpha)
	}
	c.Estimate, c.Low, c.High, c.Level, c.Method, c.Tests = answer.Estimate, answer.Low, answer.High, answer.Level, answer.Method, answer.Tests
	if q.Kind != Ratio {
		c.Unit = s.Endpoint.Unit()
	}
	if c.Low == nil && c.High == nil {
		if c.Why = answer.Missing; c.Why == "" {
			c.Why = "there is no finite interval yet"
		}
		return
	}
	c.place()
}

// place holds the claimed value against the interval. A set of a ratio that is
// not bounded on a side says nothing on that side.
func (c *Claim) place() {
	low, high := math.Inf(-1), math.Inf(1)
	if c.Low != nil {
		low = float64(*c.Low)
	}
	if c.High != nil {
		high = float64(*c.High)
	}
	if low > high { // everything but the part between them
		low, high = math.Inf(-1), math.Inf(1)
	}
	v := float64(c.Value)
	var yes, no bool
	switch c.Kind {
	case ClaimAtMost:
		yes, no = high <= v, low > v
		c.Why = fmt.Sprintf("supported only if the whole interval of the ratio lies at or below %s", plain(v))
	case ClaimAtLeast:
		yes, no = low >= v, high < v
		c.Why = fmt.Sprintf("supported only if the whole interval of the ratio lies at or above %s", plain(v))
	case ClaimSame:
		yes, no = -v < low && high < v, low >= v || high <= -v
		c.Why = fmt.Sprintf("supported only if the whole interval of the difference lies within ±%s, by two one-sided tests; not to be shown different is not to be the same", plain(v))
	case ClaimUnder:
		yes, no = high < v, low > v
		c.Why = fmt.Sprintf("supported only if the upper bound of the mean lies below %s", plain(v))
	case ClaimOrder:
		yes, no = v < 0 && high < 0 || v > 0 && low > 0, v < 0 && low > 0 || v > 0 && high < 0
		c.Why = "supported only if the whole interval of the difference lies on the claimed side of zero"
		if low > v || high < v {
			c.Why += fmt.Sprintf("; a difference of %s itself lies outside the interval", plain(v))
		}
	}
	switch {
	case yes:
		c.Finding = Supported
	case no:
		c.Finding = Contradicted
	}
}
