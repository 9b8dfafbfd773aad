package cli

import (
	"github.com/spf13/cobra"

	"mealtrial/cmd/internal/view"
	"mealtrial/protocol"
)

func newAnalyse(s Streams) *cobra.Command {
	var asJSON bool
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

With --json: one object. An estimate is the first food minus the second, or the
first over the second for a ratio (no unit), or the mean for a limit; all else is
in the endpoint's unit. What cannot be estimated is null.`,
		Example: `  mealtrial analyse noodles
  mealtrial analyse noodles --json`,
		Args: studyArg,
		RunE: func(_ *cobra.Command, args []string) error {
			a, err := analyse(folder(args))
			if err != nil {
				return err
			}
			if asJSON {
				return writeJSON(s.Out, a)
			}
			return view.Analysis(s.Out, a)
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print one JSON object")
	return cmd
}

func analyse(dir string) (*protocol.Analysis, error) {
	f, err := protocol.LoadAll(dir)
	if err != nil {
		return nil, err
	}
	return f.Analyse()
}
