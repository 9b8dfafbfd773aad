package busy

import "fmt"

// notes counts what was left out or read with goodwill.
type notes struct {
	cancelled, free, instants, older, other, skippedTimes, oneDay, exrules int
}

// sentences gives one sentence for each count above zero, in a fixed order.
func (n *notes) sentences() []string {
	var out []string
	add := func(count int, one, many string) {
		switch {
		case count == 1:
			out = append(out, "1 "+one)
		case count > 1:
			out = append(out, fmt.Sprintf("%d %s", count, many))
		}
	}
	add(n.cancelled, "cancelled event left out", "cancelled events left out")
	add(n.free, "event shown as free left out", "events shown as free left out")
	add(n.instants, "event without length left out: it takes no time", "events without length left out: they take no time")
	add(n.older, "older version of an event left out", "older versions of events left out")
	add(n.skippedTimes, "occurrence left out at a time that the clocks skip", "occurrences left out at times that the clocks skip")
	add(n.oneDay, "event on dates that ends on its first day taken as one whole day", "events on dates that end on their first day taken as one whole day")
	add(n.exrules, "EXRULE ignored: it is no longer part of the format", "EXRULE lines ignored: they are no longer part of the format")
	add(n.other, "component other than an event left out", "components other than events left out")
	return out
}
