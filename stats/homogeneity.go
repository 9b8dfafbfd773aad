package stats

import (
	"math"

	"mealtrial/stats/tails"
)

// A Homogeneity is the result of a test that several normal samples have the same
// variance.
type Homogeneity struct {
	Statistic float64
	DF        int
	P         float64 // chance of a statistic at least as large if the variances are alike
}

// Bartlett tests that independent variances s²ᵢ on νᵢ degrees of freedom estimate
// the same one, against any other possibility:
//
//	M = ν log s² − Σ νᵢ log s²ᵢ,  s² = Σ νᵢs²ᵢ/ν,  ν = Σ νᵢ
//	statistic = M / (1 + (Σ 1/νᵢ − 1/ν) / (3(k − 1)))
//
// which is nearly chi-squared on k − 1 degrees of freedom (Bartlett 1937, Proc R
// Soc A 160:268; NIST/SEMATECH e-Handbook of Statistical Methods, section
// 1.3.5.7). Errors that are not normal make it reject too often. It panics unless
// there are two SDs or more, each above 0, with degrees of freedom of at least 1.
func Bartlett(sds []float64, df []int) Homogeneity {
	if len(sds) < 2 || len(sds) != len(df) {
		panic("stats: a test of variances needs two of them or more, each with degrees of freedom")
	}
	total, squares, logs, inverse := 0.0, 0.0, 0.0, 0.0
	for i, sd := range sds {
		if !(sd > 0) || df[i] < 1 {
			panic("stats: a standard deviation or degrees of freedom not above 0")
		}
		n := float64(df[i])
		total += n
		squares += n * sd * sd
		logs += n * 2 * math.Log(sd)
		inverse += 1 / n
	}
	k := float64(len(sds))
	m := total*math.Log(squares/total) - logs
	h := Homogeneity{Statistic: math.Max(0, m/(1+(inverse-1/total)/(3*(k-1)))), DF: len(sds) - 1}
	h.P = tails.ChiSquaredUpper(h.Statistic, k-1)
	return h
}
