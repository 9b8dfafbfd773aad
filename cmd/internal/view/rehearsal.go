package view

import (
	"fmt"
	"io"
	"sort"
	"strings"

	"mealtrial/protocol/rehearsal"
	"mealtrial/stats"
)

// Rehearsal shows how often each verdict came out in simulated studies.
func Rehearsal(w io.Writer, r *rehearsal.Rehearsal) error {
	p := &printer{w: w}
	var foods []string
	for food, rise := range r.Truth {
		foods = append(foods, fmt.Sprintf("%s %s", food, value(rise)))
	}
	sort.Strings(foods)
	p.line("%d simulated studies, seeds %d to %d. All of it is invented.", r.Studies, r.Seed, r.Seed+uint64(r.Studies)-1)
	p.line("True peaks above the baseline in mg/dL: %s; SD from test to test %s.", strings.Join(foods, ", "), value(r.SD))
	p.line("")
	var rows [][]string
	for _, q := range r.Questions {
		d := decimalsFor(float64(q.HalfWidth), 2)
		row := []string{q.Question, fixed(float64(q.Truth), d)}
		for _, v := range []stats.Verdict{stats.Different, stats.TooSmallToMatter, stats.NoDifferenceThatMatters, stats.Open} {
			row = append(row, chance(float64(q.Verdicts[v])))
		}
		rows = append(rows, append(row, chance(float64(q.Wrong)), chance(float64(q.Holds)), fixed(float64(q.HalfWidth), d)))
	}
	p.table([]column{left("question"), right("truth " + r.Unit), right("different"), right("too small"), right("no difference that matters"),
		right("still open"), right("wrong side"), right("holds truth"), right("± " + r.Unit)}, rows)
	p.line("Shares of the studies; \"holds truth\" counts intervals that hold it, \"±\" is their median half-width. Monte Carlo standard error at most %s.", percentOf(monteCarlo(r.Studies)))
	p.notes(r.Warnings)
	p.line("")
	p.line("%s", r.Caution)
	return p.err
}
