package design

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"strconv"
	"testing"
)

// Power of two-sided t tests, two-sample and by noncentrality, against R's pt
// and numerical integration: testdata/reference/power_t.R.
func TestPowerAgainstR(t *testing.T) {
	file, err := os.Open("../testdata/reference/power_t.csv")
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
	column := map[string]int{}
	for i, name := range records[0] {
		column[name] = i
	}
	compared := 0
	for _, record := range records[1:] {
		read := func(name string) float64 {
			x, err := strconv.ParseFloat(record[column[name]], 64)
			if err != nil {
				return math.NaN()
			}
			return x
		}
		df, ncp, want := read("df"), read("ncp"), read("power_integral")
		if math.IsNaN(df) || math.IsNaN(ncp) || math.IsNaN(want) {
			continue
		}
		compared++
		if got := Power(ncp, df, read("level")); math.Abs(got-want) > 1e-8 {
			t.Errorf("df %g, ncp %g: power %.10f, R has %.10f", df, ncp, got, want)
		}
	}
	if compared < 100 {
		t.Errorf("only %d rows were compared", compared)
	}
}

// The smallest number of tests each for 80 % power: single_tests.R.
func TestTestsEachAgainstR(t *testing.T) {
	data, err := os.ReadFile("../testdata/reference/single_tests.json")
	if err != nil {
		t.Fatal(err)
	}
	var ref struct {
		SmallestN []struct {
			SD, Difference float64
			N              *int
		} `json:"smallest_n"`
	}
	if err := json.Unmarshal(data, &ref); err != nil {
		t.Fatal(err)
	}
	for _, c := range ref.SmallestN {
		n, ok := TestsEach(c.Difference, c.SD, 0.05, 0.80)
		if c.N == nil || !ok || n != *c.N {
			t.Errorf("difference %g, SD %g: %d tests each, R has %v", c.Difference, c.SD, n, c.N)
		}
	}
	if len(ref.SmallestN) < 10 {
		t.Errorf("only %d cases", len(ref.SmallestN))
	}
}
