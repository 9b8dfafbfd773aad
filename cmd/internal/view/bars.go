package view

import (
	"math"
	"strings"

	"github.com/clipperhouse/displaywidth"

	"mealtrial/protocol"
)

const (
	leastBar = 20
	mostBar  = 60
)

// bars draws the intervals of the differences as lines of text, for a terminal: a
// dot for the estimate, ends for the limits, a broken line for zero.
func (p *printer) bars(asked []protocol.Answer, d int) {
	s := screenOf(p.w)
	if s.Width == 0 || s.Format == FormatMarkdown {
		return
	}
	low, high, names := 0.0, 0.0, 0
	drawn := asked[:0:0]
	for _, q := range asked {
		if q.Low != nil && q.High != nil {
			drawn = append(drawn, q)
			low, high = math.Min(low, float64(*q.Low)), math.Max(high, float64(*q.High))
			names = max(names, displaywidth.String(q.Question))
		}
	}
	width := min(mostBar, s.Width-names-6)
	if len(drawn) == 0 || width < leastBar || high == low {
		return
	}
	at := func(x float64) int { return int(math.Round((x - low) / (high - low) * float64(width-1))) }
	p.line("")
	for _, q := range drawn {
		p.line("  %s  %s", q.Question+strings.Repeat(" ", names-displaywidth.String(q.Question)), bar(width, at(0), at(float64(*q.Low)), at(float64(*q.Estimate)), at(float64(*q.High))))
	}
	p.line("  %s  %s", strings.Repeat(" ", names), scale(width, at(0), fixed(low, d), fixed(high, d)))
}

func bar(width, zero, low, estimate, high int) string {
	cells := []rune(strings.Repeat(" ", width))
	cells[zero] = '¦'
	for i := low; i <= high; i++ {
		cells[i] = '─'
	}
	cells[low], cells[high] = '├', '┤'
	cells[estimate] = '●'
	return strings.TrimRight(string(cells), " ")
}

// scale writes the ends of the scale and zero below the bars.
func scale(width, zero int, low, high string) string {
	cells := []rune(strings.Repeat(" ", width+len(high)))
	put := func(at int, text string) {
		for i, r := range []rune(text) {
			if at+i >= 0 && at+i < len(cells) {
				cells[at+i] = r
			}
		}
	}
	if n := len([]rune(high)); zero < width-n-1 {
		put(width-n, high)
	}
	if zero > len([]rune(low))+1 {
		put(0, low)
	}
	put(zero, "0")
	return strings.TrimRight(string(cells), " ")
}
