package cli

import (
	"fmt"
	"math"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"mealtrial/cmd/internal/view"
	"mealtrial/protocol"
	"mealtrial/protocol/label"
	"mealtrial/protocol/problem"
	"mealtrial/stats"
)

type labelOptions struct {
	avoid          []string
	against        string
	response, unit string
	level          float64
	json           bool
	isSet          func(flag string) bool
}

func newLabel(s Streams) *cobra.Command {
	var o labelOptions
	cmd := &cobra.Command{
		Use:     "label FILE|FOOD [study]",
		GroupID: groupStart,
		Short:   "Say how much available carbohydrate a portion holds, and how sure that is",
		Long: `Read the nutrition label of a food and turn each printed value into the true
amounts that its rounding rule prints in that way: "0 g" may be 0.49 g. From them
come the available carbohydrate of the portion, which counts fibre by the law of
the label, a check of the energy, and a comparison of the ingredients with an
avoid list. A label is a file whose name ends in .yaml, or the label: entry of a
food in a study, which adds the avoid: list under safety, the questions about
the food and its response per gram. It holds what is printed, one line each:

  jurisdiction: us            us or eu (United Kingdom: eu)
  serving: 2 pieces (55 g)    as printed
  portion: 1.5 servings       what is eaten: servings, pieces, g or ml
  per: serving                or 100 g, 100 ml (default: serving for us, 100 g for eu)
  energy: 190 kcal            kcal, or kJ / kcal for eu
  fat: 8 g                    as printed; so too saturates, sugars, protein, alcohol
  carbohydrate: 26 g
  fibre: <1 g
  polyols: 4 g                sugar alcohols, without the next line
  not_metabolised: 2 g        erythritol, allulose
  count_polyols: unknown      or none, all: how many of them raise glucose
  sodium: 160 mg              us; for eu: salt: 0.4 g
  ingredients: [wheat flour, skimmed milk powder]
  allergens: [wheat, milk]`,
		Example: `  mealtrial label noodles.yaml --avoid "milk, tree nuts"
  mealtrial label noodles.yaml --against wheat.yaml
  mealtrial label noodles.yaml --response 20,36 --unit mg/dL
  mealtrial label lupin noodles`,
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) < 1 || len(args) > 2 {
				return usagef("found %d arguments, expected a label file, or a food and the folder of its study", len(args))
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			o.isSet = cmd.Flags().Changed
			return runLabel(s, args, o)
		},
	}
	flags := cmd.Flags()
	flags.StringSliceVar(&o.avoid, "avoid", nil, "what the tester avoids: foods, ingredients, allergens; a match ends with exit code 2")
	flags.StringVar(&o.against, "against", "", "compare the dose with that of another label `file`")
	flags.StringVar(&o.response, "response", "", "interval `low,high` of the mean response to such portions, for the response per gram")
	flags.Float64Var(&o.level, "level", 0.95, "confidence of --response")
	flags.StringVar(&o.unit, "unit", "", "unit of --response, for the wording")
	flags.BoolVar(&o.json, "json", false, "print one JSON object")
	return cmd
}

func runLabel(s Streams, args []string, o labelOptions) error {
	response, err := o.readResponse()
	if err != nil {
		return err
	}
	for i, term := range o.avoid {
		if o.avoid[i] = strings.TrimSpace(term); !label.CanAvoid(term) {
			return usagef("--avoid: found %q, expected foods, ingredients or allergens, such as \"milk, tree nuts\"", term)
		}
	}
	file, report := args[0], reportFile
	if len(args) == 2 || filepath.Ext(file) != ".yaml" {
		file = protocol.StudyFile
		report = func(food string, o *labelOptions) (*label.Label, *label.Report, error) {
			return reportFood(food, folder(args[1:]), o)
		}
	}
	l, r, err := report(args[0], &o)
	if err != nil {
		return err
	}
	r.Caution = protocol.ShortCaution
	if o.against != "" {
		other, err := loadLabel(o.against)
		if err != nil {
			return err
		}
		r.CompareWith(other)
	}
	if response != nil {
		r.AddResponse(*response, o.unit)
	}
	if o.json {
		err = writeJSON(s.Out, r)
	} else {
		err = view.Label(s.Out, r)
	}
	if err != nil {
		return err
	}
	return l.Stops(file, l.Name, o.avoid).Err()
}

func reportFile(file string, o *labelOptions) (*label.Label, *label.Report, error) {
	l, err := loadLabel(file)
	if err != nil {
		return nil, nil, err
	}
	return l, l.Report(o.avoid), nil
}

// reportFood reports the label of a food in a study, with the questions about it
// and, once it was tested, its response per gram.
func reportFood(food, dir string, o *labelOptions) (*label.Label, *label.Report, error) {
	f, err := protocol.LoadAll(dir)
	if err != nil {
		return nil, nil, err
	}
	i := f.Study.Food(food)
	if i < 0 {
		return nil, nil, usagef("found %q, expected a food of the study in %s, or a label file that ends in .yaml", food, dir)
	}
	l := f.Study.Foods[i].Label
	if l == nil {
		return nil, nil, problem.List{{File: protocol.StudyFile, Field: fmt.Sprintf("foods[%d].label", i+1), Found: "no label",
			Expected: "one for the food " + food, Mend: "copy it from the package; mealtrial label --help shows one"}}
	}
	o.avoid = append(o.avoid, f.Study.Safety.Avoid...)
	r := l.Report(o.avoid)
	for _, c := range f.Study.Doses() {
		if c.A == food || c.B == food {
			r.Comparisons = append(r.Comparisons, c)
		}
	}
	if len(f.Log.Tests) == 0 || f.Masked() {
		return l, r, nil
	}
	a, err := f.Analyse()
	if err != nil {
		return nil, nil, err
	}
	for _, m := range a.Foods {
		if m.Food == food && m.Low != nil {
			r.AddResponse(stats.Interval{Low: float64(*m.Low), High: float64(*m.High), Level: float64(m.Level)}, a.Endpoint.Unit)
		}
	}
	return l, r, nil
}

// loadLabel reads a label file; a food without a name takes that of the file.
func loadLabel(file string) (*label.Label, error) {
	l, err := label.Load(file)
	if err == nil && l.Name == "" {
		base := filepath.Base(file)
		l.Name = strings.TrimSuffix(base, filepath.Ext(base))
	}
	return l, err
}

func (o *labelOptions) readResponse() (*stats.Interval, error) {
	if !o.isSet("response") {
		if o.isSet("level") || o.isSet("unit") {
			return nil, usagef("--level and --unit go with --response")
		}
		return nil, nil
	}
	low, high, two := strings.Cut(o.response, ",")
	a, errA := strconv.ParseFloat(strings.TrimSpace(low), 64)
	b, errB := strconv.ParseFloat(strings.TrimSpace(high), 64)
	if !two || errA != nil || errB != nil || !(a <= b) || math.Abs(a) > 1e9 || math.Abs(b) > 1e9 {
		return nil, usagef("--response: found %q, expected two numbers, the lower first, such as 20,36", o.response)
	}
	if !(o.level >= 0.8 && o.level <= 0.999) {
		return nil, usagef("--level: found %g, expected a confidence from 0.8 to 0.999, such as 0.95", o.level)
	}
	return &stats.Interval{Low: a, High: b, Level: o.level}, nil
}
