package cli

import (
	"fmt"

	"github.com/spf13/cobra"

	"mealtrial/protocol"
)

func newUnmask(s Streams) *cobra.Command {
	return &cobra.Command{
		Use:     "unmask [study]",
		GroupID: groupDo,
		Short:   "Open the key of a masked schedule and record when",
		Long: `A schedule drawn with plan --masked shows codes; the foods behind them are in
key.yaml, which the helper who cooks keeps. After the last test, put key.yaml
into the study folder and run unmask: it records when the key was opened. What
was entered before stays marked as masked.`,
		Example: `  mealtrial unmask noodles`,
		Args:    studyArg,
		RunE: func(_ *cobra.Command, args []string) error {
			f, err := protocol.Load(folder(args))
			if err != nil {
				return err
			}
			err = f.Unmask(s.Now())
			tell(s, f)
			if err != nil {
				return err
			}
			_, err = fmt.Fprintf(s.Out, "unmasked at %s, after %s; see mealtrial analyse\n", f.Schedule.Unmasked, protocol.Count(len(f.Log.Tests), "logged test", "logged tests"))
			return err
		},
	}
}
