package cli

import (
	"path/filepath"

	"github.com/spf13/cobra"

	"mealtrial/protocol"
)

type replanOptions struct {
	from, who, why, ics string
	seed                uint64
	json, dry           bool
}

func newReplan(s Streams) *cobra.Command {
	var o replanOptions
	cmd := &cobra.Command{
		Use:     "replan [study]",
		GroupID: groupDo,
		Short:   "Draw the rest of the schedule again from a date on",
		Long: `After lost or invalid tests, illness, a dead sensor or a new food: what was eaten
stays, and the rest is drawn again from a date on. A test that was lost or does
not count is planned again: in its own block where that goes on, else in a block
still to come, else in a make-up block together with the reference. Who changed
what, when and why is recorded in the schedule, with the tests that were planned
before. A masked schedule keeps its codes; its key.yaml has to be in the folder.`,
		Example: `  mealtrial replan noodles --from 2027-02-01 --why "flu" --who "the tester"`,
		Args:    studyArg,
		RunE: func(cmd *cobra.Command, args []string) error {
			if cmd.Flags().Changed("seed") {
				if err := checkSeed(o.seed); err != nil {
					return err
				}
			}
			return runReplan(s, folder(args), o)
		},
	}
	flags := cmd.Flags()
	flags.StringVar(&o.from, "from", "", "first day that may be drawn again, `YYYY-MM-DD` (default: tomorrow)")
	flags.StringVar(&o.why, "why", "", "the `reason`; it has to be given")
	flags.StringVar(&o.who, "who", "the tester", "who decided it")
	flags.Uint64Var(&o.seed, "seed", 0, "seed of the draw (default: from the lock, the study file and the number of the amendment)")
	flags.StringVar(&o.ics, "ics", "", "also write the schedule as an iCalendar `file`")
	flags.BoolVar(&o.dry, "dry", false, "show the new schedule and write nothing")
	flags.BoolVar(&o.json, "json", false, "print the schedule as JSON")
	return cmd
}

func runReplan(s Streams, dir string, o replanOptions) error {
	if err := mayWriteCalendar(o.ics); err != nil {
		return err
	}
	f, err := loadAll(s, dir)
	if err != nil {
		return err
	}
	today := protocol.NewDate(s.Now().In(f.Study.Zone))
	from := today + 1
	if o.from != "" {
		if from, err = protocol.ParseDate(o.from); err != nil {
			return usagef("--from: %v", err)
		}
	}
	if o.why == "" {
		return usagef("--why is missing; write for example --why \"flu\"")
	}
	if f.Masked() {
		if o.seed != 0 {
			return usagef("--seed: found a masked schedule, expected a seed that nobody knows; take --seed out")
		}
		o.seed = s.Secret()
	}
	again, err := f.Replan(from, today, o.who, o.why, o.seed)
	if err != nil {
		return err
	}
	if again.Telling != "" {
		warn(s, "the codes hide less than they should: %s", again.Telling)
	}
	if !o.dry {
		err := again.Save()
		tell(s, f)
		if err != nil {
			return err
		}
		say(s, "wrote %s", filepath.Join(dir, protocol.ScheduleFile))
		if err := writeCalendar(s, o.ics, f.Study, again.Shown); err != nil {
			return err
		}
	}
	return showSchedule(s, o.json, f.Study, again.Shown)
}
