package cli

import (
	"github.com/spf13/cobra"

	"mealtrial/cmd/internal/view"
	"mealtrial/protocol"
)

func newNext(s Streams) *cobra.Command {
	var date string
	var asJSON bool
	cmd := &cobra.Command{
		Use:     "next [study]",
		GroupID: groupDo,
		Short:   "Say what is due today, or next, and how to prepare for it",
		Long: `Show the test that is due today or next: what to eat and how much, what the
evening before asks for, which conditions to hold, and the sensor's day. When
nothing is due it says why; planned tests that the log does not have are named.`,
		Example: `  mealtrial next noodles
  mealtrial next noodles --date 2027-01-13`,
		Args: studyArg,
		RunE: func(_ *cobra.Command, args []string) error { return runNext(s, folder(args), date, asJSON) },
	}
	cmd.Flags().StringVar(&date, "date", "", "the day to look from, `YYYY-MM-DD` (default: today in the study's zone)")
	cmd.Flags().BoolVar(&asJSON, "json", false, "print one JSON object")
	return cmd
}

func runNext(s Streams, dir, date string, asJSON bool) error {
	f, err := loadWithReadings(s, dir)
	if err != nil {
		return err
	}
	today := protocol.NewDate(s.Now().In(f.Study.Zone))
	if date != "" {
		if today, err = protocol.ParseDate(date); err != nil {
			return usagef("--date: %v", err)
		}
	}
	n := f.Next(today)
	if asJSON {
		return writeJSON(s.Out, n)
	}
	return view.Next(s.Out, n)
}
