package cli

import (
	"io"

	"github.com/spf13/cobra"

	"mealtrial/protocol"
)

func newCautions(s Streams) *cobra.Command {
	return &cobra.Command{
		Use:     "cautions",
		GroupID: groupAbout,
		Short:   "Print the cautions in full: when not to begin, when to stop",
		Example: `  mealtrial cautions`,
		Args:    noArgs,
		RunE: func(*cobra.Command, []string) error {
			_, err := io.WriteString(s.Out, protocol.Cautions)
			return err
		},
	}
}
