package busy

// marks are the occurrences of an event to leave out: those of EXDATE and those
// replaced by an event with a RECURRENCE-ID.
type marks struct {
	onDates bool
	moments map[int64]bool
	dates   map[int64]bool // midnights
}

// newMarks gathers marks for an event on dates or with times. RFC 5545 wants
// them in the form of DTSTART; writers mix the forms, so a date leaves out every
// occurrence that starts on it, and a time leaves out the date that it falls on,
// in the owner's zone, of an event on dates.
func newMarks(onDates bool, own clock, list []dated) marks {
	m := marks{onDates: onDates}
	for _, d := range list {
		switch {
		case d.date:
			put(&m.dates, d.wall)
		case onDates:
			put(&m.dates, midnight(wallOf(own, d.at)))
		default:
			put(&m.moments, d.at)
		}
	}
	return m
}

func put(set *map[int64]bool, key int64) {
	if *set == nil {
		*set = map[int64]bool{}
	}
	(*set)[key] = true
}

func (m marks) has(o occurrence) bool {
	return m.dates[midnight(o.wall)] || !m.onDates && m.moments[o.at]
}
