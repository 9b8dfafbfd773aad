package protocol

import "mealtrial/design/layout"

// Variance returns the variance of a question in units of the squared
// within-person SD, averaged over what the draw may make of it: foods of one
// class change places, so the question is equally likely to fall on any foods of
// the same classes. It is +Inf where the layout cannot answer the question.
func (l *Layout) Variance(a, b int) float64 {
	p := l.Problem
	same := func(i, j int) bool { return i == j || p.Class != nil && p.Class[i] == p.Class[j] }
	var images []layout.Contrast
	for i := range p.Treatments {
		for j := range p.Treatments {
			if i != j && same(i, a) && same(j, b) {
				images = append(images, layout.Difference(p.Treatments, i, j, 1))
			}
		}
	}
	sum := 0.0
	for _, v := range layout.Assess(p.Treatments, contents(p.Blocks), images).Variances {
		sum += v / float64(len(images))
	}
	return sum
}

// DF returns the residual degrees of freedom when every test counts: tests less
// foods less blocks plus the connected parts of the layout.
func (l *Layout) DF() int {
	part := make([]int, l.Problem.Treatments)
	for i := range part {
		part[i] = i
	}
	parts := len(part)
	for _, b := range l.Problem.Blocks {
		for _, t := range b.Contents {
			from, to := part[t], part[b.Contents[0]]
			if from == to {
				continue
			}
			parts--
			for i := range part {
				if part[i] == from {
					part[i] = to
				}
			}
		}
	}
	return l.Problem.Tests() - l.Problem.Treatments - len(l.Problem.Blocks) + parts
}
