package null

import (
	"errors"
	"math"
	"testing"

	"mealtrial/stats"
)

func find(t *testing.T, d Design, shape Shape, alpha float64, studies int) Bound {
	t.Helper()
	b, err := Find(d, shape, alpha, studies, 20270301)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// within fails unless got lies within the larger of 4 standard errors and the
// rounding of the table from want, and within 0.5 % of it in any case.
func within(t *testing.T, what string, got, want, relativeError float64) {
	t.Helper()
	off := math.Abs(got/want - 1)
	if off > 0.005 || off > max(4*relativeError, 1e-6) {
		t.Errorf("%s: %.6f, published %.6f, off by %.3f %% (standard error %.3f %%)", what, got, want, 100*off, 100*relativeError)
	}
}

// One look, all pairs: critical t times √2 is the studentized range.
// Values by numerical integration; 3.877 for (3, 10) is the tabled one
// (Harter 1960, Ann Math Stat 31:1122; from memory).
func TestAllPairsGiveTheStudentizedRange(t *testing.T) {
	for _, c := range []struct {
		name   string
		design Design
		level  float64
		df     int
		want   float64
	}{
		{"3 in 6 complete blocks", complete(3, 6), 0.05, 10, 3.876777},
		{"3 in 6 complete blocks, 1 %", complete(3, 6), 0.01, 10, 5.270162},
		{"2 groups of 6", oneWay(6, 6), 0.05, 10, 3.151064},
		{"4 groups of 6", oneWay(6, 6, 6, 6), 0.05, 20, 3.958293},
		{"4 groups of 6, 1 %", oneWay(6, 6, 6, 6), 0.01, 20, 5.018016},
		{"3 groups of 5", oneWay(5, 5, 5), 0.05, 12, 3.772929},
		{"3 in 7 complete blocks", complete(3, 7), 0.05, 12, 3.772929},
		{"5 groups of 7", oneWay(7, 7, 7, 7, 7), 0.05, 30, 4.102079},
		{"10 groups of 7", oneWay(7, 7, 7, 7, 7, 7, 7, 7, 7, 7), 0.05, 60, 4.646324},
		{"3 in very many blocks", complete(3, 20000), 0.05, 39998, 3.314493},
	} {
		k := c.design.Treatments
		b := find(t, c.design.asking(allPairs(k, k)), Constant, c.level, 20000)
		if b.DF[0] != c.df {
			t.Fatalf("%s: %d degrees of freedom, want %d", c.name, b.DF[0], c.df)
		}
		// The last row stands for infinite degrees of freedom: 1/df is left over.
		within(t, c.name, b.Critical[0]*math.Sqrt2, c.want, b.CriticalError[0]+1e-5)
	}
}

// One look, all against the first, equal groups: Dunnett 1955, J Am Stat Assoc
// 50:1096. Values by numerical integration at correlation 0.5; 2.76 for 3
// treatments and 10 degrees of freedom is the tabled one (from memory).
func TestAgainstReferenceGivesDunnett(t *testing.T) {
	df := []int{5, 10, 12, 15, 20, 30}
	for k, want := range map[int][]float64{
		1: {2.570582, 2.228139, 2.178813, 2.131450, 2.085963, 2.042273},
		2: {3.030236, 2.568339, 2.502367, 2.439190, 2.378690, 2.320752},
		3: {3.293155, 2.758997, 2.682870, 2.610032, 2.540350, 2.473694},
		4: {3.475893, 2.890480, 2.807083, 2.727313, 2.651030, 2.578099},
		5: {3.615117, 2.990290, 2.901255, 2.816098, 2.734677, 2.656855},
	} {
		for i, value := range want {
			// Equal groups of 1, and a treatment nobody asks about for the
			// degrees of freedom.
			repeats := make([]int, k+2)
			for j := range repeats {
				repeats[j] = 1
			}
			repeats[k+1] = df[i] + 1
			b := find(t, oneWay(repeats...).asking(againstFirst(k, k+2)), Constant, 0.05, 10000)
			if b.DF[0] != df[i] {
				t.Fatalf("%d degrees of freedom, want %d", b.DF[0], df[i])
			}
			within(t, "against the first", b.Critical[0], value, b.CriticalError[0])
		}
	}
}

// equalLooks has so many pairs that t is as good as normal.
func equalLooks(looks int) Design {
	const pairs = 30000
	d := complete(2, pairs).asking(allPairs(2, 2))
	d.Looks = nil
	for k := range looks {
		d.Looks = append(d.Looks, 2*pairs*(k+1)/looks)
	}
	return d
}

// Jennison and Turnbull 2000, Group Sequential Methods, tables 2.1 and 2.3 (from
// memory; the digits by numerical integration).
func TestManyTestsGiveTheGroupSequentialConstants(t *testing.T) {
	for _, c := range []struct {
		looks                int
		pocockP, pocock, obf float64
	}{
		{2, 0.029386, 2.178272, 1.977431},
		{3, 0.022052, 2.289478, 2.004036},
		{4, 0.018211, 2.361298, 2.024295},
		{5, 0.015814, 2.413176, 2.040073},
	} {
		d := equalLooks(c.looks)
		b := find(t, d, Constant, 0.05, 100_000)
		z := -stats.TQuantile(b.Level[0]/2, math.Inf(1))
		within(t, "constant", z, c.pocock, b.CriticalError[c.looks-1])
		// d log p / d log z = −z·2φ(z)/p, about −5.5 here.
		if off := math.Abs(b.Level[0]/c.pocockP - 1); off > 0.01 || off > 5.5*4*b.CriticalError[0] {
			t.Errorf("%d looks: nominal p %.6f, published %.6f", c.looks, b.Level[0], c.pocockP)
		}
		b = find(t, d, OBrienFleming, 0.05, 100_000)
		for k, level := range b.Level {
			z := -stats.TQuantile(level/2, math.Inf(1))
			within(t, "O'Brien-Fleming", z, c.obf*math.Sqrt(float64(c.looks)/float64(k+1)), b.CriticalError[c.looks-1])
		}
	}
}

// Armitage, McPherson and Rowe 1969, J R Stat Soc A 132:235, table 2 (from
// memory; digits by numerical integration): repeated looks at 5 %.
func TestAchievedOfRepeatedLooks(t *testing.T) {
	for looks, want := range map[int]float64{2: 0.0831, 3: 0.1073, 4: 0.1262, 5: 0.1417, 10: 0.1934} {
		levels := make([]float64, looks)
		for k := range levels {
			levels[k] = 0.05
		}
		got, se, err := Achieved(equalLooks(looks), levels, 100_000, 5)
		if err != nil || se > 0.001 || math.Abs(got-want) > 4*se+0.00005 {
			t.Errorf("%d looks: %.4f ± %.4f, %v, published %.4f", looks, got, se, err, want)
		}
	}
}

// Values of an independent simulation, to one digit of a per cent: with looks at
// 4, 8 and 12 pairs, normal bounds for t, and nominal p-values of the normal
// constants, miss 5 %.
func TestAchievedWithFewPairs(t *testing.T) {
	d := complete(2, 12).asking(allPairs(2, 2)).looks(8, 16, 24)
	asNormal := func(z ...float64) (levels []float64) {
		for k, z := range z {
			levels = append(levels, stats.TwoSidedP(z, float64(4*k+3)))
		}
		return levels
	}
	for _, c := range []struct {
		name   string
		levels []float64
		want   float64
	}{
		{"constant normal bounds", asNormal(2.289478, 2.289478, 2.289478), 0.156},
		{"O'Brien-Fleming normal bounds", asNormal(3.4711, 2.4544, 2.0040), 0.120},
		{"constant nominal p", []float64{0.022052, 0.022052, 0.022052}, 0.054},
		{"O'Brien-Fleming nominal p", []float64{0.0005183, 0.0141107, 0.0450662}, 0.053},
	} {
		got, se, err := Achieved(d, c.levels, 0, 5)
		if err != nil || se > 0.0005 || math.Abs(got-c.want) > 4*se+0.0005 {
			t.Errorf("%s: %.4f ± %.4f, %v, want %.3f", c.name, got, se, err, c.want)
		}
	}
}

func TestOneQuestionAtOneLookIsExact(t *testing.T) {
	for _, shape := range []Shape{Constant, OBrienFleming} {
		d := crippled()
		// The same question asked in three ways is one question.
		d.Contrasts = [][]float64{{1, -1, 0, 0, 0}, {-2, 2, 0, 0, 0}, {0.1, -0.1, 0, 0, 0}}
		b := find(t, d.looks(27), shape, 0.03, 0)
		if b.Level[0] != 0.03 || b.Price[0] != 1 || b.Studies != 0 || b.LevelError != 0 {
			t.Errorf("%+v", b)
		}
		if p := stats.TwoSidedP(b.Critical[0], float64(b.DF[0])); math.Abs(p-0.03) > 1e-12 {
			t.Errorf("p at the critical value is %g", p)
		}
	}
	// The first look has no degrees of freedom, so there is one look.
	b := find(t, complete(2, 4).asking(allPairs(2, 2)).looks(2, 8), OBrienFleming, 0.05, 0)
	if b.Level[0] != 0 || !math.IsInf(b.Critical[0], 1) || !math.IsInf(b.Price[0], 1) || b.Estimable[0][0] || b.Level[1] != 0.05 {
		t.Errorf("%+v", b)
	}
}

func TestNoStatistic(t *testing.T) {
	for name, d := range map[string]Design{
		"one pair":                         complete(2, 1),
		"each treatment in its own blocks": {Tests: []Test{{0, 0}, {0, 0}, {1, 1}, {1, 1}}, Treatments: 2, Looks: []int{4}},
		"second treatment never tested":    {Tests: []Test{{0, 0}, {0, 0}}, Treatments: 2, Looks: []int{1, 2}},
	} {
		d = d.asking(allPairs(2, 2))
		if _, err := Find(d, Constant, 0.05, 0, 1); !errors.Is(err, ErrNoStatistic) {
			t.Errorf("%s: %v", name, err)
		}
		if _, _, err := Achieved(d, make([]float64, len(d.Looks)), 0, 1); !errors.Is(err, ErrNoStatistic) {
			t.Errorf("%s: %v", name, err)
		}
	}
	want := "no question can be tested at any look: too few tests, or treatments that no block links"
	if ErrNoStatistic.Error() != want {
		t.Error(ErrNoStatistic)
	}
}

// Bounds of Lan and DeMets' spending functions at equal looks (1983, Biometrika
// 70:659; values by numerical integration, which are those that are remembered as
// published).
func TestSpendingBounds(t *testing.T) {
	for shape, rows := range map[Shape][][]float64{
		SpendOBrienFleming: {{2.96259, 1.96860}, {3.71030, 2.51143, 1.99305}, {4.33263, 2.96313, 2.35904, 2.01409}, {4.87688, 3.35701, 2.68028, 2.28982, 2.03103}},
		SpendPocock:        {{2.15700, 2.20098}, {2.27943, 2.29491, 2.29594}, {2.36833, 2.36752, 2.35817, 2.35003}, {2.43798, 2.42681, 2.41019, 2.39665, 2.38598}},
	} {
		for _, want := range rows {
			b := find(t, equalLooks(len(want)), shape, 0.05, 100_000)
			for k, z := range want {
				got := -stats.TQuantile(b.Level[k]/2, math.Inf(1))
				if off := math.Abs(got/z - 1); off > 0.005 || off > 5*b.CriticalError[k]+1e-5 {
					t.Errorf("shape %d, look %d of %d: %.5f, published %.5f (relative error %.5f)", shape, k+1, len(want), got, z, b.CriticalError[k])
				}
			}
		}
	}
}

// The functions themselves, two-sided at 0.05.
func TestSpendingFunctions(t *testing.T) {
	for _, c := range []struct{ t, obf, pocock float64 }{
		{0.20, 0.00000108, 0.01476973}, {0.25, 0.00001473, 0.01786870}, {1.0 / 3, 0.00020701, 0.02264162}, {0.50, 0.00305065, 0.03100573},
		{0.60, 0.00761613, 0.03542565}, {2.0 / 3, 0.01209678, 0.03816913}, {0.75, 0.01929865, 0.04139945}, {0.80, 0.02442358, 0.04324199}, {1, 0.05, 0.05},
	} {
		if a, b := SpendOBrienFleming.spent(0.05, c.t), SpendPocock.spent(0.05, c.t); math.Abs(a-c.obf) > 6e-9 || math.Abs(b-c.pocock) > 6e-9 {
			t.Errorf("at %.2f: %.8f and %.8f, want %.8f and %.8f", c.t, a, b, c.obf, c.pocock)
		}
	}
}
