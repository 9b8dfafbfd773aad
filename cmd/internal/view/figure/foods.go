package figure

import (
	"fmt"
	"slices"
	"strings"

	"mealtrial/cmd/internal/view"
	"mealtrial/cmd/internal/view/drawing"
	"mealtrial/protocol"
)

// Foods draws the tests of each food as points, with the mean and its interval.
func Foods(a *protocol.Analysis, responses []protocol.Response, size Size) (*drawing.Scene, error) {
	f := foods{a: a, tests: map[string][]protocol.Response{}}
	for _, r := range responses {
		if r.Value != nil {
			f.tests[r.Food] = append(f.tests[r.Food], r)
		}
		f.left = f.left || r.Value != nil && !r.Counts()
	}
	return fit(size, f.draw)
}

type foods struct {
	a     *protocol.Analysis
	tests map[string][]protocol.Response
	left  bool // a test with a value was left out
}

func (f foods) draw(s *sheet, room float64) {
	a := f.a
	over := map[bool]string{true: " over blocks", false: ""}[a.Blocks > 0]
	s.heading("What each test gave", fmt.Sprintf("%s, %s, over %s min; below the points the mean%s with its %s interval", upper(a.Endpoint.Name.Words()), a.Endpoint.Unit,
		view.Value(float64(a.Endpoint.Window)), over, protocol.Percent(float64(a.WithinPersonSD.Level))))
	s.Desc = f.describe()
	x := f.columns(s)
	top, bottom := s.y, s.y
	rows := make([]float64, len(a.Foods))
	for i, food := range a.Foods {
		rows[i] = f.rowHeight(s, x, food) + room/float64(len(rows))
		bottom += rows[i]
	}
	if s.W >= narrow {
		s.below(x, top, bottom)
	}
	for i := range a.Foods {
		f.row(s, x, i, rows[i])
	}
	if s.W < narrow {
		s.below(x, bottom, bottom)
	}
	s.y = bottom + belowHeight + gap/2
	keys := []key{
		{"a test", func(x, y float64) { s.Mark(0, x, y, markSize-1, hollow) }},
		{"mean and interval", func(px, y float64) {
			s.interval(linear(0, 1, px-10, px+10), y, 0, 1, 2, drawing.Ink)
			s.Mark(3, px, y, markSize, solid)
		}},
	}
	if f.left {
		keys = append(keys, key{"left out of the analysis", func(x, y float64) { s.Mark(6, x, y, markSize-1, outMark) }})
	}
	s.keys(keys)
	s.notes("Intervals by t, of each mean by itself; whether two foods differ is read from their difference, not from these intervals.", fmt.Sprintf("%s counted. %s", view.Tests(a.Tests), onePerson))
}

var (
	hollow  = drawing.Paint{Fill: drawing.Paper, Stroke: drawing.Data, Width: 1.8}
	solid   = drawing.Paint{Fill: drawing.Ink, Stroke: drawing.Ink, Width: 1}
	outMark = drawing.Paint{Fill: drawing.Muted}
)

func upper(text string) string { return strings.ToUpper(text[:1]) + text[1:] }

func (f foods) label(food protocol.FoodMean) string {
	switch food.Role {
	case protocol.RoleReference:
		return food.Name + " (reference)"
	case protocol.RoleBlank:
		return food.Name + " (blank)"
	}
	return food.Name
}

func (f foods) words(food protocol.FoodMean) string {
	d := view.Decimals(f.a)
	switch {
	case food.Mean == nil:
		return "no mean; " + view.Tests(food.Tests)
	case food.Low == nil || food.High == nil:
		return fmt.Sprintf("%s, no interval; %s", view.Cell(food.Mean, d), view.Tests(food.Tests))
	}
	return fmt.Sprintf("%s (%s to %s); %s", view.Cell(food.Mean, d), view.Cell(food.Low, d), view.Cell(food.High, d), view.Tests(food.Tests))
}

func (f foods) labelWidth(s *sheet) float64 {
	w := 0.0
	for _, food := range f.a.Foods {
		w = max(w, wide(f.label(food), 0.3*s.W, labelLines, textSize, false))
	}
	return w
}

func (f foods) wordsWidth(s *sheet) float64 {
	w := 0.0
	for _, food := range f.a.Foods {
		w = max(w, wide(f.words(food), 0.2*s.W, manyLines, smallSize, false))
	}
	return w
}

func (f foods) columns(s *sheet) scale {
	numbers := []float64{0}
	for _, food := range f.a.Foods {
		for _, x := range []*protocol.Number{food.Mean, food.Low, food.High} {
			if x != nil {
				numbers = append(numbers, float64(*x))
			}
		}
		for _, r := range f.tests[food.Food] {
			numbers = append(numbers, float64(*r.Value))
		}
	}
	low, high := spanOf(numbers...)
	if s.W < narrow {
		return linear(low, high, margin+8, s.W-margin-8)
	}
	return linear(low, high, margin+f.labelWidth(s)+2*gap, s.W-margin-f.wordsWidth(s)-2*gap)
}

// swarm stacks the tests of a food that would cover each other; it returns the
// level of each, from 0, and how many there are.
func (f foods) swarm(x scale, tests []protocol.Response) (level []int, levels int) {
	level = make([]int, len(tests))
	order := make([]int, len(tests))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(i, j int) int {
		switch a, b := *tests[i].Value, *tests[j].Value; {
		case a < b:
			return -1
		case a > b:
			return 1
		}
		return 0
	})
	var last []float64 // pixel of the last mark of each level
	for _, i := range order {
		px := x.at(float64(*tests[i].Value))
		k := 0
		for k < len(last) && px-last[k] < 2*markSize+1 {
			k++
		}
		if k == len(last) {
			last = append(last, px)
		}
		last[k], level[i] = px, k
	}
	return level, max(1, len(last))
}

const level = 2*markSize + 1 // height of a level of marks

// picture is the height of the points and the interval of a food.
func (f foods) picture(x scale, food protocol.FoodMean) float64 {
	_, levels := f.swarm(x, f.tests[food.Food])
	return float64(levels)*level + 16
}

func (f foods) rowHeight(s *sheet, x scale, food protocol.FoodMean) float64 {
	picture := f.picture(x, food)
	if s.W < narrow {
		return high(f.label(food), s.inner(), labelLines, textSize, false) + high(f.words(food), s.inner(), manyLines, smallSize, false) + picture + 1.6*gap
	}
	return max(high(f.label(food), f.labelWidth(s)+1, labelLines, textSize, false), high(f.words(food), f.wordsWidth(s)+1, manyLines, smallSize, false), picture) + gap
}

func (f foods) row(s *sheet, x scale, i int, height float64) {
	food, top := f.a.Foods[i], s.y
	if i > 0 {
		s.Line(gridLine, drawing.Point{X: margin, Y: top}, drawing.Point{X: s.W - margin, Y: top})
	}
	picture := f.picture(x, food)
	at := top + (height-picture)/2
	label := drawing.TextStyle{Size: textSize, Role: drawing.Ink}
	words := drawing.TextStyle{Size: smallSize, Role: drawing.Muted}
	if s.W < narrow {
		s.y = top + gap/2
		s.lines(margin, s.inner(), f.label(food), labelLines, label)
		s.lines(margin, s.inner(), f.words(food), manyLines, words)
		at = (s.y + top + height - picture) / 2
	} else {
		s.y = top + (height-high(f.label(food), f.labelWidth(s)+1, labelLines, textSize, false))/2
		s.lines(margin, f.labelWidth(s)+1, f.label(food), labelLines, label)
		s.y = top + (height-high(f.words(food), f.wordsWidth(s)+1, manyLines, smallSize, false))/2
		s.lines(x.to+2*gap, f.wordsWidth(s)+1, f.words(food), manyLines, words)
	}
	levels, n := f.swarm(x, f.tests[food.Food])
	for j, r := range f.tests[food.Food] {
		y := at + (float64(n-levels[j])-0.5)*level
		if r.Counts() {
			s.Mark(0, x.at(float64(*r.Value)), y, markSize-1, hollow)
		} else {
			s.Mark(6, x.at(float64(*r.Value)), y, markSize-1, outMark)
		}
	}
	if food.Mean != nil {
		y := at + float64(n)*level + 8
		if food.Low != nil && food.High != nil {
			s.interval(x, y, float64(*food.Low), float64(*food.High), 2, drawing.Ink)
		}
		s.Mark(3, x.at(float64(*food.Mean)), y, markSize, solid)
	}
	s.y = top + height
}

func (f foods) describe() string {
	parts := []string{"In " + f.a.Endpoint.Unit + ":"}
	d := view.Decimals(f.a)
	for _, food := range f.a.Foods {
		var single []string
		for _, r := range f.tests[food.Food] {
			text := view.Cell(r.Value, d)
			if !r.Counts() {
				text += " (left out)"
			}
			single = append(single, text)
		}
		parts = append(parts, fmt.Sprintf("%s: mean %s; each test: %s.", f.label(food), f.words(food), strings.Join(single, ", ")))
	}
	return strings.Join(append(parts, onePerson), " ")
}
