package cli

import (
	"bytes"
	"errors"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"mealtrial/cmd/internal/view/drawing"
	"mealtrial/cmd/internal/view/figure"
	"mealtrial/protocol"
)

// The pictures, by name.
const (
	figureDifferences = "differences"
	figureRatios      = "ratios"
	figureLimits      = "limits"
	figureFoods       = "foods"
	figureCurves      = "curves"
	figureOrder       = "order"
	figurePower       = "power"
)

var figureNames = []string{figureDifferences, figureRatios, figureLimits, figureFoods, figureCurves, figureOrder, figurePower}

type figureOptions struct {
	output
	picture
	power powerOptions
}

// picture is how a picture is written.
type picture struct {
	width, height     float64
	scale             float64
	transparent, dark bool
	isSet             func(string) bool
}

func (p *picture) flags(flags *pflag.FlagSet, width float64) {
	flags.Float64Var(&p.width, "width", width, "width in `pixels`")
	flags.Float64Var(&p.height, "height", 0, "height in `pixels` (default: what the picture needs)")
	flags.Float64Var(&p.scale, "scale", 1, "PNG: how many pixels for each pixel of --width and --height")
	flags.BoolVar(&p.transparent, "transparent", false, "no paper behind the picture")
	flags.BoolVar(&p.dark, "dark", false, "colours for dark paper")
}

func newFigure(s Streams) *cobra.Command {
	var o figureOptions
	cmd := &cobra.Command{
		Use:     "figure NAME [study]",
		GroupID: groupAnswer,
		Short:   "Draw a picture of the study as SVG, PNG or PDF",
		Long: `Draw one picture:

  differences   each question's interval against zero and the margin
  ratios        each question about a ratio, on a logarithmic axis with 1 marked
  limits        each question about a limit: its one-sided bounds and the limit
  foods         the tests of each food, with their mean and its interval
  curves        the glucose curves of each food, with their mean and its band
  order         the responses by date, with blocks and sensors
  power         interval width and chance of each verdict by the number of
                repeats; takes the flags of mealtrial power for the spread

The ending of --out chooses SVG, PNG or PDF; without --out SVG goes to the
standard output. Nothing is cut off: where the names do not fit, the error says
which size is needed. Text is at least 12 pixels high. SVG leaves letters that
the program's font does not have to the viewer's fonts; PNG and PDF put a box in
their place and say so. All but power count as a look.`,
		Example: `  mealtrial figure differences noodles --out differences.svg
  mealtrial figure curves noodles --out curves.png --width 1600 --transparent
  mealtrial figure power noodles --out power.pdf --sd 9 --sd-df 4 --difference 20`,
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) < 1 || len(args) > 2 || !slices.Contains(figureNames, args[0]) {
				return usagef("found the arguments %q, expected one of %s, and the study", args, strings.Join(figureNames, ", "))
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			o.picture.isSet, o.power.isSet = cmd.Flags().Changed, cmd.Flags().Changed
			return runFigure(s, args[0], folder(args[1:]), o)
		},
	}
	o.output.flags(cmd.Flags(), "SVG, PNG or PDF")
	o.picture.flags(cmd.Flags(), 900)
	o.power.flags(cmd.Flags())
	return cmd
}

func runFigure(s Streams, name, dir string, o figureOptions) error {
	kind, err := o.kind("svg", "svg", "png", "pdf")
	if err != nil {
		return err
	}
	if err := o.picture.check(); err != nil {
		return err
	}
	size := figure.Size{Width: o.width, Height: o.height}
	if name == figurePower {
		p, err := o.power.compute(s, dir)
		if err != nil {
			return err
		}
		scene, err := figure.Power(p, size)
		return o.finish(s, scene, err, kind, nil)
	}
	f, a, err := analysed(s, dir, nil, false)
	if err != nil {
		return err
	}
	stopFirst(s, f)
	scene, err := drawFigure(name, f, a, size)
	return o.finish(s, scene, err, kind, func() error { return recordLook(s, f, a) })
}

// finish writes a picture. It is a look once nothing can go wrong any more but
// the writing.
func (o *figureOptions) finish(s Streams, scene *drawing.Scene, err error, kind string, look func() error) error {
	if err != nil {
		return sizeAdvice(err)
	}
	data, err := o.encode(s, scene, kind)
	if err != nil {
		return err
	}
	if look != nil {
		if err := look(); err != nil {
			return err
		}
	}
	return o.write(s, data)
}

func drawFigure(name string, f *protocol.Folder, a *protocol.Analysis, size figure.Size) (*drawing.Scene, error) {
	switch name {
	case figureDifferences:
		return figure.Differences(a, size)
	case figureRatios:
		return figure.Ratios(a, size)
	case figureLimits:
		return figure.Limits(a, size)
	case figureFoods:
		responses, _ := f.Responses()
		return figure.Foods(a, responses, size)
	case figureCurves:
		return figure.Curves(f.Curves(), size)
	}
	return figure.Order(a, f.RunOrder(), size)
}

// sizeAdvice makes a picture that does not fit a mistake of the flag.
func sizeAdvice(err error) error {
	var size *figure.SizeError
	if errors.As(err, &size) {
		return usagef("--%s: %v", size.Side, err)
	}
	return err
}

func (p *picture) check() error {
	for _, f := range []struct {
		flag  string
		value float64
		least float64
	}{{"width", p.width, 1}, {"height", p.height, 1}, {"scale", p.scale, 0.1}} {
		most := float64(figure.MostSize)
		if f.flag == "scale" {
			most = 8
		}
		if p.isSet(f.flag) && !(f.value >= f.least && f.value <= most) {
			return usagef("--%s: found %g, expected a number from %g to %g", f.flag, f.value, f.least, most)
		}
	}
	return nil
}

// mostPixels bounds a PNG, which is held in memory.
const mostPixels = 64e6

// encode writes the picture in the kind of its file.
func (p *picture) encode(s Streams, scene *drawing.Scene, kind string) ([]byte, error) {
	var out bytes.Buffer
	o := drawing.Options{Transparent: p.transparent, Dark: p.dark, Scale: p.scale}
	if kind != "svg" {
		if missing := scene.Missing(); len(missing) > 0 {
			warn(s, "the program's font has no letter for %s: a box stands in their place; SVG leaves them to the viewer's fonts", strings.Join(missing, " "))
		}
	}
	switch kind {
	case "png":
		if pixels := scene.W * scene.H * p.scale * p.scale; pixels > mostPixels {
			return nil, usagef("--width, --height, --scale: found a picture of %.0f million pixels, expected at most %.0f million", pixels/1e6, mostPixels/1e6)
		}
		err := scene.WritePNG(&out, o)
		return out.Bytes(), err
	case "pdf":
		err := scene.WritePDF(&out, o)
		return out.Bytes(), err
	}
	err := scene.WriteSVG(&out, o)
	return out.Bytes(), err
}
