package cli

import (
	"fmt"
	"math"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"mealtrial/cmd/internal/view"
	"mealtrial/protocol"
)

type powerOptions struct {
	sd, sdDF, mean, difference float64
	cv, study, question        string
	published                  string
	from, to                   int
	json                       bool
	isSet                      func(string) bool
}

func newPower(s Streams) *cobra.Command {
	var o powerOptions
	cmd := &cobra.Command{
		Use:     "power [study]",
		GroupID: groupStart,
		Short:   "Say what the planned study can show, by the number of repeats",
		Long: `For each number of repeats: the test days, sensors and last date, the width of the
interval, and the chance of each verdict when the true difference is zero, the
margin, or a size that you name. The spread of single tests has to come from
somewhere: the spread: that the study file declares, an earlier study of yours (--study), the SD of some pilot tests of one
food with its degrees of freedom (--sd, --sd-df), or a coefficient of variation
with the mean it is of (--cv, --mean), or, for want of one's own, a published
value (--published) of other people's repeats:

` + publishedList(),
		Example: `  mealtrial power noodles --sd 9 --sd-df 4 --difference 15
  mealtrial power noodles --study last-month
  mealtrial power noodles --cv 25% --mean 45
  mealtrial power noodles --published matthan-2016 --mean 45`,
		Args: studyArg,
		RunE: func(cmd *cobra.Command, args []string) error {
			o.isSet = cmd.Flags().Changed
			return runPower(s, folder(args), o)
		},
	}
	o.flags(cmd.Flags())
	cmd.Flags().BoolVar(&o.json, "json", false, "print one JSON object")
	return cmd
}

// flags are those that say where the spread comes from and what is looked at.
func (o *powerOptions) flags(flags *pflag.FlagSet) {
	flags.Float64Var(&o.sd, "sd", 0, "within-person SD of single tests, in the endpoint's unit")
	flags.Float64Var(&o.sdDF, "sd-df", 0, "degrees of freedom behind the spread: tests minus foods (default: taken as known)")
	flags.StringVar(&o.cv, "cv", "", "within-person coefficient of variation, such as 25%")
	flags.Float64Var(&o.mean, "mean", 0, "mean response that --cv is of")
	flags.StringVar(&o.published, "published", "", "take a published spread, by `name`; see above")
	flags.StringVar(&o.study, "study", "", "take the spread from the earlier study in this `folder`")
	flags.Float64Var(&o.difference, "difference", 0, "a true difference to look at besides zero and the margin")
	flags.StringVar(&o.question, "question", "", "the question about a difference (default: the primary one, else the first)")
	flags.IntVar(&o.from, "from", 2, "fewest repeats")
	flags.IntVar(&o.to, "to", 8, "most repeats")
}

func runPower(s Streams, dir string, o powerOptions) error {
	p, err := o.compute(s, dir)
	if err != nil {
		return err
	}
	if o.json {
		return writeJSON(s.Out, p)
	}
	return view.Power(s.Out, p)
}

func (o *powerOptions) compute(s Streams, dir string) (*protocol.Power, error) {
	if o.from < 2 || o.to < o.from || o.to > 50 {
		return nil, usagef("--from, --to: found %d and %d, expected 2 or more, in order, up to 50", o.from, o.to)
	}
	if o.isSet("difference") && !(math.Abs(o.difference) < 1e6) {
		return nil, usagef("--difference: found %g, expected a number", o.difference)
	}
	study, err := protocol.LoadStudy(dir)
	if err != nil {
		return nil, err
	}
	options := protocol.PowerOptions{Question: o.question, Difference: o.difference, Least: o.from, Most: o.to}
	if err := o.readSpread(s, &options, study); err != nil {
		return nil, err
	}
	var end func()
	options.Watch, end = s.watch("power")
	defer end()
	study.Watch = options.Watch
	return protocol.NewPower(study, options)
}

// readSpread fills in the spread from the one source that was given.
func (o *powerOptions) readSpread(s Streams, to *protocol.PowerOptions, study *protocol.Study) error {
	to.DF = math.Inf(1)
	if o.isSet("sd-df") {
		if !(o.sdDF >= 1 && o.sdDF < 1e9) {
			return usagef("--sd-df: found %g, expected a number of at least 1", o.sdDF)
		}
		to.DF = o.sdDF
	}
	given := 0
	for _, flag := range []string{"sd", "cv", "study", "published"} {
		if o.isSet(flag) {
			given++
		}
	}
	sd, df, from := study.PlannedSpread()
	switch {
	case given == 0 && df > 0:
		to.SD, to.DF, to.From = sd, float64(df), from
	case given != 1:
		return usagef("found %d of --sd, --cv, --study and --published, expected the spread from one of them. Published for repeats of one meal in one person:\n%s", given, publishedList())
	case o.isSet("study"):
		return o.fromStudy(s, to, study)
	case o.isSet("published"):
		return o.fromPublished(to, study)
	case o.isSet("cv"):
		cv, err := readCV(o.cv)
		if err != nil {
			return err
		}
		return o.fromCV(to, cv, "")
	case !(o.sd >= 1e-3 && o.sd < 1e9):
		return usagef("--sd: found %g, expected a number from 0.001", o.sd)
	default:
		to.SD, to.From = o.sd, "as given"
	}
	return nil
}

// fromCV takes the spread as a share of the mean that was given.
func (o *powerOptions) fromCV(to *protocol.PowerOptions, cv float64, source string) error {
	if !(o.mean > 0 && o.mean < 1e9) {
		return usagef("--mean: found %g, expected the mean response above zero that the CV is of", o.mean)
	}
	to.SD, to.From = cv*o.mean, fmt.Sprintf("a CV of %.3g %% of a mean of %g%s", 100*cv, o.mean, source)
	return nil
}

func (o *powerOptions) fromPublished(to *protocol.PowerOptions, study *protocol.Study) error {
	value, ok := protocol.PublishedSpread(o.published)
	if !ok {
		return usagef("--published: found %q, expected one of\n%s", o.published, publishedList())
	}
	source := ", " + value.Source + ", in other people"
	if study.Endpoint.Name != protocol.IncrementalArea {
		source += "; it is of the area, so for the " + study.Endpoint.Name.Words() + " a rough guide only"
	}
	if value.CV > 0 {
		return o.fromCV(to, value.CV, source)
	}
	to.SD = value.For(study.Endpoint)
	to.From = "published: " + value.Of + source
	return nil
}

// publishedList names the published spreads, a line each.
func publishedList() string {
	var b strings.Builder
	for _, v := range protocol.PublishedSpreads {
		size := fmt.Sprintf("CV %.3g %%", 100*v.CV)
		if v.CV == 0 {
			size = fmt.Sprintf("SD %g mg/dL", v.SD)
		}
		fmt.Fprintf(&b, "  %-16s %s: %s (%s)\n", v.Name, size, v.Of, v.Source)
	}
	return strings.TrimRight(b.String(), "\n")
}

func (o *powerOptions) fromStudy(s Streams, to *protocol.PowerOptions, study *protocol.Study) error {
	a, err := analyse(s, o.study)
	if err != nil {
		return err
	}
	if a.WithinPersonSD.Value == nil {
		return usagef("--study: %s has no repeats that show the within-person SD", o.study)
	}
	if a.Endpoint.Name != study.Endpoint.Name || a.Endpoint.Unit != study.Endpoint.Unit() || float64(a.Endpoint.Window) != study.Endpoint.Window {
		return usagef("--study: %s measured the %s in %s over %g min, this study another endpoint", o.study, a.Endpoint.Name.Words(), a.Endpoint.Unit, float64(a.Endpoint.Window))
	}
	to.SD, to.DF, to.From = float64(*a.WithinPersonSD.Value), float64(a.WithinPersonSD.DF), "from the study in "+o.study
	return nil
}
