package cli

import (
	"github.com/spf13/cobra"

	"mealtrial/cmd/internal/view"
)

func newQuote(s Streams) *cobra.Command {
	var asJSON, pinned bool
	cmd := &cobra.Command{
		Use:     "quote [study]",
		GroupID: groupAnswer,
		Short:   "Print the sentence that may be said for each question",
		Long: `Word the answer to each question in a short, a long and an on-screen form: the
number, its interval and level, how many tests, and for whom it holds. A sentence never says
more than the tests have shown. --pinned prints the text that goes below a film
instead, as Markdown, with the methods in three lines.`,
		Example: `  mealtrial quote noodles
  mealtrial quote noodles --pinned > pinned.md`,
		Args: studyArg,
		RunE: func(_ *cobra.Command, args []string) error {
			if asJSON && pinned {
				return usagef("found --json and --pinned, expected one of them")
			}
			a, err := look(s, folder(args), nil)
			if err != nil {
				return err
			}
			if asJSON {
				return writeJSON(s.Out, view.Quotes(a))
			}
			if pinned {
				for _, line := range a.Safety {
					warn(s, "%s", line.Text)
				}
				return view.Pinned(s.Out, a)
			}
			return view.PrintQuotes(s.Out, a)
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print a JSON list of question, verdict, short and long")
	cmd.Flags().BoolVar(&pinned, "pinned", false, "print the text below a film, as Markdown")
	return cmd
}
