package cli

import (
	"math"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"mealtrial/cmd/internal/view"
	"mealtrial/protocol"
)

type gapOptions struct {
	tests     string
	sd, sdDF  float64
	cv        string
	study     string
	margin    float64
	level     float64
	unit      string
	json      bool
	isSet     func(flag string) bool
	spread    *protocol.GapSpread
	spreadSay string
}

func newGap(s Streams) *cobra.Command {
	var o gapOptions
	cmd := &cobra.Command{
		Use:     "gap A B",
		GroupID: groupAnswer,
		Short:   "Say whether the gap between two results is real or within noise",
		Long: `Compare the results of two foods, one or a few tests each, with no study at all.
A and B are numbers, or name=number. The spread of single tests of one food
comes from earlier repeats: --sd with the degrees of freedom behind it (tests
minus foods), --cv where it grows with the value, or --study for that of one's
own study. With no spread given, it says below which spread the gap would be
real.`,
		Example: `  mealtrial gap 12 15
  mealtrial gap lupin=28 wheat=42 --sd 9 --sd-df 8 --unit mg/dL
  mealtrial gap 28 42 --tests 3,2 --cv 25%
  mealtrial gap 28 42 --study noodles`,
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) != 2 {
				return usagef("found %d of two results, expected for example mealtrial gap 12 15", len(args))
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			o.isSet = cmd.Flags().Changed
			return runGap(s, args, o)
		},
	}
	cmd.SetFlagErrorFunc(func(_ *cobra.Command, err error) error {
		if strings.Contains(err.Error(), "unknown shorthand flag") {
			return usagef("%v; a negative result goes behind two dashes: mealtrial gap --sd 9 -- -3 4", err)
		}
		return plainFlagError(err)
	})
	flags := cmd.Flags()
	flags.StringVar(&o.tests, "tests", "1,1", "`numbers` of tests behind A and B")
	flags.Float64Var(&o.sd, "sd", 0, "within-person SD of single tests, in the unit of A and B")
	flags.Float64Var(&o.sdDF, "sd-df", 0, "degrees of freedom behind --sd or --cv (default: taken as known)")
	flags.StringVar(&o.cv, "cv", "", "within-person coefficient of variation, such as 25% or 0.25")
	flags.StringVar(&o.study, "study", "", "take the spread from the study in this `folder`")
	flags.Float64Var(&o.margin, "margin", 0, "smallest difference that matters")
	flags.Float64Var(&o.level, "level", 0.95, "confidence of the interval")
	flags.StringVar(&o.unit, "unit", "", "unit of A and B, for the wording")
	flags.BoolVar(&o.json, "json", false, "print one JSON object")
	return cmd
}

func runGap(s Streams, args []string, o gapOptions) error {
	a, err := gapSide(args[0])
	if err != nil {
		return err
	}
	b, err := gapSide(args[1])
	if err != nil {
		return err
	}
	if a.Tests, b.Tests, err = gapTests(o.tests); err != nil {
		return err
	}
	if err := o.check(a, b); err != nil {
		return err
	}
	if err := o.readSpread(s); err != nil {
		return err
	}
	g := protocol.NewGap(a, b, o.unit, o.spread, o.spreadSay, o.margin, o.level)
	if o.json {
		return writeJSON(s.Out, g)
	}
	return view.Gap(s.Out, g)
}

// gapSide reads "28" or "lupin=28".
func gapSide(arg string) (side protocol.GapSide, err error) {
	name, number, named := strings.Cut(arg, "=")
	if !named {
		name, number = "", arg
	}
	x, err := strconv.ParseFloat(number, 64)
	if err != nil || math.IsNaN(x) || math.Abs(x) > 1e9 || x != 0 && math.Abs(x) < 1e-9 {
		return side, usagef("found %q, expected a number such as 28, or a name and a number such as lupin=28", arg)
	}
	return protocol.GapSide{Name: strings.TrimSpace(name), Value: protocol.Number(x)}, nil
}

func gapTests(text string) (a, b int, err error) {
	first, second, two := strings.Cut(text, ",")
	a, errA := strconv.Atoi(strings.TrimSpace(first))
	b, errB := strconv.Atoi(strings.TrimSpace(second))
	const most = 10000
	if !two || errA != nil || errB != nil || a < 1 || b < 1 || a > most || b > most {
		return 0, 0, usagef("--tests: found %q, expected two whole numbers from 1, such as 1,1 or 3,2", text)
	}
	return a, b, nil
}

func (o *gapOptions) check(a, b protocol.GapSide) error {
	sources := 0
	for _, flag := range []string{"sd", "cv", "study"} {
		if o.isSet(flag) {
			sources++
		}
	}
	switch {
	case sources > 1:
		return usagef("found several of --sd, --cv and --study, expected the spread from one of them")
	case a.Name != "" && a.Name == b.Name:
		return usagef("found the name %q for both results, expected two foods, such as lupin=28 wheat=42; repeats of one food are averaged, with --tests for their number", a.Name)
	case o.isSet("sd") && !(o.sd >= 1e-6 && o.sd < 1e9):
		return usagef("--sd: found %g, expected the spread of single tests, from 0.000001 to 1e9; repeats that agree exactly show no spread", o.sd)
	case o.isSet("sd-df") && !(o.sdDF >= 1 && o.sdDF < 1e9):
		return usagef("--sd-df: found %g, expected a number from 1 to 1e9", o.sdDF)
	case o.isSet("sd-df") && !o.isSet("sd") && !o.isSet("cv"):
		return usagef("--sd-df goes with --sd or --cv")
	case o.isSet("margin") && !(o.margin > 0 && o.margin < 1e9):
		return usagef("--margin: found %g, expected a number above zero", o.margin)
	case o.isSet("margin") && o.isSet("cv"):
		return usagef("--margin is a difference and goes with --sd or --study, not with --cv, which compares by ratio")
	case !(o.level >= 0.8 && o.level <= 0.999):
		return usagef("--level: found %g, expected a confidence from 0.8 to 0.999, such as 0.95", o.level)
	case o.isSet("cv") && (a.Value <= 0 || b.Value <= 0):
		return usagef("--cv compares by ratio and needs two results above zero; use --sd")
	}
	return nil
}

// readSpread fills in the spread, and where it comes from, from the flags.
func (o *gapOptions) readSpread(s Streams) error {
	df := math.Inf(1)
	if o.isSet("sd-df") {
		df = o.sdDF
	}
	switch {
	case o.isSet("sd"):
		o.spread, o.spreadSay = &protocol.GapSpread{SD: protocol.Number(o.sd), DF: df}, "as given"
	case o.isSet("cv"):
		cv, err := readCV(o.cv)
		if err != nil {
			return err
		}
		o.spread, o.spreadSay = &protocol.GapSpread{CV: protocol.Number(cv), DF: df}, "as given"
	case o.isSet("study"):
		return o.spreadFromStudy(s)
	}
	return nil
}

func readCV(text string) (float64, error) {
	number := strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(text), "%"))
	cv, err := strconv.ParseFloat(number, 64)
	if strings.HasSuffix(strings.TrimSpace(text), "%") {
		cv /= 100
	}
	if err != nil || !(cv > 0 && cv <= 3) {
		return 0, usagef("--cv: found %q, expected a share such as 0.25 or a percentage such as 25%%, up to 300%%", text)
	}
	return cv, nil
}

// spreadFromStudy takes spread, unit, margin and level from a study's analysis.
func (o *gapOptions) spreadFromStudy(s Streams) error {
	a, err := analyse(s, o.study)
	if err != nil {
		return err
	}
	sd := a.WithinPersonSD
	o.spreadSay = "from the study in " + o.study
	if a.BetweenDaysSD != nil { // results that were not compared within a block
		sd = *a.BetweenDaysSD
		o.spreadSay += ", between any two days"
	}
	if sd.Value == nil {
		return usagef("--study: %s has no repeats that show the spread from test to test; repeat at least one food", o.study)
	}
	o.spread = &protocol.GapSpread{SD: *sd.Value, DF: float64(sd.DF)}
	if !o.isSet("level") {
		o.level = float64(sd.Level)
	}
	if !o.isSet("unit") {
		o.unit = a.Endpoint.Unit
	}
	if !o.isSet("margin") && len(a.Questions) > 0 && a.Questions[0].Margin != nil {
		o.margin = float64(*a.Questions[0].Margin)
	}
	return nil
}
