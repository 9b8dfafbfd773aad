package protocol

import "slices"

// A RunOrder is a study in time: the tests as they were eaten, those that are
// still to come, the blocks and the lives of the sensors.
type RunOrder struct {
	Eaten   []Response
	ToCome  []PlannedTest // planned and not in the log
	Blocks  []Span
	Sensors []Span // as planned
}

// A Span is a stretch of days; Last belongs to it.
type Span struct {
	Number      int // of the block or the sensor, from 1
	First, Last Date
}

// RunOrder returns the study in time.
func (f *Folder) RunOrder() *RunOrder {
	out := &RunOrder{}
	out.Eaten, _ = f.Responses()
	for _, r := range out.Eaten {
		if r.Block > 0 && !r.runIn {
			out.addToBlock(r.Block, r.Date)
		}
	}
	if f.Schedule != nil {
		for _, t := range f.Schedule.Tests {
			if t.Block > 0 && !t.RunIn {
				out.addToBlock(t.Block, t.Date)
			}
			if !f.logged(t.Date) {
				out.ToCome = append(out.ToCome, t)
			}
		}
	}
	slices.SortFunc(out.Blocks, func(a, b Span) int { return int(a.First - b.First) })
	if f.Study.Plan != nil {
		for i, x := range f.Study.Plan.Sensors {
			out.Sensors = append(out.Sensors, Span{Number: i + 1, First: NewDate(x.Start), Last: NewDate(x.end())})
		}
	}
	return out
}

func (o *RunOrder) addToBlock(number int, d Date) {
	for i := range o.Blocks {
		if b := &o.Blocks[i]; b.Number == number {
			b.First, b.Last = min(b.First, d), max(b.Last, d)
			return
		}
	}
	o.Blocks = append(o.Blocks, Span{Number: number, First: d, Last: d})
}
