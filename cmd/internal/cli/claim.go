package cli

import (
	"github.com/spf13/cobra"

	"mealtrial/cmd/internal/view"
)

func newClaim(s Streams) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:     "claim CLAIM [study]",
		GroupID: groupAnswer,
		Short:   "Hold a sentence against the tests: supported, contradicted or not shown",
		Long: `Say whether the tests support a claim, with the interval that says so:

  lupin half the rise of wheat     the ratio is at most 0.5
  lupin 50 % lower than wheat      the same
  lupin twice the rise of wheat    the ratio is at least 2
  lupin same as wheat              they differ by less than the margin
  lupin under 30                   the mean lies under 30
  lupin 12 against wheat 15        lupin is the lower of the two

Foods are named by their ids. A claim is supported only when the whole interval
lies where it says; nothing is called the same because it was not shown
different. It counts as a look.`,
		Example: `  mealtrial claim "lupin half the rise of wheat" noodles
  mealtrial claim "edamame same as lupin" noodles`,
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) < 1 || len(args) > 2 {
				return usagef("found %d arguments, expected a claim in quotation marks and the study, such as mealtrial claim \"lupin half the rise of wheat\" noodles", len(args))
			}
			return nil
		},
		RunE: func(_ *cobra.Command, args []string) error {
			f, err := loadAll(s, folder(args[1:]))
			if err != nil {
				return err
			}
			stopFirst(s, f)
			c, a, err := f.Claim(args[0])
			if err != nil {
				return err
			}
			if err := recordLook(s, f, a); err != nil {
				return err
			}
			if asJSON {
				return writeJSON(s.Out, c)
			}
			return view.Claim(s.Out, c)
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print one JSON object")
	return cmd
}
