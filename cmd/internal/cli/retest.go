package cli

import (
	"path/filepath"

	"github.com/spf13/cobra"

	"mealtrial/cmd/internal/view"
	"mealtrial/protocol"
)

type retestOptions struct {
	from, who   string
	apply, json bool
}

func newRetest(s Streams) *cobra.Command {
	var o retestOptions
	cmd := &cobra.Command{
		Use:     "retest [study]",
		GroupID: groupAnswer,
		Short:   "Say which questions are open and how many more tests would settle them",
		Long: `For each declared question about a difference: settled or open, and if it is open
how many more tests of which foods settle it with a chance of 80 %, the
uncertainty of the spread carried along; tests that did not count and should be
repeated first; the single test that narrows the questions most; the next free
dates. It says so when further tests are unlikely to settle a question. With
--apply the tests are laid out by replan. As the verdicts are shown, this counts
as a look.`,
		Example: `  mealtrial retest noodles
  mealtrial retest noodles --apply --from 2027-03-08`,
		Args: studyArg,
		RunE: func(_ *cobra.Command, args []string) error { return runRetest(s, folder(args), o) },
	}
	flags := cmd.Flags()
	flags.StringVar(&o.from, "from", "", "first day for further tests, `YYYY-MM-DD` (default: tomorrow)")
	flags.StringVar(&o.who, "who", "the tester", "who decided it, for the amendment")
	flags.BoolVar(&o.apply, "apply", false, "lay the further tests out, as replan does")
	flags.BoolVar(&o.json, "json", false, "print one JSON object")
	return cmd
}

func runRetest(s Streams, dir string, o retestOptions) error {
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
	stopFirst(s, f)
	advice, a, err := f.Retest(from)
	if err != nil {
		return err
	}
	err = f.RecordLook(a, today)
	tell(s, f)
	if err != nil {
		return err
	}
	if o.apply {
		return applyRetest(s, f, advice, from, today, o)
	}
	if o.json {
		return writeJSON(s.Out, advice)
	}
	return view.Retest(s.Out, advice)
}

func applyRetest(s Streams, f *protocol.Folder, advice *protocol.Retest, from, today protocol.Date, o retestOptions) error {
	if len(advice.Apply) == 0 {
		mend := "see mealtrial retest"
		if len(advice.Repeat) > 0 {
			mend = "the tests that did not count are laid out again by mealtrial replan"
		}
		return usagef("--apply: found no test that the advice asks for; %s", mend)
	}
	f.ApplyRetest(advice)
	again, err := f.Replan(from, today, o.who, "retest of open questions", 0)
	if err != nil {
		return err
	}
	err = again.Save()
	tell(s, f)
	if err != nil {
		return err
	}
	say(s, "wrote %s", filepath.Join(f.Dir, protocol.ScheduleFile))
	return showSchedule(s, o.json, f.Study, again.Shown)
}
