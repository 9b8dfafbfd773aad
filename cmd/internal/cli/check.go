package cli

import (
	"github.com/spf13/cobra"

	"mealtrial/cmd/internal/view"
)

func newCheck(s Streams) *cobra.Command {
	return &cobra.Command{
		Use:     "check [study]",
		GroupID: groupStart,
		Short:   "Check every file of a study and say in words what it will do",
		Long: `Read study.yaml, schedule.yaml, log.yaml and the sensor files, name everything
that is wrong in them, and say in words what the study will do. Nothing is
written.`,
		Example: `  mealtrial check noodles`,
		Args:    studyArg,
		RunE: func(_ *cobra.Command, args []string) error {
			f, err := loadAll(s, folder(args))
			if err != nil {
				return err
			}
			tell(s, f)
			problems := f.Check()
			if err := view.Check(s.Out, f); err != nil {
				return err
			}
			return problems.Err()
		},
	}
}
