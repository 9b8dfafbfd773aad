package cli

import (
	"bytes"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"mealtrial/cmd/internal/view"
	"mealtrial/protocol"
)

type planOptions struct {
	seed uint64
	ics  string
	json bool
}

func newPlan(s Streams) *cobra.Command {
	var o planOptions
	cmd := &cobra.Command{
		Use:     "plan [study]",
		GroupID: groupStart,
		Short:   "Draw the randomised schedule onto the calendar",
		Long: `Draw the order of the tests: blocks in which every food is eaten once, in random
order within each block, on free days with the washout between them. The result
is schedule.yaml, with the seed and the lock (the SHA-256 of study.yaml).

Without --seed or a seed in the study file the seed comes from the study file
itself, so the same study always gives the same schedule. A schedule by which
tests were eaten is never replaced.`,
		Example: `  mealtrial plan noodles --ics noodles.ics`,
		Args:    studyArg,
		RunE: func(cmd *cobra.Command, args []string) error {
			if cmd.Flags().Changed("seed") && (o.seed == 0 || o.seed > 1<<53-1) {
				return usagef("--seed: found %d, expected a whole number from 1 to %d", o.seed, uint64(1<<53-1))
			}
			return runPlan(s, folder(args), o)
		},
	}
	cmd.Flags().Uint64Var(&o.seed, "seed", 0, "seed of the draw (default: from the study file)")
	cmd.Flags().StringVar(&o.ics, "ics", "", "also write the schedule as an iCalendar `file`")
	cmd.Flags().BoolVar(&o.json, "json", false, "print the schedule as JSON")
	return cmd
}

func runPlan(s Streams, dir string, o planOptions) error {
	f, err := protocol.Load(dir)
	if err != nil {
		return err
	}
	schedule, err := protocol.DrawSchedule(f.Study, o.seed)
	if err != nil {
		return err
	}
	var calendar bytes.Buffer
	if err := view.Calendar(&calendar, f.Study, schedule, s.Now()); err != nil {
		return err
	}
	if n := len(f.Log.Tests); f.Schedule == nil && n > 0 {
		warn(s, "%s has %d tests already, which this schedule did not order", protocol.LogFile, n)
	}
	if err := f.SaveSchedule(schedule); err != nil {
		return err
	}
	say(s, "wrote %s", filepath.Join(dir, protocol.ScheduleFile))
	if o.ics != "" {
		if err := writeFile(o.ics, calendar.Bytes()); err != nil {
			return err
		}
		say(s, "wrote %s", o.ics)
	}
	if o.json {
		return writeJSON(s.Out, schedule)
	}
	if err := view.Schedule(s.Out, f.Study, schedule); err != nil {
		return err
	}
	return view.Caution(s.Out)
}

// writeFile writes a file that the person named, whole or not at all.
func writeFile(path string, data []byte) error {
	if info, err := os.Stat(path); err == nil && info.IsDir() {
		return usagef("%s: found a folder, expected the name of a file to write", path)
	}
	return protocol.WriteWhole(filepath.Dir(path), filepath.Base(path), data)
}
