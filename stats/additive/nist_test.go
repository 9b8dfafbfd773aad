package additive

import (
	"math"
	"testing"
)

// lre is the log relative error, −log10(|c−t|/|t|): about the number of
// correct digits. NIST Statistical Reference Datasets, frequently asked questions.
func lre(got, certified float64) float64 {
	if got == certified {
		return 16
	}
	return -math.Log10(math.Abs(got-certified) / math.Abs(certified))
}

// groups makes a one-way layout from the values of each group.
func groups(values ...[]float64) []Observation {
	var obs []Observation
	for g, vs := range values {
		for _, v := range vs {
			obs = append(obs, Observation{Treatment: g, Value: v})
		}
	}
	return obs
}

// simonLesage builds the SmLs data sets by their construction: 9 groups
// centred on 1.4, 1.3, 1.5, 1.3, …, each the centre once and then pairs of
// centre ± 0.1, all raised by a level of 0, 1e6 or 1e12.
func simonLesage(pairs int, level float64) []Observation {
	var values [][]float64
	for g := 1; g <= 9; g++ {
		centre := 1.5
		if g == 1 {
			centre = 1.4
		} else if g%2 == 0 {
			centre = 1.3
		}
		// Decimal digits are put together before the conversion to binary, as
		// reading the published files does.
		at := func(tenths float64) float64 { return (level*10 + tenths) / 10 }
		tenths := math.Round(centre * 10)
		vs := []float64{at(tenths)}
		for range pairs {
			vs = append(vs, at(tenths-1), at(tenths+1))
		}
		values = append(values, vs)
	}
	return groups(values...)
}

func atomicWeight(instrument []float64) []float64 {
	out := make([]float64, len(instrument))
	for i, v := range instrument {
		out[i] = (1078680000 + v) / 1e7
	}
	return out
}

// Certified values: NIST Statistical Reference Datasets, analysis of variance.
func TestNISTOneWayAnalysisOfVariance(t *testing.T) {
	siRstv := groups(
		[]float64{196.3052, 196.1240, 196.1890, 196.2569, 196.3403},
		[]float64{196.3042, 196.3825, 196.1669, 196.3257, 196.0422},
		[]float64{196.1303, 196.2005, 196.2889, 196.0343, 196.1811},
		[]float64{196.2795, 196.1748, 196.1494, 196.1485, 195.9885},
		[]float64{196.2119, 196.1051, 196.1850, 196.0052, 196.2090})
	atmWtAg := groups(
		atomicWeight([]float64{1568, 1465, 1572, 1785, 1446, 1903, 1526, 1494, 1616, 1587, 1519, 1486,
			1419, 1569, 1508, 1672, 1385, 1518, 1662, 1424, 1360, 1333, 1610, 1477}),
		atomicWeight([]float64{1079, 1344, 1513, 1197, 1604, 1385, 1642, 1365, 1151, 1082, 1517, 1448,
			1198, 1482, 1334, 1609, 1101, 1512, 1469, 1360, 1254, 1261, 1450, 1368}))
	for _, c := range []struct {
		name   string
		obs    []Observation
		f      float64
		sd     float64
		digits float64
	}{
		{"SiRstv", siRstv, 1.18046237440255, 0.104076068334656, 13},
		{"AtmWtAg", atmWtAg, 15.9467335627930, 1.51048314446410e-05, 9},
		{"SmLs01", simonLesage(10, 0), 21, 0.1, 13},
		{"SmLs02", simonLesage(100, 0), 201, 0.1, 13},
		{"SmLs03", simonLesage(1000, 0), 2001, 0.1, 13},
		{"SmLs04", simonLesage(10, 1e6), 21, 0.1, 9},
		{"SmLs05", simonLesage(100, 1e6), 201, 0.1, 9},
		{"SmLs06", simonLesage(1000, 1e6), 2001, 0.1, 9},
		{"SmLs07", simonLesage(10, 1e12), 21, 0.1, 3},
		{"SmLs08", simonLesage(100, 1e12), 201, 0.1, 3},
		{"SmLs09", simonLesage(1000, 1e12), 2001, 0.1, 3},
	} {
		fit := NewFit(c.obs)
		test, ok := fit.TreatmentTest()
		if !ok {
			t.Fatalf("%s: no F test", c.name)
		}
		if got := lre(test.F, c.f); got < c.digits {
			t.Errorf("%s: F %.15g agrees with the certified %.15g to %.1f digits, want %g", c.name, test.F, c.f, got, c.digits)
		}
		sd, _ := fit.SD()
		if got := lre(sd, c.sd); got < math.Min(c.digits, 12) {
			t.Errorf("%s: residual SD %.15g agrees with the certified %.15g to %.1f digits", c.name, sd, c.sd, got)
		}
		t.Logf("%s: F %.1f digits, SD %.1f digits", c.name, lre(test.F, c.f), lre(sd, c.sd))
	}
}
