package protocol

import (
	"fmt"
	"strings"
	"testing"

	"mealtrial/stats"
	"mealtrial/stats/ratio"
)

// outlookReference is testdata/reference/outlook_more.json.
type outlookReference struct {
	A, B, First, Second, Set, Logs []float64
	Nominal                        float64
	Rows                           []struct {
		N                                int
		Difference, Ratio, Beyond, Limit float64
	}
}

// pairsEaten is a study whose blocks are pairs of a and b, tested in turn, with so many
// planned.
func pairsEaten(t *testing.T, header string, a, b []float64, planned int) *Folder {
	t.Helper()
	s := study(t, "foods: [a, b]\n"+header)
	var log strings.Builder
	schedule := &Schedule{StudyDigest: s.Digest}
	for i := range planned {
		for k, food := range []string{"a", "b"} {
			date := Date(20000 + 2*i + k)
			schedule.Tests = append(schedule.Tests, PlannedTest{Date: date, Block: i + 1, Food: food})
			if i < len(a) {
				fmt.Fprintf(&log, "---\n{date: %s, food: %s, block: %d, value: %v}\n", date, food, i+1, [][]float64{a, b}[k][i])
			}
		}
	}
	parsed, err := ParseLog([]byte(log.String()), s)
	if err != nil {
		t.Fatal(err)
	}
	return &Folder{Study: s, Log: parsed, Schedule: schedule}
}

// The chance that further tests settle a comparison, at the last declared look and
// beyond it, or a limit beyond it, against testdata/reference/outlook_more.R, within 3
// points.
func TestOutlookOfComparisonsAgainstR(t *testing.T) {
	var ref outlookReference
	readReference(t, "outlook_more.json", &ref)
	for _, c := range []struct {
		name, header string
		eaten, i     int
	}{
		{"difference", "questions: [a vs b]\nmargin: 6\nlooks: [4]\n", 4, 0},
		{"ratio", "questions: [a vs b as ratio]\nmargin: 6\nlooks: [4]\n", 4, 0},
		{"beyond", "questions: [a vs b, a below 32]\nmargin: 6\nlooks: [4]\n", 8, 0},
		{"limit", "questions: [a vs b, a below 32]\nmargin: 6\nlooks: [4]\n", 8, 1},
	} {
		f := pairsEaten(t, c.header, ref.A[:c.eaten], ref.B[:c.eaten], 8)
		x, err := f.analyse()
		if err != nil {
			t.Fatal(err)
		}
		q := f.Study.Questions[c.i]
		o := f.outlook(x.Analysis, x.Questions[c.i], q, x.models, f.PlannedLevels)
		if o.settled == nil {
			t.Fatalf("%s: %s", c.name, o.none)
		}
		if o.state.Size != map[bool]float64{true: 1, false: 2}[c.name == "limit"] {
			t.Errorf("%s: size %v", c.name, o.state.Size)
		}
		for _, row := range ref.Rows {
			want := map[string]float64{"difference": row.Difference, "ratio": row.Ratio, "beyond": row.Beyond, "limit": row.Limit}[c.name]
			got, _ := o.state.Chance(row.N, 8000, 3, o.settled)
			near(t, fmt.Sprintf("%s, %d more", c.name, row.N), got, want, 0.03)
		}
	}
}

// The set of a ratio at a look that was not declared, one of two questions, against
// testdata/reference/outlook_more.R.
func TestRatioAtUndeclaredLookAgainstR(t *testing.T) {
	var ref outlookReference
	readReference(t, "outlook_more.json", &ref)
	for _, c := range []struct {
		header  string
		set     []float64
		verdict stats.Verdict
	}{
		{"questions: [a vs b as ratio, a vs b]\n", ref.Set, stats.Open},
		{"questions: [a vs b as ratio, a vs b]\nratio_scale: log\n", ref.Logs, stats.Open},
	} {
		a, err := pairsEaten(t, c.header, ref.First, ref.Second, 7).Analyse()
		if err != nil {
			t.Fatal(err)
		}
		q := a.Questions[0]
		if q.Low == nil || q.High == nil || q.Anytime == nil || q.Anytime.Low == nil {
			t.Fatalf("no set: %+v", q)
		}
		near(t, "low", float64(*q.Low), c.set[0], 1e-8)
		near(t, "high", float64(*q.High), c.set[1], 1e-8)
		if q.Shape != ratio.Bounded || q.Verdict != c.verdict || q.Anytime.Blocks != len(ref.First) {
			t.Errorf("%s, %s, %d blocks", q.Shape, q.Verdict, q.Anytime.Blocks)
		}
	}
}
