package card

import (
	"bytes"
	"encoding/xml"
	"io"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"mealtrial/cmd/internal/view"
	"mealtrial/cmd/internal/view/drawing"
	"mealtrial/protocol"
	"mealtrial/stats"
	"mealtrial/stats/ratio"
)

// Everything here is invented.

func number(x float64) *protocol.Number { n := protocol.Number(x); return &n }

var names = []string{"rye", `<b>&"'`, "konjac noodles from the market, old recipe", "Süßlupinennudeln mit Flohsamenschalenmehl",
	"אטריות תורמוס עם גבינה", "羽扇豆面条配老奶酪和新鲜香草蒜蓉酱油煮熟装盘冷却后称重一百八十克", "🍜🍜🍜🍜🍜🍜🍜🍜🍜🍜", "averyveryverylongwordwithoutanyspaceatall"}

// invented is a study with one question of each kind.
func invented(a, b string, estimate, half float64) *protocol.Analysis {
	out := &protocol.Analysis{Endpoint: protocol.EndpointID{Name: protocol.PeakRise, Unit: "mg/dL", Window: 120}, WithinPersonSD: protocol.Spread{Value: number(6.4), Level: 0.95, DF: 11}}
	out.Foods = []protocol.FoodMean{
		{Food: "a", Name: a, Tests: 4, Mean: number(estimate), SE: number(half / 2), Low: number(estimate - half), High: number(estimate + half), Level: 0.95},
		{Food: "b", Name: b, Tests: 3},
	}
	q := protocol.Answer{A: "a", B: "b", Tests: 7, TestsA: 4, TestsB: 3, Level: 0.95, Estimate: number(estimate), SE: number(half / 2), Low: number(estimate - half), High: number(estimate + half), Margin: number(8)}
	for i, kind := range []protocol.QuestionKind{protocol.Difference, protocol.SameAs, protocol.Ratio, protocol.Below, protocol.NextBelow, protocol.Contrast} {
		q.Kind, q.Question, q.Verdict = kind, "a question of the kind "+string(kind), []stats.Verdict{stats.Different, stats.Open, stats.NoDifferenceThatMatters}[i%3]
		q.Shape, q.Limit = "", number(30)
		if kind == protocol.Ratio {
			q.Shape = ratio.Bounded
		}
		out.Questions = append(out.Questions, q)
	}
	return out
}

// Texts of a card keep apart, stay in the frame and are never smaller than is
// promised, whatever the names and numbers.
func TestCardsAreReadable(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		name := rapid.SampledFrom(names)
		a := invented(name.Draw(t, "a"), name.Draw(t, "b"), rapid.Float64Range(-900, 900).Draw(t, "estimate"), rapid.Float64Range(0.01, 500).Draw(t, "half"))
		var cards []*view.OnScreen
		for _, q := range a.Questions {
			c, err := view.QuestionCard(a, q)
			if err != nil {
				t.Fatal(err)
			}
			cards = append(cards, c)
		}
		c, err := view.FoodCard(a, "a")
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range append(cards, c) {
			for _, f := range []Format{Landscape, Portrait} {
				for _, shape := range []Shape{Full, LowerThird} {
					check(t, c, f, shape)
				}
			}
		}
	})
}

func check(t *rapid.T, c *view.OnScreen, f Format, shape Shape) {
	scene := Draw(c, f, shape, nil, true)
	texts := scene.Texts()
	for i, a := range texts {
		if a.Size < f.LeastText() {
			t.Fatalf("%s: %q is %g pixels high, want %g", shape, a.Text, a.Size, f.LeastText())
		}
		if a.X0 < 0 || a.Y0 < 0 || a.X1 > f.Width || a.Y1 > f.Height {
			t.Fatalf("%s %v: %q leaves the frame: %+v", shape, f, a.Text, a)
		}
		for _, b := range texts[:i] {
			if a.X0 < b.X1-1 && b.X0 < a.X1-1 && a.Y0 < b.Y1-1 && b.Y0 < a.Y1-1 {
				t.Fatalf("%s %v: %q and %q overlap: %+v %+v", shape, f, a.Text, b.Text, a, b)
			}
		}
	}
	var out bytes.Buffer
	if err := scene.WriteSVG(&out, drawing.Options{Transparent: true}); err != nil {
		t.Fatal(err)
	}
	for d := xml.NewDecoder(&out); ; {
		if _, err := d.Token(); err == io.EOF {
			break
		} else if err != nil {
			t.Fatal(err)
		}
	}
}

// No card without an interval and a number of tests: with two ends, but for a question
// about a limit, whose bounds are each one-sided; there one is enough.
func TestNoCardWithoutItsInterval(t *testing.T) {
	for _, spoil := range []func(q *protocol.Answer){
		func(q *protocol.Answer) { q.Low = nil },
		func(q *protocol.Answer) { q.High = nil },
		func(q *protocol.Answer) { q.Estimate = nil },
		func(q *protocol.Answer) { q.Tests = 0 },
	} {
		a := invented("a", "b", 20, 5)
		for _, q := range a.Questions {
			spoil(&q)
			if (q.Kind == protocol.Below || q.Kind == protocol.NextBelow) && (q.Low == nil) != (q.High == nil) && q.Estimate != nil && q.Tests > 0 {
				c, err := view.QuestionCard(a, q)
				if err != nil || !strings.Contains(c.Interval, "one-sided 95 % bound: ") || (c.LowText == "") == (c.HighText == "") {
					t.Errorf("%s with one bound: %+v, %v", q.Question, c, err)
					continue
				}
				for _, shape := range []Shape{Full, LowerThird} {
					if scene := Draw(c, Landscape, shape, nil, true); strings.Contains(scene.Desc, "Inf") {
						t.Errorf("it says %q", scene.Desc)
					}
				}
				q.Low, q.High = nil, nil
			}
			if c, err := view.QuestionCard(a, q); err == nil {
				t.Errorf("%s: a card %+v", q.Question, c)
			}
		}
	}
	a := invented("a", "b", 20, 5)
	if _, err := view.FoodCard(a, "b"); err == nil {
		t.Error("a card of a food without a mean")
	}
	a.Questions[2].Shape = ratio.Complement
	if _, err := view.QuestionCard(a, a.Questions[2]); err == nil {
		t.Error("a card of a ratio whose set has no two ends")
	}
}

// What is open or no difference that matters is read before the number.
func TestLead(t *testing.T) {
	a := invented("a", "b", 20, 5)
	for i, want := range []string{"20 mg/dL higher", "still open"} {
		c, err := view.QuestionCard(a, a.Questions[i])
		if err != nil || c.Lead != want {
			t.Errorf("%q is read first (%v), want %q", c.Lead, err, want)
		}
	}
}

func TestSpanHoldsEverything(t *testing.T) {
	a := invented("a", "b", 20, 5)
	c, err := view.QuestionCard(a, a.Questions[0])
	if err != nil {
		t.Fatal(err)
	}
	s := SpanOf(c)
	if !(s.Low < -8 && s.High > 25) || math.IsInf(s.Low, 0) {
		t.Errorf("span %+v, want it to hold −8 to 25", s)
	}
}
