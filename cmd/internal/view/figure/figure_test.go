package figure

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"mealtrial/cmd/internal/view/drawing"
	"mealtrial/protocol"
	"mealtrial/stats"
	"mealtrial/stats/curve"
	"mealtrial/stats/ratio"
)

// Everything here is invented.

func number(x float64) *protocol.Number { n := protocol.Number(x); return &n }

// hard are names that break careless pictures.
var hard = []string{
	"wheat", `<b>&"'`, "konjac noodles from the market, old recipe", "Süßlupinennudeln mit Flohsamenschalenmehl",
	"אטריות תורמוס עם גבינה", "نودلز الترمس مع الجبن القديم", "羽扇豆面条配老奶酪和新鲜香草蒜蓉酱油煮熟装盘冷却后称重一百八十克", "🍜🍜🍜🍜🍜🍜🍜🍜🍜🍜🍜🍜🍜🍜🍜🍜🍜🍜🍜🍜",
	"👩‍👩‍👧‍👦 family noodles", "अल्फांसो आम के साथ चावल", "ก๋วยเตี๋ยวเส้นใหญ่", "averyveryverylongwordwithoutanyspaceatall",
	"W", "İstanbul'un eriştesi", "Ελληνικά ζυμαρικά", "макароны из твёрдых сортов пшеницы", "a/b/c-d-e f", "two\nlines", "1", "e\u0301\u0301\u0301tude",
}

// study invents the results of n foods with the names that are given.
func study(names []string, open bool) *protocol.Analysis {
	a := &protocol.Analysis{Endpoint: protocol.EndpointID{Name: protocol.PeakRise, Unit: "mg/dL", Window: 120}, Blocks: 4,
		WithinPersonSD: protocol.Spread{Value: number(6.4), Level: 0.95, DF: 11}, Tests: 4 * len(names)}
	for i, name := range names {
		x := 5 + 7*float64((i*5)%9)
		a.Foods = append(a.Foods, protocol.FoodMean{Food: fmt.Sprintf("food%d", i), Name: name, Role: protocol.RoleTest, Tests: 4,
			Mean: number(x), SE: number(3), Low: number(x - 6.7), High: number(x + 6.7), Level: 0.95})
	}
	for i := 1; i < len(names); i++ {
		q := protocol.Answer{Question: fmt.Sprintf("food%d vs food0", i), Kind: protocol.Difference, A: fmt.Sprintf("food%d", i), B: "food0", TestsA: 4, TestsB: 4, Margin: number(8), Level: 0.95,
			Estimate: number(float64(*a.Foods[i].Mean - *a.Foods[0].Mean)), Verdict: []stats.Verdict{stats.Different, stats.TooSmallToMatter, stats.NoDifferenceThatMatters, stats.Open}[i%4]}
		q.Low, q.High = number(float64(*q.Estimate)-9), number(float64(*q.Estimate)+9)
		if open && i%3 == 0 {
			q.Low, q.High = nil, nil
		}
		if open && i%5 == 0 {
			q.Estimate, q.Low, q.High, q.Missing = nil, nil, nil, "the tests do not connect the two foods"
		}
		a.Questions = append(a.Questions, q, otherQuestion(i, open))
	}
	return a
}

// otherQuestion asks about a ratio, with sets of every shape, or about a limit.
func otherQuestion(i int, open bool) protocol.Answer {
	shapes := []ratio.Shape{ratio.Bounded, ratio.Complement, ratio.AtLeast, ratio.AtMost, ratio.Unbounded}
	food := fmt.Sprintf("food%d", i)
	if i%2 == 0 {
		q := protocol.Answer{Question: food + " below 30", Kind: protocol.Below, A: food, Tests: 4, Limit: number(30), Level: 0.95, Estimate: number(float64(10 * i)), Low: number(float64(10*i - 7)), High: number(float64(10*i + 7)),
			Verdict: []stats.Verdict{stats.ShownBelow, stats.Open, stats.ShownAbove}[i%3]}
		if open {
			q.Low, q.Verdict = nil, stats.Open
		}
		return q
	}
	q := protocol.Answer{Question: food + " vs food0 as ratio", Kind: protocol.Ratio, A: food, B: "food0", TestsA: 4, TestsB: 4, Level: 0.95, Shape: ratio.Bounded, Estimate: number(0.2 * float64(i)), Low: number(0.1*float64(i) - 0.2), High: number(0.3 * float64(i)),
		Verdict: stats.Open}
	if open {
		q.Shape = shapes[i/2%len(shapes)]
	}
	return q
}

func runOrder(a *protocol.Analysis) *protocol.RunOrder {
	run := &protocol.RunOrder{}
	start, _ := protocol.ParseDate("2027-01-11")
	d := start
	for block := range 4 {
		first := d
		for i, food := range a.Foods {
			r := protocol.Response{Date: d, Time: "07:30", Food: food.Food, Block: block + 1, Value: number(float64(*food.Mean) + float64((i*7+block*5)%11) - 5)}
			if (i+block)%9 == 8 {
				r.Excluded = "ran for the bus"
			}
			if (i+block)%13 == 12 {
				r.Value = nil
			}
			run.Eaten = append(run.Eaten, r)
			d += protocol.Date(1 + i%2)
		}
		run.Blocks = append(run.Blocks, protocol.Span{Number: block + 1, First: first, Last: d - 1})
	}
	for i := range 5 {
		run.Sensors = append(run.Sensors, protocol.Span{Number: i + 1, First: start + protocol.Date(14*i), Last: start + protocol.Date(14*i+14)})
	}
	run.ToCome = []protocol.PlannedTest{{Date: d, At: "07:30", Food: a.Foods[0].Food, Block: 5}}
	return run
}

func invented(a *protocol.Analysis) *protocol.Curves {
	c := &protocol.Curves{Unit: "mg/dL", From: -15, To: 120, Level: 0.95, Method: "pointwise t interval of the mean, invented"}
	for i, food := range a.Foods {
		f := protocol.FoodCurves{Food: food.Food, Name: food.Name, Counted: 3}
		rise := func(minute, top float64) float64 {
			return top * math.Max(0, minute/45) * math.Exp(1-math.Max(0, minute/45))
		}
		for test := range 4 {
			var piece []curve.Point
			for m := -15.0; m <= 120; m += 5 {
				piece = append(piece, curve.Point{Minute: m, Glucose: rise(m, float64(*food.Mean)+4*float64(test))})
			}
			f.Tests = append(f.Tests, protocol.Curve{Counts: test < 3, Pieces: [][]curve.Point{piece[:12], piece[14:]}})
		}
		for m := -15.0; m <= 120; m += 5 {
			p := protocol.BandPoint{Minute: m, Mean: rise(m, float64(*food.Mean)+4), Tests: 3, HasBand: i%4 != 3}
			p.Low, p.High = p.Mean-6, p.Mean+6
			f.Mean = append(f.Mean, p)
		}
		c.Foods = append(c.Foods, f)
	}
	return c
}

func inventedPower(rows int) *protocol.Power {
	p := &protocol.Power{Question: hard[2] + " vs " + hard[3], Unit: "mg/dL", Level: 0.95, Margin: number(8), Sizes: []protocol.Number{0, 8, 20}, Spread: protocol.PowerSD{SD: 9, From: "as given"},
		Method: "invented", Warnings: []string{"Showing that two foods do not differ by 8 mg/dL is out of reach: with 8 repeats the chance is 3 % even if they are the same."}}
	for i := range rows {
		x := protocol.Number(1 - math.Exp(-float64(i)/3))
		row := protocol.PowerRow{Repeats: i + 2, TestDays: 6 * (i + 2), Width: number(40 / float64(i+1))}
		for range 3 {
			row.Chances = append(row.Chances, protocol.ChanceRow{Different: x / 2, TooSmall: x / 10, NoDifference: x / 5, Open: 1 - x/2 - x/10 - x/5})
		}
		if i == 0 {
			row.Width, row.Chances = nil, nil
		}
		p.Rows = append(p.Rows, row)
	}
	return p
}

// all draws every picture.
func all(names []string, open bool, size Size) map[string]func() (*drawing.Scene, error) {
	a := study(names, open)
	run := runOrder(a)
	return map[string]func() (*drawing.Scene, error){
		"differences": func() (*drawing.Scene, error) { return Differences(a, size) },
		"ratios":      func() (*drawing.Scene, error) { return Ratios(a, size) },
		"limits":      func() (*drawing.Scene, error) { return Limits(a, size) },
		"foods":       func() (*drawing.Scene, error) { return Foods(a, run.Eaten, size) },
		"curves":      func() (*drawing.Scene, error) { return Curves(invented(a), size) },
		"order":       func() (*drawing.Scene, error) { return Order(a, run, size) },
		"power":       func() (*drawing.Scene, error) { return Power(inventedPower(2+len(names)), size) },
	}
}

// Each picture is free of texts that touch each other or leave the frame, and is
// well-formed, at every width and with names in any script.
func TestTextKeepsApart(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 20).Draw(t, "foods")
		name := rapid.OneOf(rapid.SampledFrom(hard), rapid.StringN(1, 40, 160))
		names := rapid.SliceOfN(name, n, n).Draw(t, "names")
		size := Size{Width: rapid.Float64Range(LeastWidth, 2400).Draw(t, "width")}
		for what, draw := range all(names, rapid.Bool().Draw(t, "open"), size) {
			scene, err := draw()
			if err != nil {
				t.Fatalf("%s: %v", what, err)
			}
			checkTexts(t, what, scene)
			checkWellFormed(t, what, scene)
		}
	})
}

type failer interface{ Fatalf(string, ...any) }

func checkTexts(t failer, what string, scene *drawing.Scene) {
	texts := scene.Texts()
	const touch = 0.5 // pixels that boxes may share: they are higher than letters
	for i, a := range texts {
		if a.X0 < -touch || a.Y0 < -touch || a.X1 > scene.W+touch || a.Y1 > scene.H+touch {
			t.Fatalf("%s, %.0f × %.0f: %q leaves the frame: %+v", what, scene.W, scene.H, a.Text, a)
		}
		if a.Size < 12 {
			t.Fatalf("%s: %q is %g pixels high, want 12", what, a.Text, a.Size)
		}
		for _, b := range texts[:i] {
			if a.X0 < b.X1-touch && b.X0 < a.X1-touch && a.Y0 < b.Y1-touch && b.Y0 < a.Y1-touch {
				t.Fatalf("%s, %.0f × %.0f: %q and %q overlap: %+v %+v", what, scene.W, scene.H, a.Text, b.Text, a, b)
			}
		}
	}
}

func checkWellFormed(t failer, what string, scene *drawing.Scene) {
	var out bytes.Buffer
	if err := scene.WriteSVG(&out, drawing.Options{}); err != nil {
		t.Fatalf("%s: %v", what, err)
	}
	d := xml.NewDecoder(&out)
	seen := map[string]bool{}
	for {
		token, err := d.Token()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatalf("%s: %v", what, err)
		}
		if start, ok := token.(xml.StartElement); ok {
			seen[start.Name.Local] = true
		}
	}
	if !seen["title"] || !seen["desc"] || scene.Title == "" || scene.Desc == "" {
		t.Fatalf("%s has no title or description", what)
	}
	for name := range seen {
		if !strings.Contains(" svg title desc rect path circle text ", " "+name+" ") {
			t.Fatalf("%s has the element %s", what, name)
		}
	}
}

// A height that is asked for is kept, or refused with the one that is needed.
func TestHeight(t *testing.T) {
	for what, draw := range all(hard, true, Size{Width: 900, Height: 4000}) {
		scene, err := draw()
		if err != nil || scene.H != 4000 {
			t.Errorf("%s: %v, want a height of 4000", what, err)
			continue
		}
		checkTexts(t, what, scene)
	}
	for what, draw := range all(hard, true, Size{Width: 900, Height: 100}) {
		_, err := draw()
		size, ok := err.(*SizeError)
		if !ok || size.Side != "height" {
			t.Errorf("%s: %v, want an error about the height", what, err)
			continue
		}
		if again, err := all(hard, true, Size{Width: 900, Height: math.Ceil(size.Least)})[what](); err != nil || again.H != math.Ceil(size.Least) {
			t.Errorf("%s: the height that was asked for is refused: %v", what, err)
		}
	}
	if _, err := Differences(study(hard, false), Size{Width: 200}); err == nil || !strings.Contains(err.Error(), "width of 200, expected at least 320") {
		t.Errorf("a width of 200: %v", err)
	}
}

// Endless intervals are arrows: a triangle at both edges.
func TestEndlessIntervalsAreArrows(t *testing.T) {
	a := study([]string{"rye", "oats"}, false)
	count := func() int {
		scene, err := Differences(a, Size{Width: 900})
		if err != nil {
			t.Fatal(err)
		}
		var out bytes.Buffer
		if err := scene.WriteSVG(&out, drawing.Options{}); err != nil {
			t.Fatal(err)
		}
		n := 0
		for _, line := range strings.Split(out.String(), "\n") {
			if strings.HasPrefix(line, "<path") && strings.Count(line, "L") == 2 && strings.Contains(line, "Z") {
				n++
			}
		}
		return n
	}
	if n := count(); n != 0 {
		t.Errorf("%d arrows at a finite interval, want 0", n)
	}
	a.Questions[0].Low = nil
	if n := count(); n != 1 {
		t.Errorf("%d arrows at an interval without a lower end, want 1", n)
	}
	a.Questions[0].High = nil
	if n := count(); n != 2 {
		t.Errorf("%d arrows at an interval without ends, want 2", n)
	}
}

func TestTicksAreRound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		low := rapid.Float64Range(-1e4, 1e4).Draw(t, "low")
		width := rapid.Float64Range(1e-3, 1e5).Draw(t, "width")
		about := rapid.IntRange(1, 20).Draw(t, "about")
		at, decimals := ticks(low, low+width, about)
		if len(at) > about+1 {
			t.Fatalf("%d ticks, want about %d", len(at), about)
		}
		unit := math.Pow(10, -float64(decimals))
		for _, x := range at {
			if x < low-1e-6*width || x > low+width+1e-6*width || math.Abs(x/unit-math.Round(x/unit)) > 1e-6 {
				t.Fatalf("tick %g of %g to %g with %d decimals", x, low, low+width, decimals)
			}
		}
	})
}

// With PICTURES set to a folder the pictures are written there, to be looked at.
func TestPictures(t *testing.T) {
	folder := os.Getenv("PICTURES")
	if folder == "" {
		t.Skip("PICTURES names no folder to write the pictures into")
	}
	for _, n := range []int{2, 20} {
		for _, width := range []float64{390, 900, 1440} {
			for what, draw := range all(hard[:n], true, Size{Width: width}) {
				scene, err := draw()
				if err != nil {
					t.Fatal(err)
				}
				var out bytes.Buffer
				if err := scene.WriteSVG(&out, drawing.Options{}); err != nil {
					t.Fatal(err)
				}
				if err := os.WriteFile(filepath.Join(folder, fmt.Sprintf("%s-%d-%.0f.svg", what, n, width)), out.Bytes(), 0o644); err != nil {
					t.Fatal(err)
				}
			}
		}
	}
}

// A picture is to be drawn within 0.5 s.
func BenchmarkDifferences(b *testing.B) {
	a := study(hard, true)
	for b.Loop() {
		scene, err := Differences(a, Size{Width: 900})
		if err != nil {
			b.Fatal(err)
		}
		if err := scene.WritePNG(io.Discard, drawing.Options{}); err != nil {
			b.Fatal(err)
		}
	}
}

// On the axis of ratios half and twice are equally far from 1, and what cannot be on
// it lies beyond its ends.
func TestRatioAxis(t *testing.T) {
	x := scale{low: 0.25, high: 4, from: 100, to: 500, log: true}
	for number, want := range map[float64]float64{0.25: 100, 0.5: 200, 1: 300, 2: 400, 4: 500} {
		if got := x.at(number); math.Abs(got-want) > 1e-9 {
			t.Errorf("%g lies at %g, want %g", number, got, want)
		}
	}
	for _, number := range []float64{0, -1} {
		if got := x.hold(x.at(number)); got != 100 {
			t.Errorf("%g is held at %g", number, got)
		}
	}
	for _, c := range [][2]float64{{0.25, 4}, {0.9, 1.1}, {0.01, 300}, {0.4, 1.3}} {
		marks, _ := ratioTicks(c[0], c[1], 8)
		one := slices.ContainsFunc(marks, func(m float64) bool { return math.Abs(m-1) < 1e-9 })
		if !one || marks[0] < c[0]*(1-1e-9) || marks[len(marks)-1] > c[1]*(1+1e-9) {
			t.Errorf("marks from %g to %g: %v", c[0], c[1], marks)
		}
	}
	d := differences{about: ofRatios}
	for _, c := range []struct {
		shape     ratio.Shape
		low, high float64
		want      [][2]float64
	}{
		{ratio.Bounded, 0.5, 2, [][2]float64{{0.5, 2}}},
		{ratio.Bounded, -0.5, 2, [][2]float64{{math.Inf(-1), 2}}},
		{ratio.Bounded, -2, -0.5, nil},
		{ratio.AtLeast, 0.5, 0, [][2]float64{{0.5, math.Inf(1)}}},
		{ratio.AtMost, 0, 2, [][2]float64{{math.Inf(-1), 2}}},
		{ratio.Unbounded, 0, 0, [][2]float64{{math.Inf(-1), math.Inf(1)}}},
		{ratio.Complement, 0.5, 2, [][2]float64{{2, math.Inf(1)}, {math.Inf(-1), 0.5}}},
		{ratio.Complement, -0.5, 2, [][2]float64{{2, math.Inf(1)}}},
	} {
		got := d.pieces(protocol.Answer{Kind: protocol.Ratio, Shape: c.shape, Low: number(c.low), High: number(c.high)})
		if fmt.Sprint(got) != fmt.Sprint(c.want) {
			t.Errorf("%s %g %g: %v, want %v", c.shape, c.low, c.high, got, c.want)
		}
	}
}
