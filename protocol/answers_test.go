package protocol

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"mealtrial/stats"
	"mealtrial/stats/ratio"
)

// analyseRows analyses values typed into a log, one test a day.
func analyseRows(t *testing.T, header string, rows []row) *Analysis {
	t.Helper()
	s := study(t, header)
	var log strings.Builder
	for i, r := range rows {
		block := ""
		if r.Block > 0 {
			block = fmt.Sprintf(" block: %d,", r.Block)
		}
		fmt.Fprintf(&log, "---\n{date: %s, food: %s,%s value: %v}\n", Date(20000+i), r.Food, block, r.Y)
	}
	parsed, err := ParseLog([]byte(log.String()), s)
	if err != nil {
		t.Fatal(err)
	}
	a, err := (&Folder{Study: s, Log: parsed}).Analyse()
	if err != nil {
		t.Fatal(err)
	}
	return a
}

type row struct {
	Food  string
	Block int
	Y     float64
}

// Ratios of marginal means in blocked layouts, complete and with lost tests,
// against sets found by root finding in R: testdata/reference/ratio.R.
func TestRatiosAgainstR(t *testing.T) {
	data, err := os.ReadFile("../testdata/reference/ratio.json")
	if err != nil {
		t.Fatal(err)
	}
	var ref struct {
		Layouts []struct {
			Name string
			Rows []row
			Sets []struct {
				A, B             string
				Ratio, Low, High float64
			}
		}
	}
	if err := json.Unmarshal(data, &ref); err != nil {
		t.Fatal(err)
	}
	compared := 0
	for _, l := range ref.Layouts {
		foods := map[string]bool{}
		var ids, questions []string
		for _, r := range l.Rows {
			if !foods[r.Food] {
				foods[r.Food] = true
				ids = append(ids, r.Food)
			}
		}
		sets := l.Sets[:min(len(l.Sets), 6)]
		seen := map[string]bool{}
		for _, set := range sets {
			if !seen[set.B+set.A] { // the mirror image would be the same question
				seen[set.A+set.B] = true
				questions = append(questions, fmt.Sprintf("%s vs %s as ratio", set.A, set.B))
			}
		}
		header := fmt.Sprintf("endpoint: {unit: mg/dL}\nfoods: [%s]\nquestions: [%s]\n", strings.Join(ids, ", "), strings.Join(questions, ", "))
		a := analyseRows(t, header, l.Rows)
		for _, q := range a.Questions {
			for _, set := range sets {
				if set.A != q.A || set.B != q.B || q.Missing != "" {
					continue
				}
				compared++
				if q.PlainShape != ratio.Bounded || !near8(*q.Estimate, set.Ratio) || !near8(*q.PlainLow, set.Low) || !near8(*q.PlainHigh, set.High) {
					t.Errorf("%s, %s: %v, %v to %v (%s); R has %v, %v to %v", l.Name, q.Question, *q.Estimate, *q.Low, *q.High, q.Shape, set.Ratio, set.Low, set.High)
				}
				if (q.PlainVerdict == stats.Different) != (set.Low > 1 || set.High < 1) {
					t.Errorf("%s, %s: verdict %s", l.Name, q.Question, q.Verdict)
				}
			}
		}
	}
	if compared < 50 {
		t.Errorf("only %d ratios were compared", compared)
	}
}

func near8(got Number, want float64) bool {
	return math.Abs(float64(got)-want) <= 1e-8*math.Max(1, math.Abs(want))
}

var threeFoods = []row{{"wheat", 1, 50}, {"lupin", 1, 31}, {"konjac", 1, 14}, {"wheat", 2, 56}, {"lupin", 2, 28}, {"konjac", 2, 11},
	{"wheat", 3, 47}, {"lupin", 3, 27}, {"konjac", 3, 15}, {"wheat", 4, 55}, {"lupin", 4, 33}, {"konjac", 4, 9}}

// The kinds of questions, each with its verdict.
func TestQuestionKinds(t *testing.T) {
	a := analyseRows(t, `
foods: [{id: wheat, role: reference}, lupin, konjac]
questions: [each vs reference, konjac vs wheat as ratio, lupin below 45, next lupin below 31, wheat below 30]
`, threeFoods)
	want := map[string]stats.Verdict{"lupin vs wheat": stats.Different, "konjac vs wheat": stats.Different, "konjac vs wheat as ratio": stats.Different,
		"lupin below 45": stats.ShownBelow, "next lupin below 31": stats.Open, "wheat below 30": stats.ShownAbove}
	if len(a.Questions) != len(want) {
		t.Fatalf("%d questions, want %d", len(a.Questions), len(want))
	}
	for _, q := range a.Questions {
		if q.Verdict != want[q.Question] {
			t.Errorf("%s: %s, want %s (%+v)", q.Question, q.Verdict, want[q.Question], q)
		}
	}
	pairs := analyseRows(t, "foods: [{id: wheat, role: reference}, lupin, konjac]\nquestions: [all pairs]\n", threeFoods)
	if len(pairs.Questions) != 3 {
		t.Errorf("%d pairs of three foods", len(pairs.Questions))
	}
}

// All pairs of foods in complete blocks: the critical value is that of the
// studentized range, q(0.95; 3, 6)/√2 = 4.339195/√2, from R's qtukey.
func TestFamilyOfAllPairsIsTheStudentizedRange(t *testing.T) {
	a := analyseRows(t, "foods: [{id: wheat, role: reference}, lupin, konjac]\nquestions: [all pairs]\n", threeFoods)
	if a.WithinPersonSD.DF != 6 || a.Family == nil {
		t.Fatalf("%d degrees of freedom, family %v", a.WithinPersonSD.DF, a.Family)
	}
	want := 4.339195 / math.Sqrt2
	if got := float64(*a.Family.Critical); math.Abs(got/want-1) > 0.005 {
		t.Errorf("critical t %.5f, want %.5f", got, want)
	}
	for _, q := range a.Questions {
		if *q.Low >= *q.PlainLow || *q.High <= *q.PlainHigh {
			t.Errorf("%s: the family's interval is not wider", q.Question)
		}
	}
}

// A denominator that may be zero gives a set with its shape, and no false number.
func TestRatioToNothing(t *testing.T) {
	a := analyseRows(t, "foods: [{id: wheat, role: reference}, {id: water, role: blank}]\nquestions: [wheat vs water as ratio]\n",
		[]row{{"wheat", 1, 40}, {"water", 1, 3}, {"wheat", 2, 52}, {"water", 2, -2}, {"wheat", 3, 47}, {"water", 3, 2}})
	q := a.Questions[0]
	if q.Shape == ratio.Bounded || q.Shape == "" {
		t.Errorf("%+v", q)
	}
	if _, err := json.Marshal(a); err != nil {
		t.Error(err)
	}
}
