package figure

import (
	"math"
	"strconv"

	"mealtrial/cmd/internal/view"
	"mealtrial/cmd/internal/view/drawing"
)

// A scale lays numbers on pixels.
type scale struct {
	low, high float64 // numbers at the ends
	from, to  float64 // pixels there
	log       bool    // equal ratios are equally far apart; numbers are above zero
}

// linear is a scale from low to high between two pixels.
func linear(low, high, from, to float64) scale {
	return scale{low: low, high: high, from: from, to: to}
}

// at is the pixel of a number; on a logarithmic scale what is not above zero lies
// infinitely far before it.
func (s scale) at(x float64) float64 {
	if s.log {
		return s.from + math.Log(max(x, 0)/s.low)/math.Log(s.high/s.low)*(s.to-s.from)
	}
	return s.from + (x-s.low)/(s.high-s.low)*(s.to-s.from)
}

// shortest are the decimals of marks that are each written as they are.
const shortest = -1

// ratioTicks returns round numbers for a logarithmic scale: 1, 2 and 5 times powers of
// ten, or tenths where these are too few.
func ratioTicks(low, high float64, about int) (at []float64, decimals int) {
	for _, steps := range [][]float64{{1}, {1, 2, 5}, {1, 1.5, 2, 3, 5, 7}, {1, 1.1, 1.2, 1.3, 1.4, 1.5, 1.6, 1.7, 1.8, 1.9, 2, 3, 4, 5, 6, 7, 8, 9}} {
		var marks []float64
		for power := math.Floor(math.Log10(low)) - 1; power <= math.Ceil(math.Log10(high)); power++ {
			for _, m := range steps {
				if x := m * math.Pow(10, power); x >= low*(1-1e-9) && x <= high*(1+1e-9) {
					marks = append(marks, x)
				}
			}
		}
		if len(marks) > about+1 && len(at) > 0 {
			break
		}
		at = marks
	}
	return at, shortest
}

// label writes a mark.
func label(x float64, decimals int) string {
	if decimals == shortest {
		return strconv.FormatFloat(x, 'g', 3, 64)
	}
	return view.Fixed(x, decimals)
}

// hold keeps a pixel within the scale.
func (s scale) hold(px float64) float64 {
	return min(max(px, min(s.from, s.to)), max(s.from, s.to))
}

// spanOf is the range of finite numbers, with a little room around it.
func spanOf(numbers ...float64) (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, x := range numbers {
		if !math.IsInf(x, 0) && !math.IsNaN(x) {
			low, high = min(low, x), max(high, x)
		}
	}
	if low > high {
		return -1, 1
	}
	room := 0.06 * (high - low)
	if room == 0 {
		room = max(1, math.Abs(low)/2)
	}
	return low - room, high + room
}

// ticks returns round numbers from low to high, about so many, and the decimals
// that they need: steps of 1, 2 or 5 times a power of ten.
func ticks(low, high float64, about int) (at []float64, decimals int) {
	raw := (high - low) / math.Max(1, float64(about))
	power := math.Pow(10, math.Floor(math.Log10(raw)))
	step := 10 * power
	for _, m := range []float64{1, 2, 5} {
		if m*power >= raw*(1-1e-9) {
			step = m * power
			break
		}
	}
	decimals = int(max(0, math.Ceil(-math.Log10(step)-1e-9)))
	for i := math.Ceil(low/step - 1e-9); i*step <= high+step*1e-9; i++ {
		at = append(at, i*step)
	}
	return at, decimals
}

// minutes returns ticks for times in minutes: parts and multiples of an hour.
func minutes(low, high float64, about int) (at []float64, decimals int) {
	step := 240.0
	for _, m := range []float64{120, 60, 30, 15} {
		if (high-low)/m <= float64(about)+1 {
			step = m
		}
	}
	for i := math.Ceil(low / step); i*step <= high; i++ {
		at = append(at, i*step)
	}
	return at, 0
}

// roomy returns ticks whose labels keep apart along a horizontal scale.
func (s scale) roomy(ticks func(low, high float64, about int) ([]float64, int)) (at []float64, labels []string) {
	for about := int(max(2, (s.to-s.from)/70)); ; about-- {
		marks, d := ticks(s.low, s.high, about)
		labels = nil
		apart, last := true, math.Inf(-1)
		for _, m := range marks {
			text := label(m, d)
			half := drawing.Width(text, smallSize, false) / 2
			apart = apart && s.at(m)-half > last
			last = s.at(m) + half + 8
			labels = append(labels, text)
		}
		if apart || about <= 1 {
			return marks, labels
		}
	}
}

// below draws a horizontal axis with its labels beneath y and lines up to top.
func (s *sheet) below(x scale, top, y float64) { s.belowBy(ticks, x, top, y) }

func (s *sheet) belowBy(ticks func(low, high float64, about int) ([]float64, int), x scale, top, y float64) {
	marks, labels := x.roomy(ticks)
	for i, m := range marks {
		px := x.at(m)
		s.Line(gridLine, drawing.Point{X: px, Y: top}, drawing.Point{X: px, Y: y})
		half := drawing.Width(labels[i], smallSize, false) / 2
		s.Text(min(max(px, half+2), s.W-half-2), y+smallSize+3, labels[i], drawing.TextStyle{Size: smallSize, Anchor: drawing.Middle, Role: drawing.Ink})
	}
	s.Line(axisLine, drawing.Point{X: x.from, Y: y}, drawing.Point{X: x.to, Y: y})
}

const belowHeight = smallSize + 8 // of the labels of a horizontal axis

// beside draws the labels of a vertical axis to the left of x and lines up to
// right.
func (s *sheet) beside(y scale, x, right float64) {
	marks, d := ticks(y.low, y.high, int(max(2, (y.from-y.to)/36)))
	for _, m := range marks {
		s.Line(gridLine, drawing.Point{X: x, Y: y.at(m)}, drawing.Point{X: right, Y: y.at(m)})
		s.Text(x-6, y.at(m)+smallSize*0.35, view.Fixed(m, d), drawing.TextStyle{Size: smallSize, Anchor: drawing.End, Role: drawing.Ink})
	}
}

// besideWidth is what the labels of a vertical axis take.
func besideWidth(low, high, height float64) float64 {
	marks, d := ticks(low, high, int(max(2, height/36)))
	w := 0.0
	for _, m := range marks {
		w = max(w, drawing.Width(view.Fixed(m, d), smallSize, false))
	}
	return w + 8
}
