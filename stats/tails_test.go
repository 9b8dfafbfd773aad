package stats

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"
)

// Quantiles and two-sided tails of t, and the chi-square limits of an SD, from
// R: testdata/reference/tails.R.
func TestTailsAgainstR(t *testing.T) {
	file, err := os.Open("../testdata/reference/tails.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	reader := csv.NewReader(file)
	reader.Comment = '#'
	records, err := reader.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	compared := map[string]int{}
	for _, record := range records[1:] {
		df, _ := strconv.ParseFloat(record[1], 64)
		x, _ := strconv.ParseFloat(record[2], 64)
		want, _ := strconv.ParseFloat(record[3], 64)
		var got float64
		switch record[0] {
		case "t_quantile":
			got = TQuantile(x, df)
		case "t_two_sided_p":
			got = TwoSidedP(x, df)
		case "chisq_quantile":
			if x == 0.975 {
				got = df / math.Pow(SDInterval(1, df, 0.95).Low, 2)
			} else {
				got = df / math.Pow(SDInterval(1, df, 0.95).High, 2)
			}
		default:
			t.Fatalf("unknown kind %q", record[0])
		}
		compared[record[0]]++
		if !near(got, want, 1e-9) {
			t.Errorf("%s, df %g, %g: %.13g, R has %.13g", record[0], df, x, got, want)
		}
	}
	for _, kind := range []string{"t_quantile", "t_two_sided_p", "chisq_quantile"} {
		if compared[kind] < 20 {
			t.Errorf("only %d rows of %s", compared[kind], kind)
		}
	}
}
