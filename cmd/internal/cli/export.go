package cli

import (
	"fmt"
	"path/filepath"

	"github.com/spf13/cobra"

	"mealtrial/protocol"
)

func newExport(s Streams) *cobra.Command {
	var share string
	cmd := &cobra.Command{
		Use:     "export [study]",
		GroupID: groupAnswer,
		Short:   "Make a copy of a study to give away",
		Long: `With --share, write a copy of the study into a new folder: without notes, comments,
times of day and names beyond what the analysis needs, with one value a test in the
place of the readings. Before anything is written the copy is analysed, and refused
where its numbers differ from those of the study; that shows no answer and is no
look. The copy says what was left out. The key of a study that is still masked is
in no part of it.

Dates, the ids of foods and the kind of sensor stay, as the analysis needs them.`,
		Example: `  mealtrial export noodles --share noodles-shared`,
		Args:    studyArg,
		RunE: func(_ *cobra.Command, args []string) error {
			if share == "" {
				return usagef("--share is missing; name a new folder for the copy, for example --share %s-shared", filepath.Base(folder(args)))
			}
			return runShare(s, folder(args), share)
		},
	}
	cmd.Flags().StringVar(&share, "share", "", "new `folder` for the copy")
	return cmd
}

func runShare(s Streams, dir, into string) error {
	f, err := protocol.LoadAll(dir)
	if err != nil {
		return err
	}
	if err := protocol.EmptyFolder(into); err != nil {
		return err
	}
	copied, err := f.Share()
	if err != nil {
		return err
	}
	if err := protocol.WriteNew(into, "export", copied.Files); err != nil {
		return err
	}
	say(s, "wrote a copy into %s", into)
	if _, err := fmt.Fprintln(s.Out, "Left out or changed:"); err != nil {
		return err
	}
	for _, d := range copied.Dropped {
		if _, err := fmt.Fprintln(s.Out, "  "+d); err != nil {
			return err
		}
	}
	if copied.Checked {
		_, err = fmt.Fprintln(s.Out, "The copy was analysed and gives the same numbers.")
	} else {
		_, err = fmt.Fprintln(s.Out, copied.Why)
	}
	return err
}
