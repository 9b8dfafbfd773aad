package readings

import (
	"fmt"

	"mealtrial/protocol/problem"
)

// mostRowProblems of a file are told one by one.
const mostRowProblems = 5

// complaints collects the problems of one file.
type complaints struct {
	file string
	list problem.List
	rows int // problems of rows, told or not
}

// whole adds a problem of the file as a whole.
func (c *complaints) whole(p problem.Problem) {
	if p.File == "" {
		p.File = c.file
	}
	c.list = append(c.list, p)
}

// row adds a problem of one row.
func (c *complaints) row(p problem.Problem) {
	if c.rows++; c.rows <= mostRowProblems {
		c.whole(p)
	}
}

// all gives the problems; those beyond the first few are counted.
func (c *complaints) all() problem.List {
	more := c.rows - mostRowProblems
	switch {
	case more == 1:
		c.whole(problem.Problem{Found: "1 more row like this"})
	case more > 1:
		c.whole(problem.Problem{Found: fmt.Sprintf("%d more rows like this", more)})
	}
	return c.list
}
