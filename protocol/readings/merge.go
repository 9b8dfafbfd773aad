package readings

import (
	"fmt"
	"slices"

	"mealtrial/protocol/problem"
)

// merge puts the readings of all files together. A file whose range of times
// meets that of an earlier name is a problem and left out.
func merge(files []file) ([]Reading, problem.List) {
	var problems problem.List
	var accepted []file
	total := 0
	for _, f := range files {
		if len(f.readings) == 0 {
			continue
		}
		i := slices.IndexFunc(accepted, func(g file) bool { return meet(f.report, g.report) })
		if i >= 0 {
			problems = append(problems, overlap(f, accepted[i]))
			continue
		}
		accepted = append(accepted, f)
		total += len(f.readings)
	}
	if total == 0 {
		return nil, problems
	}
	if len(accepted) == 1 {
		return accepted[0].readings, problems
	}
	slices.SortFunc(accepted, func(a, b file) int { return a.report.From.Compare(b.report.From) })
	all := make([]Reading, 0, total)
	for _, f := range accepted {
		all = append(all, f.readings...)
	}
	return all, problems
}

func meet(a, b FileReport) bool { return !a.To.Before(b.From) && !b.To.Before(a.From) }

// overlap says how two files meet: as copies, one within the other, or in part.
func overlap(later, earlier file) problem.Problem {
	p := problem.Problem{File: later.report.File}
	a, b := later.report.File, earlier.report.File
	inA, inB := contains(earlier.readings, later.readings), contains(later.readings, earlier.readings)
	switch {
	case inA && inB:
		p.Found = "the same readings as in " + b
		p.Expected = "every reading in one file"
		p.Mend = "keep one of the two and move the other out of the folder"
	case inA:
		p.Found = fmt.Sprintf("no reading that is not in %s too", b)
		p.Expected = "every reading in one file"
		p.Mend = "move " + a + " out of the folder"
	case inB:
		p.Found = fmt.Sprintf("all readings of %s, and more", b)
		p.Expected = "every reading in one file"
		p.Mend = "move " + b + " out of the folder"
	default:
		from, to := later.report.From, later.report.To
		if from.Before(earlier.report.From) {
			from = earlier.report.From
		}
		if to.After(earlier.report.To) {
			to = earlier.report.To
		}
		p.Found = fmt.Sprintf("readings from %s to %s, a time that %s covers too", clockText(from), clockText(to), b)
		p.Expected = "one file for each time"
		p.Mend = "move one of the two out of the folder, or cut the rows of that time from a copy of it"
	}
	return p
}

// contains says whether all of some readings stand among others; both ascend in
// time.
func contains(all, some []Reading) bool {
	i := 0
	for _, r := range some {
		for i < len(all) && all[i].Time.Before(r.Time) {
			i++
		}
		if i == len(all) || !all[i].Time.Equal(r.Time) || all[i].Glucose != r.Glucose || all[i].Limit != r.Limit {
			return false
		}
	}
	return true
}
