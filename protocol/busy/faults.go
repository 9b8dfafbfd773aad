package busy

import (
	"slices"
	"strconv"

	"mealtrial/protocol/problem"
)

// maxProblems is how many problems are worth listing: beyond, the file is
// probably not what its reader thinks it is.
const maxProblems = 100

// A mistake is what is wrong with a value, before its place is known.
type mistake struct{ found, expected, mend string }

// faults collects the problems of one file.
type faults struct {
	file  string
	list  problem.List
	lines bool // some lines can't be read, so that what they hold seems missing
}

func (f *faults) add(line int, field string, m mistake) {
	if f.full() {
		return
	}
	f.list = append(f.list, problem.Problem{
		File: f.file, Line: line, Field: field,
		Found: m.found, Expected: m.expected, Mend: m.mend,
	})
}

func (f *faults) any() bool  { return len(f.list) > 0 }
func (f *faults) full() bool { return len(f.list) >= maxProblems }

// err gives the problems in the order of lines.
func (f *faults) err() error {
	slices.SortStableFunc(f.list, func(a, b problem.Problem) int { return a.Line - b.Line })
	return f.list.Err()
}

// quote quotes text from the file, cut to a length that fits a message.
func quote(text string) string {
	const longest = 60
	runes := 0
	for i := range text {
		if runes == longest {
			return strconv.Quote(text[:i] + "…")
		}
		runes++
	}
	return strconv.Quote(text)
}

func compare(a, b int64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}
