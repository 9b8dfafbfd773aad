package cli

import (
	"github.com/spf13/cobra"

	"mealtrial/cmd/internal/view"
)

func newQuote(s Streams) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:     "quote [study]",
		GroupID: groupAnswer,
		Short:   "Print the sentence that may be said for each question",
		Long: `Word the answer to each question in a short, a long and an on-screen form: the
number, its interval and level, how many tests, and for whom it holds. A sentence never says
more than the tests have shown.`,
		Example: `  mealtrial quote noodles`,
		Args:    studyArg,
		RunE: func(_ *cobra.Command, args []string) error {
			a, err := look(s, folder(args), nil)
			if err != nil {
				return err
			}
			if asJSON {
				return writeJSON(s.Out, view.Quotes(a))
			}
			return view.PrintQuotes(s.Out, a)
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print a JSON list of question, verdict, short and long")
	return cmd
}
