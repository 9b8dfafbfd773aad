package figure

import (
	"math"

	"mealtrial/cmd/internal/view/drawing"
	"mealtrial/protocol"
)

// limits gives the ends of an interval; those that are missing lie infinitely far
// away.
func limits(low, high *protocol.Number) (from, to float64) {
	from, to = math.Inf(-1), math.Inf(1)
	if low != nil {
		from = float64(*low)
	}
	if high != nil {
		to = float64(*high)
	}
	return from, to
}

// interval draws a bar from low to high with ends, and an arrow where it runs on
// without end.
func (s *sheet) interval(x scale, y, low, high, width float64, role drawing.Role) {
	paint := drawing.Paint{Stroke: role, Width: width}
	from, to := x.from, x.to
	if !math.IsInf(low, 0) {
		from = x.hold(x.at(low))
	}
	if !math.IsInf(high, 0) {
		to = x.hold(x.at(high))
	}
	s.Line(paint, drawing.Point{X: from, Y: y}, drawing.Point{X: to, Y: y})
	s.intervalEnd(from, y, -1, math.IsInf(low, 0), paint)
	s.intervalEnd(to, y, 1, math.IsInf(high, 0), paint)
}

func (s *sheet) intervalEnd(x, y, way float64, endless bool, paint drawing.Paint) {
	const reach = 5
	if endless {
		s.Polygon([]drawing.Point{{X: x + way*reach, Y: y}, {X: x - way*reach, Y: y - reach}, {X: x - way*reach, Y: y + reach}}, drawing.Paint{Fill: paint.Stroke})
		return
	}
	s.Line(paint, drawing.Point{X: x, Y: y - reach}, drawing.Point{X: x, Y: y + reach})
}
