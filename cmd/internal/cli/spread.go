package cli

import (
	"github.com/spf13/cobra"

	"mealtrial/cmd/internal/view"
	"mealtrial/protocol"
)

func newSpread(s Streams) *cobra.Command {
	var into string
	var asJSON bool
	cmd := &cobra.Command{
		Use:     "spread [study]",
		GroupID: groupStart,
		Short:   "Take the test-to-test spread of an earlier study for a new one",
		Long: `Print the within-person SD of a study with its degrees of freedom, as an entry
for the list spread: in the study file of a later study of the same person. It
tells nothing of any food, and is no look at the study.

With --into the entry is added to the study file in that folder. That has to be
done before the draw, as all that is declared. analyse then pools the two spreads
where endpoint, window and kind of sensor (sensor: in both study files) are the
same, says by Bartlett's test whether they look alike, and takes the wider of the
two intervals where they may not.`,
		Example: `  mealtrial spread noodles
  mealtrial spread noodles --into breads`,
		Args: studyArg,
		RunE: func(cmd *cobra.Command, args []string) error {
			f, err := loadAll(s, folder(args))
			if err != nil {
				return err
			}
			e, err := f.SpreadToLend()
			if err != nil {
				return err
			}
			if cmd.Flags().Changed("into") {
				if err := protocol.DeclareSpread(into, e); err != nil {
					return err
				}
				say(s, "added the spread to %s in %s", protocol.StudyFile, into)
			}
			if asJSON {
				return writeJSON(s.Out, e)
			}
			return view.Spread(s.Out, e)
		},
	}
	cmd.Flags().StringVar(&into, "into", "", "add the entry to the study file in this `folder`")
	cmd.Flags().BoolVar(&asJSON, "json", false, "print one JSON object")
	return cmd
}
