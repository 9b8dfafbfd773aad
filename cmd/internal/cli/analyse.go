package cli

import (
	"github.com/spf13/cobra"

	"mealtrial/cmd/internal/view"
	"mealtrial/protocol"
)

func newAnalyse(s Streams) *cobra.Command {
	var asJSON, dry, invert bool
	var ask []string
	cmd := &cobra.Command{
		Use:     "analyse [study]",
		GroupID: groupAnswer,
		Short:   "Fit the model and answer the questions with intervals",
		Long: `Fit response = food + block + error to the tests that count and print the
within-person SD with its interval, the repeatability limit, the mean of each
food, and each question with its estimate, interval and verdict:

  different                    the interval excludes zero
  different, but too small     it excludes zero and lies within the margin
  no difference that matters   it holds zero and lies within the margin
  still open                   it holds zero and reaches the margin
  shown below / above          a one-sided bound lies on that side of the limit

low and high keep the promise of the level for all declared questions about
differences between foods together and at all declared looks; where looks are
not as declared they stay valid however often one looks. Beside them stands the
plain interval of each question alone. Each comparison is also held against the
draw of the schedule (randomisation test): p, the number of orders that were
possible, the smallest p that they can give, and with --randomisation-interval
the differences that the test does not reject. A look at new data is written to
looks.yaml; --dry is none and shows no estimates.

Above the questions stands the floor, what a day without food gives, with each
food held against it; below them each food as a percentage of the reference and,
with a label, per gram of available carbohydrate; further down the secondary
endpoints and outcomes, in no family. Reasons to stop and seek advice come first.

With --json: one object. An estimate is the first food minus the second, or the
first over the second for a ratio (no unit), or the mean for a limit; all else is
in the endpoint's unit. What cannot be estimated is null.`,
		Example: `  mealtrial analyse noodles
  mealtrial analyse noodles --json
  mealtrial analyse noodles --ask "edamame vs wheat"
  mealtrial analyse noodles --dry`,
		Args: studyArg,
		RunE: func(_ *cobra.Command, args []string) error {
			if dry {
				return dryLook(s, folder(args), ask, asJSON)
			}
			a, err := lookInverting(s, folder(args), ask, invert)
			if err != nil {
				return err
			}
			if asJSON {
				return writeJSON(s.Out, a)
			}
			return view.Analysis(s.Out, a)
		},
	}
	cmd.Flags().StringArrayVar(&ask, "ask", nil, "answer one more `question`, marked as asked after the data; may be repeated")
	cmd.Flags().BoolVar(&dry, "dry", false, "say what a look would be, without estimates; it does not count as one")
	cmd.Flags().BoolVar(&invert, "randomisation-interval", false, "also invert the randomisation test of each difference, for an interval")
	cmd.Flags().BoolVar(&asJSON, "json", false, "print one JSON object")
	return cmd
}

func analyse(s Streams, dir string) (*protocol.Analysis, error) {
	f, err := loadAll(s, dir)
	if err != nil {
		return nil, err
	}
	return f.Analyse()
}

// look analyses a study and writes to its ledger that somebody looked.
func look(s Streams, dir string, ask []string) (*protocol.Analysis, error) {
	return lookInverting(s, dir, ask, false)
}

// lookInverting is look, with intervals from the randomisation tests if invert.
func lookInverting(s Streams, dir string, ask []string, invert bool) (*protocol.Analysis, error) {
	f, a, err := analysed(s, dir, ask, invert)
	if err != nil {
		return nil, err
	}
	return a, recordLook(s, f, a)
}

// recordLook writes to the ledger of a study that somebody looks at its answers.
func recordLook(s Streams, f *protocol.Folder, a *protocol.Analysis) error {
	err := f.RecordLook(a, protocol.NewDate(s.Now().In(f.Study.Zone)))
	tell(s, f)
	return err
}

func analysed(s Streams, dir string, ask []string, invert bool) (*protocol.Folder, *protocol.Analysis, error) {
	f, err := loadAll(s, dir)
	if err != nil {
		return nil, nil, err
	}
	if err := f.Ask(ask); err != nil {
		return nil, nil, err
	}
	f.Invert = invert
	a, err := f.Analyse()
	return f, a, err
}

func dryLook(s Streams, dir string, ask []string, asJSON bool) error {
	_, a, err := analysed(s, dir, ask, false)
	if err != nil {
		return err
	}
	if asJSON {
		return writeJSON(s.Out, a.Dry())
	}
	return view.Dry(s.Out, a.Dry())
}
